"""Tests of the service, its rules, its formulas and its client."""

import os

# small systems of equations are solved forty times slower by threads that wait for one another; NumPy reads this once
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
