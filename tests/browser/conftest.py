"""Owns the browser the tests drive: a real Chromium, or the reason why these tests were left out."""

import os
import shutil
from pathlib import Path

import pytest

from tests.app.serving import Served

SIZE = {"width": 820, "height": 1180}
NAMES = ("chromium", "chromium-browser", "google-chrome")
LEFT_OUT = "browser tests left out"
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]


def pytest_collection_modifyitems(items):
    """Everything in this folder drives a browser."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker("browser")


def pytest_terminal_summary(terminalreporter):
    """Say out loud that, and why, these tests were left out."""
    left_out = [report for report in terminalreporter.getreports("skipped") if LEFT_OUT in str(report.longrepr)]
    if left_out:
        terminalreporter.write_line(f"{len(left_out)} {LEFT_OUT}: none of {', '.join(NAMES)} is installed")


@pytest.fixture(scope="session")
def chromium():
    """The browser; skipped with the reason where there is none, failed where OHMWRIGHT_REQUIRE_BROWSER is set."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        reason = f"{LEFT_OUT}: none of {', '.join(NAMES)} is installed"
        if os.environ.get("OHMWRIGHT_REQUIRE_BROWSER") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    from playwright.sync_api import sync_playwright
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def page(chromium):
    """A fresh tablet-sized page; `strangers` lists requests to other machines."""
    context = chromium.new_context(viewport=SIZE)
    opened = context.new_page()
    opened.set_default_timeout(20_000)
    opened.strangers = []
    opened.on("request", lambda request: opened.strangers.append(request.url)
              if not request.url.startswith(("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:")) else None)
    yield opened
    context.close()


@pytest.fixture
def served(tmp_path):
    """Start the real command; every server started is ended afterwards."""
    started = []

    def start(*arguments, port=0):
        server = Served(tmp_path, *arguments, cwd=tmp_path, port=port)
        started.append(server)
        return server

    yield start
    for server in started:
        server.end()
