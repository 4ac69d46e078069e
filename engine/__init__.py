"""Owns the numbers: circuits, curves, belief and advice on numpy arrays; no files, no database, no screen."""
