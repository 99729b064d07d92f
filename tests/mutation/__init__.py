"""Mutation testing of the mechanics: does a test notice when a formula is changed?"""

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"  # before NumPy is loaded: a forked process must not wait for threads it has not
