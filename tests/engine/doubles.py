"""Owns what the engine works out to seven digits, given to sixteen: so the same loops can be held against exact arithmetic."""

import numpy as np


def doubles(records):
    """`records` with every number in them to sixteen digits."""
    kinds = [(name, np.dtype((np.float64 if kind.base == np.float32 else kind.base, kind.shape)))
             for name, (kind, _) in ((name, records.dtype.fields[name][:2]) for name in records.dtype.names)]
    return records.astype(kinds)
