"""What does it take to machine a number of seals: see :mod:`glandwise.questions.blank`."""

from glandwise.questions.blank.write import estimate

__all__ = ["estimate"]
