"""Owns the walk of a one-wire sender and of a fuel level, in a real browser on a tablet, from complaint to verdict."""

from knowledge.shop_book import ShopBook
from tests.browser import hands
from tests.browser.vehicle import Boat, Tank


def inside(page):
    """Nothing on the screen is wider than the tablet."""
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


def test_a_one_wire_sender_with_tape_on_its_thread(page, served, kb, tmp_path):
    server = served()
    job = hands.start_job(page, server.base, "one-wire temperature sender", "coolant temperature sender, one wire (sensor)")
    page.get_by_text("I know it better").click()
    hands.type_in(page, "Input resistor (ohms)", "1k")
    hands.type_in(page, "Reference volts", "5")
    hands.type_in(page, "Or its own points", "25 544\n80 75")
    hands.save(page, "Save what is known")
    hands.tap(page, "Next: the dial sheet")
    hands.type_in(page, "Ohms end to end, as measured", "2k")
    hands.save(page, "Save the stand-in")
    hands.tap(page, "Next: what to do now")
    inside(page)
    asked = hands.work_to_verdict(page, kb, Boat(), "coolant-temperature-one-wire")
    assert "The fault is in: return wire" in page.inner_text("body")
    readings = ShopBook(tmp_path / "shop-book.db").open(job)["readings"]
    assert [reading["test"] for reading in readings] == asked
    assert page.strangers == []


def test_a_fuel_level_in_percent(page, served, kb, tmp_path):
    server = served()
    job = hands.start_job(page, server.base, "fuel level sender", "fuel level sender (resistive, read by a module) (sensor)")
    assert page.get_by_text("°F", exact=True).count() == 0
    page.get_by_text("I know it better").click()
    hands.type_in(page, "Input resistor (ohms)", "410")
    hands.type_in(page, "Reference volts", "12.6")
    hands.type_in(page, "Or its own points", "0 10\n100 180")
    hands.save(page, "Save what is known")
    hands.tap(page, "Next: the dial sheet")
    page.get_by_text("E24 drawer").click()
    hands.rest(page)
    hands.type_in(page, "Watts printed on it", "5")
    hands.save(page, "Save the stand-in")
    page.get_by_role("cell", name="50\u00a0%", exact=True).first.wait_for()
    inside(page)
    hands.tap(page, "Next: what to do now")
    asked = hands.work_to_verdict(page, kb, Tank(), "fuel-level")
    assert "The fault is in: plug" in page.inner_text("body")
    readings = ShopBook(tmp_path / "shop-book.db").open(job)["readings"]
    assert [reading["test"] for reading in readings] == asked
    assert all(reading.get("unit", "percent") == "percent" for reading in readings)
