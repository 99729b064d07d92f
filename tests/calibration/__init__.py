"""Calibration on simulated records, whose truth is known; ``python -m tests.calibration`` measures how often intervals hold."""
