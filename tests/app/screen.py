"""Owns running the app's screens without a browser, and reading what they say."""

import re
from pathlib import Path

from streamlit.testing.v1 import AppTest

import app
from app import cached, wording

MAIN = Path(app.__file__).with_name("main.py")
BANNED = re.compile(r"source ohms|thevenin|posterior|\bprior\b|traceback", re.IGNORECASE)
EVIL = ("<script>alert(1)</script> <b>x</b> **bold** _em_ `code` $x^2$ :smile: :red[hot] :material/home: "
        "![i](http://stranger.example/i.png) [l](javascript:alert(1)) https://stranger.example www.stranger.example "
        "a@b.example\x07\x1b[31m\u202e # head\n- item\n| a | b |")


def opened(page=None, **query):
    """The app run once with `query` in its address, on the screen file `page` (None: the first)."""
    screen = AppTest.from_file(str(MAIN), default_timeout=30)
    for name, value in query.items():
        screen.query_params[name] = value
    screen.run()
    return screen.switch_page(f"screens/{page}.py").run() if page else screen


def job_of(case):
    """Id of a new job in this test's shop book."""
    return cached.shop_book().new_job(case)


def said(screen):
    """Every word on the screen, for looking through; escapes taken off."""
    nodes = [*screen.main, *screen.sidebar]
    words = [str(getattr(node, "value", "")) + str(getattr(node, "label", "")) for node in _walk(nodes)]
    return re.sub(r"\\(.)", r"\1", "\n".join(words)).replace("\u2060", "").replace("\u00a0", " ")


def _walk(nodes):
    for node in nodes:
        if hasattr(node, "children"):
            yield from _walk(node.children.values())
        yield node


def fine(screen):
    """No trace on the screen and no word that does not belong there."""
    words = said(screen)
    assert not screen.exception
    assert wording.PROBLEM not in words
    assert not BANNED.search(words), BANNED.search(words)
    return screen
