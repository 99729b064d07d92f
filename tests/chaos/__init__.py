"""Faults under load: what ``make chaos`` does, apart from the tests."""
