"""Owns the shop book: jobs and what was done in them, in one SQLite file that survives a kill in the middle of a save.

Three tables: `jobs` holds each job's current state, `circuits` the circuits kept
under a name of the shop's own, `log` every reading and decision ever saved,
which the database itself refuses to change or delete.
Each save writes both in one transaction with the file flushed to disk
(write-ahead log, synchronous FULL). Texts are kept as typed, as JSON, so that
no character in them can mean anything to the database.
"""

import json
import secrets
import sqlite3
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path

import sqlalchemy as sql
from platformdirs import user_data_dir
from sqlalchemy.exc import SQLAlchemyError

from engine.errors import InputError, OhmwrightError
from engine.faults import LOCATIONS
from knowledge.load import load_tables

LONGEST_NOTE = 4000
LONGEST_REPAIR = 400
LONGEST_NAME = 80
LARGEST_JSON = 500_000
MOST_FOUND = 200
SCHEMA_VERSION = 1
BUSY_MS = 10_000
_metadata = sql.MetaData()
_jobs = sql.Table(
    "jobs", _metadata, sql.Column("id", sql.String, primary_key=True), sql.Column("opened_at", sql.String, nullable=False),
    sql.Column("changed_at", sql.String, nullable=False), sql.Column("sensor", sql.String, nullable=False),
    sql.Column("complaint", sql.String, nullable=False), sql.Column("case", sql.String, nullable=False),
    sql.Column("closed_at", sql.String), sql.Column("location", sql.String), sql.Column("proof_passed", sql.Boolean),
    sql.Column("closing", sql.String))
_circuits = sql.Table(
    "circuits", _metadata, sql.Column("sensor", sql.String, primary_key=True), sql.Column("name", sql.String, primary_key=True),
    sql.Column("kept_at", sql.String, nullable=False), sql.Column("circuit", sql.String, nullable=False))
_log = sql.Table(
    "log", _metadata, sql.Column("number", sql.Integer, primary_key=True, autoincrement=True),
    sql.Column("job_id", sql.String, sql.ForeignKey("jobs.id"), nullable=False, index=True),
    sql.Column("at", sql.String, nullable=False), sql.Column("event", sql.String, nullable=False),
    sqlite_autoincrement=True)
_APPEND_ONLY = tuple(f"CREATE TRIGGER IF NOT EXISTS log_no_{verb} BEFORE {verb} ON log "
                     "BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END" for verb in ("UPDATE", "DELETE"))


@dataclass(frozen=True)
class ShopCase:
    """One job of the shop; `location`, `repaired`, `proof_passed` and `note` are blank until it is closed."""

    id: str
    sensor: str
    complaint: tuple[str, ...]
    opened_at: str
    closed_at: str | None
    location: str | None
    repaired: str
    proof_passed: bool | None
    note: str


