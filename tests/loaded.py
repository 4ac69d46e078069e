"""Owns the knowledge that tests only read: loaded once a process, however many of them ask for it."""

from knowledge import load

KB = load()
