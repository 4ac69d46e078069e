"""Owns the test of the shop book: what was saved is there after a kill, found again, counted, and kept as typed."""

import os
import signal
import sqlite3
import subprocess
import sys
import textwrap
import threading

import pytest

from engine.errors import InputError, OhmwrightError
from knowledge.shop_book import LONGEST_NOTE, ShopBook

CASE = {"format": 1, "sensor": "coolant-temperature", "complaint": ["P0118"], "readings": []}


@pytest.fixture
def book(tmp_path):
    opened = ShopBook(tmp_path / "kept" / "shop.db")
    yield opened
    opened.dispose()


def _closed(book, location, complaint=("P0118",), sensor="coolant-temperature", proof_passed=True, **typed):
    job = book.new_job({"format": 1, "sensor": sensor, "complaint": list(complaint)})
    book.close(job, location=location, repaired=typed.get("repaired", ""), proof_passed=proof_passed, note=typed.get("note", ""))
    return job


def test_a_job_is_there_after_the_book_is_opened_again(book):
    job = book.new_job(CASE)
    reading = {"test": "unplugged", "shows": -40, "unit": "degC"}
    book.save(job, {**CASE, "readings": [reading]}, {"event": "reading", "reading": reading})
    book.dispose()
    again = ShopBook(book.path)
    assert again.open(job) == {**CASE, "readings": [reading]}
    events = again.log(job)
    assert [event["event"] for event in events] == ["opened", "reading"] and events[1]["reading"] == reading
    assert again.check() == "ok"
    again.dispose()


def test_settings_that_survive_a_kill(book):
    with book._transaction() as db:
        values = [db.exec_driver_sql(f"PRAGMA {name}").scalar() for name in ("journal_mode", "synchronous", "foreign_keys")]
    assert values == ["wal", 2, 1]


# A line in starts a process that saves without pause; it is its parent that says when it is gone.
SAVING = textwrap.dedent("""
    import os, sys
    from pathlib import Path
    from knowledge.shop_book import ShopBook
    for line in sys.stdin:
        child = os.fork()
        if child:
            os.waitpid(child, 0)
            print("\\ngone", flush=True)
            continue
        print(os.getpid(), flush=True)
        book = ShopBook(Path(sys.argv[1]))
        job = book.new_job({"sensor": "coolant-temperature", "complaint": []})
        for number in range(100000):
            book.save(job, {"sensor": "coolant-temperature", "number": number}, {"event": "reading", "number": number})
            print(job, number, flush=True)
""")


