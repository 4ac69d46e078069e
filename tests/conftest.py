"""Owns what all tests share: where their helpers are found, the knowledge they read, one thread of linear algebra a process,
what is compiled before they start, how many workers there are, and the order of the tests."""

import os
import sys
from pathlib import Path

import pytest

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Workers, and the many processes tests start, keep what they compiled: each would compile the whole program anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
# Behind everything installed: the tests' own helpers are found, the app still has to be installed.
sys.path.append(str(Path(__file__).parents[1]))


def pytest_configure(config):
    """Everything is compiled, and kept, before workers start: on a bare machine each would take its own minute over it."""
    if hasattr(config, "workerinput") or config.option.collectonly:
        return
    from knowledge.warm import warm, warm_drawing
    from tests.loaded import KB
    other = os.fork()
    if other == 0:
        try:
            warm_drawing(KB)
        finally:
            os._exit(0)
    warm(KB)
    os.waitpid(other, 0)


def pytest_xdist_auto_num_workers():
    """One worker more than processors: whoever drives a browser waits half of the time."""
    return (os.cpu_count() or 1) + 1


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items):
    """Whatever drives a browser comes first: a worker that ran out of tests takes the last of another's, and a long one among
    those would keep all waiting at the end."""
    items.sort(key=lambda item: item.get_closest_marker("browser") is None)


def pytest_collection_finish():
    """What was loaded up to here stays to the end."""
    from knowledge.memory import settle
    settle()


@pytest.fixture(scope="session")
def kb():
    """The knowledge that comes with the program; not to be changed."""
    from tests.loaded import KB
    return KB
