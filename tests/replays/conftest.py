"""Owns what the replays share: the knowledge, loaded once."""

import pytest

from knowledge import load


@pytest.fixture(scope="session")
def kb():
    """The knowledge as shipped."""
    return load()
