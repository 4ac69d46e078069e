"""Owns what all tests share: one thread of linear algebra a process, so that the workers do not crowd each other."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
