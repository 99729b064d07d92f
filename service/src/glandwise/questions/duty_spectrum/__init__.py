"""A duty of several phases: the worst of them by criterion, and what they add up to."""
