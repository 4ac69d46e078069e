"""Owns the pictures of every screen at three sizes: `python -m tests.browser.pictures OUTDIR`."""

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from knowledge.shop_book import ShopBook
from tests.app.case import CASE, WITHOUT_READINGS
from tests.app.serving import Served
from tests.browser import hands

SIZES = {"computer": (1280, 800), "tablet": (820, 1180), "phone": (390, 844)}
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
# Picture -> address, text that is there once it is drawn, and the job to open.
SCREENS = {
    "circuit": ("circuit", "Next: the dial sheet", "fresh"), "dial-sheet": ("dial-sheet", "For paper", "fresh"),
    "first-step": ("next-step", "Where it may be", "fresh"), "next-step": ("next-step", "Where it may be", "halfway"),
    "found": ("next-step", "Then prove it", "ended"), "keep": ("shop-book", "Keep this job", "ended"),
    "shop-book": ("shop-book", "starboard battery box", ""), "which-sensors-suit": ("which-sensors-suit", "Sort by", "fresh")}


def fill_book(folder):
    """A shop book of a ferry port's fleet: jobs kept, and one at each stage of the work."""
    book = ShopBook(Path(folder) / "shop-book.db")
    for location, repaired, note in (
            ("plug", "terminals replaced, seal renewed", "launch 2: water in the plug behind the starboard battery box"),
            ("sensor", "sensor replaced", "ferry van 7"), ("plug", "terminals cleaned", "ferry van 3, after the winter")):
        book.close(book.new_job({**WITHOUT_READINGS, "complaint": ["P0118"]}), location=location, repaired=repaired,
                   proof_passed=True, note=note)
    stages = {"fresh": WITHOUT_READINGS, "halfway": {**CASE, "readings": CASE["readings"][:3]}, "ended": CASE}
    return {name: book.new_job(case) for name, case in stages.items()} | {"": ""}


def whole_page(page, file):
    """Save everything the screen holds, also what has to be scrolled to."""
    hands.rest(page)
    page.wait_for_timeout(600)  # pictures inside settle
    size = page.viewport_size
    height = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
    page.set_viewport_size({"width": size["width"], "height": max(size["height"], int(height) + 40)})
    page.wait_for_timeout(400)
    page.screenshot(path=file)
    page.set_viewport_size(size)


def take(browser, server, jobs, folder):
    """Every screen at every size into `folder`."""
    for name, (width, height) in SIZES.items():
        page = browser.new_page(viewport={"width": width, "height": height})
        page.goto(server.base)
        page.get_by_label("Trouble code, symptom or sensor").press_sequentially("gauge stays cold", delay=15)
        hands.tap(page, "shows cold")
        whole_page(page, folder / f"complaint-{name}.png")
        page.get_by_text("The whole fault tree").click()
        page.wait_for_selector("svg .node")
        whole_page(page, folder / f"fault-tree-{name}.png")
        for picture, (address, text, stage) in SCREENS.items():
            page.goto(f"{server.base}/{address}?unit=degF" + (f"&job={jobs[stage]}" if stage else ""))
            page.get_by_text(text).first.wait_for()
            whole_page(page, folder / f"{picture}-{name}.png")
        page.close()


def main(target):
    """Start the real command on a book of its own and take the pictures."""
    folder = Path(target)
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as data, sync_playwright() as playwright:
        jobs = fill_book(data)
        server, shop = Served(data, cwd=data), Served(data, "--tablet", cwd=data)
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
        try:
            take(browser, server, jobs, folder)
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            page.goto(shop.computer)
            page.get_by_alt_text("QR code of the link").wait_for()
            whole_page(page, folder / "tablet-link-computer.png")
        finally:
            browser.close()
            server.end()
            shop.end()


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("python -m tests.browser.pictures OUTDIR")
    main(sys.argv[1])
