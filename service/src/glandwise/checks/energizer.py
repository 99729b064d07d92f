"""What load does an energizer give: see :mod:`glandwise.questions.energizer`."""

from glandwise.questions.energizer.write import estimate

__all__ = ["estimate"]