class ShopBook:
    """The shop's jobs in the SQLite file `path` (default: in the user's data directory)."""

    def __init__(self, path: Path | None = None) -> None:
        self.path = Path(path) if path is not None else Path(user_data_dir("ohmwright")) / "shop-book.db"
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise self._broken(error.strerror or "unknown reason") from None
        self._engine = sql.create_engine(f"sqlite:///{self.path}", connect_args={"timeout": BUSY_MS / 1000})
        sql.event.listen(self._engine, "connect", _prepare)
        with self._transaction() as db:
            version = db.exec_driver_sql("PRAGMA user_version").scalar()
            if version not in (0, SCHEMA_VERSION):
                raise OhmwrightError(f"The shop book {self.path} has form {version}: open it with the program that wrote it.")
            _metadata.create_all(db)
            for trigger in _APPEND_ONLY:
                db.exec_driver_sql(trigger)
            db.exec_driver_sql(f"PRAGMA user_version = {SCHEMA_VERSION}")

    def new_job(self, case: Mapping) -> str:
        """Keep `case` as a new job; its short random id."""
        now, row = _now(), _case_columns(case)
        with self._transaction() as db:
            while True:
                job_id = secrets.token_hex(4)
                if db.execute(sql.select(_jobs.c.id).where(_jobs.c.id == job_id)).first() is None:
                    break
            db.execute(_jobs.insert().values(id=job_id, opened_at=now, changed_at=now, **row))
            db.execute(_log.insert().values(job_id=job_id, at=now, event=_json({"event": "opened"}, "event")))
        return job_id

    def save(self, job_id: str, case: Mapping, event: Mapping) -> None:
        """Keep `case` as the job's state and append `event` to its log; both are on disk when this returns."""
        self._change(job_id, _case_columns(case), event)

    def close(self, job_id: str, *, location: str, repaired: str, proof_passed: bool | None, note: str = "") -> None:
        """Keep how the job ended. `proof_passed` is None where the proof was not tried."""
        if location not in LOCATIONS:
            raise InputError("location", location, f"it is one of {', '.join(LOCATIONS)}")
        if proof_passed not in (True, False, None):
            raise InputError("proof_passed", proof_passed, "it is true, false, or left open")
        closing = {"repaired": _typed(repaired, "repaired", LONGEST_REPAIR), "note": _typed(note, "note", LONGEST_NOTE)}
        ended = {"location": location, "proof_passed": proof_passed, **closing}
        self._change(job_id, {"closed_at": _now(), "location": location, "proof_passed": proof_passed,
                              "closing": _json(closing, "note")}, {"event": "closed", **ended})

    def open(self, job_id: str) -> dict | None:
        """The job's case as last saved, or None where there is no job of that id."""
        if not isinstance(job_id, str) or not job_id.isascii():
            return None
        with self._transaction() as db:
            text = db.execute(sql.select(_jobs.c.case).where(_jobs.c.id == job_id)).scalar()
        return None if text is None else json.loads(text)

    def log(self, job_id: str) -> tuple[dict, ...]:
        """Every event of the job in the order it was saved, each with `at` (UTC)."""
        with self._transaction() as db:
            rows = db.execute(sql.select(_log.c.at, _log.c.event).where(_log.c.job_id == job_id).order_by(_log.c.number)).all()
        return tuple({"at": at, **json.loads(event)} for at, event in rows)

    def find(self, text: str = "", *, symptom: str | None = None, code: str | None = None,
             sensor: str | None = None) -> tuple[ShopCase, ...]:
        """Jobs that hold every word of `text`, and the symptom, code and sensor kind where given; latest first."""
        words = [word.casefold() for word in text.split()]
        wanted = [one.casefold() for one in (symptom, code) if one]
        found = []
        for case in self._cases(sensor):
            named = {one.casefold() for one in case.complaint}
            if all(one in named for one in wanted) and all(word in self._hay(case) for word in words):
                found.append(case)
        return tuple(found[:MOST_FOUND])

    def keep_circuit(self, name: str, sensor: str, circuit: Mapping) -> None:
        """Keep `circuit` (a case file's `circuit`) for `sensor` under `name`; one kept under that name before is replaced."""
        called = _typed(name, "name", LONGEST_NAME).strip()
        if not called:
            raise InputError("name", "empty", "a circuit is kept under a name, such as the vehicle it was met on")
        row = {"kept_at": _now(), "circuit": _json(circuit, "circuit")}
        with self._transaction() as db:
            db.execute(_circuits.delete().where(_circuits.c.sensor == sensor, _circuits.c.name == called))
            db.execute(_circuits.insert().values(sensor=sensor, name=called, **row))

    def circuits(self, sensor: str) -> dict[str, dict]:
        """Circuits kept for `sensor`, {name: a case file's `circuit`}, latest first."""
        query = sql.select(_circuits).where(_circuits.c.sensor == sensor).order_by(_circuits.c.kept_at.desc(), _circuits.c.name)
        with self._transaction() as db:
            return {row["name"]: json.loads(row["circuit"]) for row in db.execute(query).mappings()}

    def tally(self, complaint_ids: Sequence[str], sensor: str) -> dict[str, int]:
        """Where closed jobs on this sensor kind and any of these complaints ended, {location: jobs}.

        A job whose proof failed did not end where it says and is left out.
        """
        wanted = {one.casefold() for one in complaint_ids}
        ended = (case for case in self._cases(sensor) if case.location is not None and case.proof_passed is not False)
        counted = Counter(case.location for case in ended
                          if not wanted or wanted & {one.casefold() for one in case.complaint})
        return dict(sorted(counted.items(), key=lambda pair: (-pair[1], pair[0])))

    def check(self) -> str:
        """"ok", or what the database's own integrity check finds."""
        with self._transaction() as db:
            rows = db.exec_driver_sql("PRAGMA integrity_check").scalars().all()
            lost = db.exec_driver_sql("PRAGMA foreign_key_check").all()
        return "; ".join([*rows, *(f"a log row of {row[0]} has no job" for row in lost)])

    def dispose(self) -> None:
        """Close the file."""
        self._engine.dispose()

    def _change(self, job_id: str, columns: Mapping, event: Mapping) -> None:
        said = _json(event, "event")
        if self.open(job_id) is None:
            raise InputError("job", job_id, "the shop book has no job of that id")
        with self._transaction() as db:
            now = _now()
            db.execute(_jobs.update().where(_jobs.c.id == job_id).values(changed_at=now, **columns))
            db.execute(_log.insert().values(job_id=job_id, at=now, event=said))

    def _cases(self, sensor: str | None) -> Iterator[ShopCase]:
        query = sql.select(_jobs).order_by(_jobs.c.changed_at.desc(), _jobs.c.opened_at.desc(), _jobs.c.id)
        if sensor:
            query = query.where(_jobs.c.sensor == sensor)
        with self._transaction() as db:
            rows = db.execute(query).mappings().all()
        for row in rows:
            closing = json.loads(row["closing"]) if row["closing"] else {"repaired": "", "note": ""}
            yield ShopCase(row["id"], row["sensor"], tuple(json.loads(row["complaint"])), row["opened_at"],
                           row["closed_at"], row["location"], closing["repaired"], row["proof_passed"], closing["note"])

    @cached_property
    def _labels(self) -> dict[str, str]:
        """What sensor kinds, codes, symptoms and locations are called, by id."""
        tables = load_tables()
        return {row.id: " ".join((row.id, row.label, *getattr(row, "words", ())))
                for row in (*tables.sensors, *tables.codes, *tables.symptoms, *tables.locations)}

    def _hay(self, case: ShopCase) -> str:
        """Everything a job can be found by, in lower case."""
        ids = (case.sensor, *case.complaint, *([case.location] if case.location else ()))
        return " ".join((case.id, case.repaired, case.note, *(self._labels.get(id, id) for id in ids))).casefold()

    @contextmanager
    def _transaction(self) -> Iterator[sql.Connection]:
        try:
            with self._engine.begin() as db:
                yield db
        except (SQLAlchemyError, sqlite3.Error) as error:
            raise self._broken(str(getattr(error, "orig", None) or error).splitlines()[0]) from None

    def _broken(self, reason: str) -> OhmwrightError:
        return OhmwrightError(f"The shop book {self.path} cannot be used ({reason}): check the disk, or name another folder.")


