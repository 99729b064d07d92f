"""Loaded once by the process whose copies the workers are."""

from glandwise import process

process.begin()
from glandwise.api import desk  # noqa: E402, F401
from glandwise.questions.warm import warm  # noqa: E402

warm()
process.settle()
