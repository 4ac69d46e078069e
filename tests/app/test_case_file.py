"""Owns the proof that a bad case file is refused in one sentence and never breaks the reader."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.answer import MAX_BYTES, read_case, rounded
from engine.errors import InputError

BAD = {
    "not JSON": b"{nope}", "empty": b"", "a list": b"[1]", "a number": b"3", "NaN": b'{"sensor": NaN}',
    "Infinity": b'{"a": -Infinity}', "1e999": b'{"a": 1e999}', "twice": b'{"a": 1, "a": 2}',
    "deep": b"[" * 100_000, "deep object": b'{"a":' * 5000 + b"1" + b"}" * 5000, "UTF-16": '{"a": 1}'.encode("utf-16"),
    "latin": b'{"a": "\xe9"}', "long integer": b'{"a": ' + b"9" * 5000 + b"}", "too large": b" " * (MAX_BYTES + 1),
    "cut off": b'{"a": [1, 2', "two values": b"{} {}", "nul": b"\0"}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_gets_one_sentence(tmp_path, name):
    file = tmp_path / "case.json"
    file.write_bytes(BAD[name])
    with pytest.raises(InputError) as caught:
        read_case(str(file))
    assert str(caught.value).startswith("the case file is ")
    assert str(caught.value).endswith(".")
    assert len(str(caught.value)) < 250


@pytest.mark.parametrize("path", ["missing.json", "", ".", "a\0b", "x" * 5000])
def test_a_file_that_cannot_be_read_gets_one_sentence(tmp_path, monkeypatch, path):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError, match="it cannot be read"):
        read_case(path)


def test_a_good_file_is_read_with_or_without_a_byte_order_mark(tmp_path):
    file = tmp_path / "case.json"
    for mark in (b"", b"\xef\xbb\xbf"):
        file.write_bytes(mark + b'{"sensor": "coolant-temperature", "text": "[[[\\"[[{"}')
        assert read_case(str(file))["sensor"] == "coolant-temperature"


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(tmp_path_factory, raw):
    file = tmp_path_factory.getbasetemp() / "any.json"
    file.write_bytes(raw)
    try:
        assert isinstance(read_case(str(file)), dict)
    except InputError as mistake:
        assert str(mistake).endswith(".")


def test_numbers_carry_six_digits():
    assert json.dumps(rounded({"a": (0.1234567891, 1e-12, 123456789.0), "b": [True, None, "x", 7]})) == (
        '{"a": [0.123457, 1e-12, 123457000.0], "b": [true, null, "x", 7]}')
