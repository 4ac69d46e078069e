"""Owns what the tests of the app share: the real server as a fixture, and a data directory of their own."""

import sys
from pathlib import Path

import pytest

# Behind everything installed: the tests' own helpers are found, the app still has to be installed.
sys.path.append(str(Path(__file__).parents[2]))

from app import cached  # noqa: E402
from knowledge import load  # noqa: E402
from tests.app.serving import Served  # noqa: E402


@pytest.fixture(autouse=True)
def data_dir(tmp_path, monkeypatch):
    """A shop book of its own for every test."""
    folder = tmp_path / "data"
    folder.mkdir()
    monkeypatch.setenv("OHMWRIGHT_DATA_DIR", str(folder))
    cached.shop_book.clear()
    yield folder
    cached.shop_book.clear()


@pytest.fixture(scope="session")
def kb():
    """The knowledge that comes with the program."""
    return load()


@pytest.fixture
def served(tmp_path, data_dir):
    """Start the real command with more arguments; every server started is ended afterwards."""
    started = []

    def start(*arguments):
        server = Served(data_dir, *arguments, cwd=tmp_path)
        started.append(server)
        return server

    yield start
    for server in started:
        server.end()
