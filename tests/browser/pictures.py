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
    "locked": ("next-step", "Where it may be", "locked"), "provoke": ("next-step", "Where it may be", "jumps"),
    "void": ("next-step", "Where it may be", "void"), "learned": ("next-step", "Where it may be", "untold"),
    "one-wire-circuit": ("circuit", "Next: the dial sheet", "boat"), "one-wire-step": ("next-step", "Where it may be", "boat"),
    "level-circuit": ("circuit", "Next: the dial sheet", "tank"), "level-sheet": ("dial-sheet", "For paper", "tank"),
    "level-step": ("next-step", "Where it may be", "tank"), "switching-sheet": ("dial-sheet", "For paper", "switching"),
    "gauge-circuit": ("circuit", "Next: the dial sheet", "needle"), "gauge-step": ("next-step", "Where it may be", "needle"),
    "found": ("next-step", "Then prove it", "ended"), "keep": ("shop-book", "Keep this job", "ended"),
    "shop-book": ("shop-book", "starboard battery box", ""), "which-sensors-suit": ("which-sensors-suit", "Sort by", "fresh")}

NEW = {"format": 1, "sensor": "coolant-temperature"}
DRAWER = {"kind": "fixed", "series": "E24", "low_ohm": 1, "watts": 5}
MORE_STAGES = {
    "locked": {**WITHOUT_READINGS, "readings": [{"test": "as-found", "shows": -40}, {"test": "unplugged", "shows": -40}]},
    "jumps": {**WITHOUT_READINGS, "complaint": ["number-jumps"], "readings": [{"test": "wiggle", "good": True}]},
    "void": {**WITHOUT_READINGS, "readings": [{"test": "return-ohms", "ohms": 3, "ohms_swapped": 40}]},
    "untold": {**NEW, "readings": [
        {"test": "plug-volts", "signal_to_return_v": 5.0, "signal_to_battery_v": 5.0},
        {"test": "substitute", "ohm": 330, "shows": 80, "unit": "degC", "signal_to_return_v": 0.652},
        {"test": "substitute", "ohm": 2500, "shows": 20, "unit": "degC", "signal_to_return_v": 2.66}]},
    "boat": {**NEW, "sensor": "coolant-temperature-one-wire", "stand_in": {"end_to_end_ohm": 2000}},
    "tank": {**NEW, "sensor": "fuel-level", "stand_in": DRAWER, "circuit": {
        "reference_v": 12.6, "open_v": 12.6, "pull_up_ohm": 410, "curve": "level-10-180", "low_limit_v": 0.4, "default": 0}},
    "needle": {**NEW, "sensor": "fuel-level-gauge", "complaint": ["needle-wrong-fuel"], "stand_in": {"kind": "fixed", "ohms": [33, 100, 220]},
               "readings": [{"test": "unplugged", "shows": "below E"}, {"test": "other-gauge", "good": True}]},
    "switching": {**NEW, "sensor": "cylinder-head-temperature", "stand_in": {"end_to_end_ohm": 100_000}, "circuit": {
        "reference_v": 5.0, "pull_up_ohm": 20_000, "second_pull_up_ohm": 952, "switch_at": 92.5, "switch_band": 15,
        "low_limit_v": 0.2, "high_limit_v": 4.85, "default": [40, 80], "curve": "ntc-30k-25c-cylinder-head"}}}


def fill_book(folder):
    """A shop book of a ferry port's fleet: jobs kept, and one at each stage of the work."""
    book = ShopBook(Path(folder) / "shop-book.db")
    for location, repaired, note in (
            ("plug", "terminals replaced, seal renewed", "launch 2: water in the plug behind the starboard battery box"),
            ("sensor", "sensor replaced", "ferry van 7"), ("plug", "terminals cleaned", "ferry van 3, after the winter")):
        book.close(book.new_job({**WITHOUT_READINGS, "complaint": ["P0118"]}), location=location, repaired=repaired,
                   proof_passed=True, note=note)
    stages = {"fresh": WITHOUT_READINGS, "halfway": {**CASE, "readings": CASE["readings"][:3]}, "ended": CASE, **MORE_STAGES}
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