def test_every_acknowledged_save_survives_kill_9(tmp_path):
    """Saves without pause, killed in the middle ten times: each save that was printed is in the log."""
    path = tmp_path / "shop.db"
    with subprocess.Popen([sys.executable, "-c", SAVING, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as saving:
        for _ in range(10):
            print("another", file=saving.stdin, flush=True)
            child = int(saving.stdout.readline())
            said = [saving.stdout.readline() for _ in range(20)]
            os.kill(child, signal.SIGKILL)
            said += [line for line in iter(saving.stdout.readline, "gone\n") if line.strip()]
            job, last = said[-1].split()
            book = ShopBook(path)
            assert book.open(job)["number"] >= int(last)
            assert [event["number"] for event in book.log(job)[1:]] == list(range(book.open(job)["number"] + 1))
            assert book.check() == "ok"
            book.dispose()
        saving.stdin.close()


def test_the_log_can_only_grow(book):
    job = book.new_job(CASE)
    for statement in ("DELETE FROM log", "UPDATE log SET event = '{}'"):
        with sqlite3.connect(book.path) as db, pytest.raises(sqlite3.Error, match="append-only"):
            db.execute(statement)
    assert len(book.log(job)) == 1


@pytest.mark.parametrize("note", ["<script>alert(1)</script> [x](http://a) $x$ **b**", "a\x00b\x07\x1b[31m\r\n\ttab", "'; DROP TABLE jobs; --",
                                  "\ud800 lone", "\u202edrow", "°Ω🔧"])
def test_notes_are_kept_as_typed(book, note):
    job = _closed(book, "plug", note=note, repaired=note)
    (found,) = book.find()
    assert (found.id, found.note, found.repaired) == (job, note, note)
    assert book.log(job)[-1]["note"] == note


def test_closing_keeps_how_it_ended(book):
    job = _closed(book, "plug", repaired="new terminal", proof_passed=None, note="water in the plug")
    (found,) = book.find()
    assert (found.location, found.proof_passed, found.closed_at is not None) == ("plug", None, True)
    book.close(job, location="signal", repaired="splice", proof_passed=True, note="")
    assert book.find()[0].location == "signal" and len(book.log(job)) == 3


@pytest.mark.parametrize(("words", "found"), [
    ("", True), ("water PLUG", True), ("P0118", True), ("coolant temperature sensor", True), ("voltage high", True),
    ("signal wire", False), ("water ferry", False), ("%", False), ("_", False)])
def test_a_job_is_found_by_words_code_symptom_and_sensor(book, words, found):
    _closed(book, "plug", note="Water in the housing", repaired="terminal")
    assert bool(book.find(words)) is found


def test_finding_by_field_and_latest_first(book):
    first = _closed(book, "plug", ("P0118", "shows-minus-40"))
    second = _closed(book, "sensor", ("P0113",), "intake-air-temperature")
    still_open = book.new_job(CASE)
    assert [case.id for case in book.find()] == [still_open, second, first]
    assert [case.id for case in book.find(code="p0113")] == [second]
    assert [case.id for case in book.find(symptom="shows-minus-40", sensor="coolant-temperature")] == [first]
    assert book.find(sensor="coolant-temperature")[0].location is None


def test_tally_counts_where_like_jobs_ended(book):
    for location in ("plug", "sensor", "plug"):
        _closed(book, location)
    _closed(book, "module", proof_passed=False)
    _closed(book, "return", ("P0113",))
    _closed(book, "signal", sensor="intake-air-temperature")
    book.new_job(CASE)
    assert book.tally(["p0118"], "coolant-temperature") == {"plug": 2, "sensor": 1}
    assert list(book.tally([], "coolant-temperature").items()) == [("plug", 2), ("return", 1), ("sensor", 1)]
    assert book.tally(["P0119"], "coolant-temperature") == {}


@pytest.mark.parametrize(("call", "said"), [
    (lambda book, job: book.close(job, location="nose", repaired="", proof_passed=True), ("location", "nose", "plug")),
    (lambda book, job: book.close(job, location="plug", repaired="", proof_passed="yes"), ("proof_passed", "yes", "true, false")),
    (lambda book, job: book.close(job, location="plug", repaired="", proof_passed=True, note="x" * (LONGEST_NOTE + 1)), ("note", "4001", "at most 4000")),
    (lambda book, job: book.close(job, location="plug", repaired=None, proof_passed=True), ("repaired", "None", "text")),
    (lambda book, job: book.close("beef", location="plug", repaired="", proof_passed=True), ("job", "beef", "no job of that id")),
    (lambda book, job: book.save("beef", CASE, {}), ("job", "beef", "no job of that id")),
    (lambda book, job: book.save(job, {"sensor": 3}, {}), ("case", "without a sensor")),
    (lambda book, job: book.save(job, {**CASE, "x": float("nan")}, {}), ("case", "finite numbers")),
    (lambda book, job: book.save(job, CASE, {"event": object()}), ("event", "plain data")),
    (lambda book, job: book.save(job, {**CASE, "x": "y" * 600_000}, {}), ("case", "too long", "at most")),
    (lambda book, job: book.new_job({"sensor": "coolant-temperature", "complaint": "P0118"}), ("complaint", "list"))])
def test_what_cannot_be_kept_is_said_and_changes_nothing(book, call, said):
    job = book.new_job(CASE)
    with pytest.raises(InputError) as caught:
        call(book, job)
    assert all(piece in str(caught.value) for piece in said), str(caught.value)
    assert book.open(job) == CASE and len(book.log(job)) == 1 and len(book.find()) == 1


@pytest.mark.parametrize("job_id", ["", "beef", "'; --", "\ud800", None, 3, "x" * 100000])
def test_an_unknown_job_is_none(book, job_id):
    assert book.open(job_id) is None


def test_ids_are_short_and_differ(book):
    ids = {book.new_job(CASE) for _ in range(50)}
    assert len(ids) == 50 and all(len(one) == 8 and int(one, 16) >= 0 for one in ids)


def test_writers_wait_for_each_other(book):
    jobs = [book.new_job(CASE) for _ in range(4)]

    def work(job):
        for number in range(25):
            book.save(job, CASE, {"event": "reading", "number": number})
    threads = [threading.Thread(target=work, args=(job,)) for job in jobs]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [len(book.log(job)) for job in jobs] == [26] * 4 and book.check() == "ok"


def test_a_file_that_is_no_shop_book_is_said_so(tmp_path):
    junk = tmp_path / "junk.db"
    junk.write_bytes(b"not a database" * 500)
    with pytest.raises(OhmwrightError, match="not a database"):
        ShopBook(junk)


def test_a_book_of_a_later_form_is_left_alone(tmp_path):
    path = tmp_path / "later.db"
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA user_version = 9")
    with pytest.raises(OhmwrightError, match="form 9"):
        ShopBook(path)
