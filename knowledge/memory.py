"""Owns what becomes of a process's memory once all that it keeps for good is loaded."""

import ctypes
import gc

# What the C library calls them (malloc.h): blocks up to so large come from what is kept, and so much of it is kept at least.
M_MMAP_THRESHOLD, M_TRIM_THRESHOLD = -3, -1
LARGEST_KEPT, KEPT = 32 << 20, 256 << 20


def settle() -> None:
    """What is loaded for good need not be looked at for garbage again. And what large arrays leave behind is kept for the next ones, where
    the C library can be told so: else every step asks the system for thousands of pages, each cleared anew."""
    gc.collect()
    gc.freeze()
    try:
        tell = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError, TypeError):
        # Another C library: slower by what it takes to clear pages.
        return
    tell(M_MMAP_THRESHOLD, LARGEST_KEPT)
    tell(M_TRIM_THRESHOLD, KEPT)