def _prepare(connection: object, _record: object) -> None:
    """Settings of each connection: what is saved stays saved, and two writers wait for each other."""
    cursor = connection.cursor()
    for setting in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", f"busy_timeout = {BUSY_MS}"):
        cursor.execute(f"PRAGMA {setting}")
    cursor.close()


def _case_columns(case: Mapping) -> dict[str, str]:
    """The columns of `jobs` that a case fills."""
    if not isinstance(case, Mapping) or not isinstance(case.get("sensor"), str):
        raise InputError("case", "without a sensor", "a job names its sensor kind")
    complaint = case.get("complaint") or ()
    if not isinstance(complaint, (list, tuple)) or not all(isinstance(one, str) for one in complaint):
        raise InputError("complaint", repr(complaint), "it takes a list of codes, symptoms or sensor kinds")
    return {"sensor": case["sensor"], "complaint": _json(list(complaint), "complaint"), "case": _json(case, "case")}


def _json(value: object, where: str) -> str:
    """`value` as ASCII JSON."""
    try:
        text = json.dumps(value, ensure_ascii=True, allow_nan=False, sort_keys=True)
    except (TypeError, ValueError, RecursionError):
        raise InputError(where, "not plain data", "it takes texts, finite numbers, lists and objects") from None
    if len(text) > LARGEST_JSON:
        raise InputError(where, "too long", f"it takes at most {LARGEST_JSON} characters")
    return text


def _typed(text: object, where: str, most: int) -> str:
    if not isinstance(text, str):
        raise InputError(where, repr(text), "it takes text")
    if len(text) > most:
        raise InputError(where, f"{len(text)} characters long", f"it takes at most {most} characters")
    return text


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="microseconds")
