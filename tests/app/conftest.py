"""Owns what the tests of the app share: the real server as a fixture, a data directory of their own, and a shorter way to a screen."""

import tomllib
from functools import cache
from pathlib import Path
from unittest.mock import patch

import pytest
from streamlit import config
from streamlit.components.v2 import manifest_scanner

import app
from app import cached
from tests.app.serving import Served


@pytest.fixture(scope="session", autouse=True)
def packages_scanned_once():
    """Every AppTest looks for components in all packages installed, a quarter of a second each time: the same ones."""
    with patch.object(manifest_scanner, "scan_component_manifests", cache(manifest_scanner.scan_component_manifests)):
        yield


@pytest.fixture(scope="session", autouse=True)
def as_served():
    """Screens run as the server runs them, which reads these settings from beside the app."""
    said = tomllib.loads(Path(app.__file__).with_name(".streamlit").joinpath("config.toml").read_text(encoding="utf-8"))
    for section in ("browser", "runner", "client"):
        for name, value in said[section].items():
            config.set_option(f"{section}.{name}", value)


@pytest.fixture(autouse=True)
def data_dir(tmp_path, monkeypatch):
    """A shop book of its own for every test."""
    folder = tmp_path / "data"
    folder.mkdir()
    monkeypatch.setenv("OHMWRIGHT_DATA_DIR", str(folder))
    cached.shop_book.clear()
    yield folder
    cached.shop_book.clear()


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
