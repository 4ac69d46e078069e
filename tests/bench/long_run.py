"""Runs many numbered jobs over processes and keeps each finished one in a file, so that a stopped run can go on.

The file holds one JSON object a line: first what was asked for, then one line a finished job. A run given the same file
again leaves out what is there; parts made on several machines are counted together with --with.
"""

import argparse
import json
import multiprocessing
import platform
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np


@cache
def knowledge():
    """The knowledge, loaded once in each process and only where a job is really opened."""
    from knowledge import load

    return load()


def parser(text, count):
    """The command line every bench understands; `count` is how many jobs it is quoted for."""
    out = argparse.ArgumentParser(description=text.splitlines()[0])
    out.add_argument("--count", type=int, default=count, help="how many jobs")
    out.add_argument("--first", type=int, default=1, help="number of the first; the number fixes the job")
    out.add_argument("--jobs", type=int, default=1, help="processes at once")
    out.add_argument("--out", type=Path, help="file that keeps finished jobs; given again, the run goes on")
    out.add_argument("--with", type=Path, nargs="*", default=[], dest="parts", help="files of other runs to count in")
    return out


def results(chosen, work, settings):
    """Records (dicts) of the jobs the command line asks for, in order of their numbers, parts of other runs included.

    `work` takes a number and gives a record of JSON values with that "number"; it must be picklable.
    """
    numbers = range(chosen.first, chosen.first + chosen.count)
    records = run(work, numbers, chosen.jobs, chosen.out, settings)
    for part in chosen.parts:
        records += read(part, settings)
    return sorted({record["number"]: record for record in records}.values(), key=lambda record: record["number"])


def run(work, numbers, processes=1, out=None, settings=None):
    """Records of `numbers`, each written to `out` as soon as it is done; those `out` already holds are not done again."""
    done = read(out, settings) if out and out.exists() else []
    if out and not out.exists():
        _write(out, {"settings": settings})
    wanted = set(numbers)
    records = [record for record in done if record["number"] in wanted]
    left = [number for number in numbers if number not in {record["number"] for record in records}]
    for record in _each(work, left, processes):
        if out:
            _write(out, record)
        records.append(record)
    return sorted(records, key=lambda record: record["number"])


def read(path, settings=None):
    """Records kept in `path`; refused where they answer other settings. A line cut off in writing is left out."""
    lines = path.read_text(encoding="utf-8").splitlines()
    head = json.loads(lines[0])
    if head != json.loads(json.dumps({"settings": settings})):
        raise SystemExit(f"{path} holds a run with {head}, this one has {settings}: give another file")
    records = []
    for line in lines[1:]:
        try:
            records.append(json.loads(line))
        except json.JSONDecodeError:
            continue
    return records


def heading(title):
    """Heading of a table ready for RESULTS.md: what, when, on what machine, with which knowledge."""
    import os

    return (f"## {datetime.now(UTC):%Y-%m-%d}, {title}\n\n{os.cpu_count()} cores ({platform.machine()}), "
            f"Python {platform.python_version()}, numpy {np.__version__}, knowledge {knowledge().version}\n")


def _each(work, numbers, processes):
    if processes == 1:
        yield from map(work, numbers)
        return
    with multiprocessing.Pool(processes) as pool:
        yield from pool.imap_unordered(work, numbers, chunksize=1)


def _write(path, record):
    # A run killed in the middle of a line must not spoil the next one.
    text = json.dumps(record) + "\n"
    with path.open("a+", encoding="utf-8") as file:
        file.seek(0)
        whole = file.read()
        file.write(text if not whole or whole.endswith("\n") else "\n" + text)
