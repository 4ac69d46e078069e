"""Owns what the knowledge tests share: a copy of its data to break."""

import shutil
from pathlib import Path

import pytest

from knowledge.load import DATA


@pytest.fixture
def copy(tmp_path) -> Path:
    """A copy of the data folder."""
    return Path(shutil.copytree(DATA, tmp_path / "data"))


@pytest.fixture
def edit(copy):
    """Replace a piece of text in one file of the copy; the file must hold it."""
    def replace(file: str, old: str, new: str) -> Path:
        path = copy / file
        text = path.read_text(encoding="utf-8")
        assert old in text, f"{file} no longer holds {old!r}"
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        return copy
    return replace
