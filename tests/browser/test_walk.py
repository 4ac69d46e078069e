"""Owns the walk of a whole job in a real browser: from a trouble code to a verdict to the shop book."""

from knowledge.shop_book import ShopBook
from tests.browser import hands
from tests.browser.vehicle import Vehicle


def walk(page, base, kb, book):
    """A whole job in degF on `page`, ended with one found again in the shop book."""
    page.goto(base)
    hands.rest(page)
    hands.in_fahrenheit(page)
    job = hands.start_job(page, page.url)
    # Job and unit come into the address one after the other.
    page.wait_for_url(lambda url: "unit=degF" in url)
    hands.describe_circuit(page, "68 2500\n176 330")
    hands.tap(page, "Next: the dial sheet")
    hands.describe_stand_in(page)
    page.get_by_role("cell", name="140\u00a0°F").first.wait_for()
    hands.tap(page, "Next: what to do now")
    asked = hands.work_to_verdict(page, kb, Vehicle())
    assert "The fault is in: return wire" in page.inner_text("body")
    page.reload()
    page.get_by_text("The fault is in: return wire").wait_for()
    assert len(book.open(job)["readings"]) == len(asked)
    assert all(reading.get("unit", "degF") == "degF" for reading in book.open(job)["readings"])
    page.get_by_text("No, still wrong").click()
    hands.rest(page)
    page.get_by_role("button", name="Next: keep this job").click()
    page.get_by_role("heading", name="Keep this job").wait_for()
    hands.type_in(page, "What was repaired?", "return splice remade")
    hands.type_in(page, "Note for the next time", "under the pump bracket, ferry van 3")
    page.get_by_role("button", name="Keep this job").click()
    page.get_by_text(f"Saved. Job {job} is in the shop book.").first.wait_for()
    hands.rest(page)
    page.get_by_label("Words, code, symptom or sensor").press_sequentially("pump bracket")
    page.get_by_text("under the pump bracket, ferry van 3").wait_for()
    kept = book.find("pump bracket", code="P0118")
    assert [(one.id, one.location, one.proof_passed) for one in kept] == [(job, "return", True)]


def test_a_whole_job_in_fahrenheit_on_a_tablet(page, served, kb, tmp_path):
    server = served()
    walk(page, server.base, kb, ShopBook(tmp_path / "shop-book.db"))
    assert page.strangers == []


def test_the_same_job_over_the_one_time_link(page, chromium, served, kb, tmp_path):
    server = served("--tablet")
    address = server.tablet.split("/enter")[0]
    refused = page.goto(address)
    assert refused.status == 403
    assert page.inner_text("body").startswith("Ohmwright: open the one-time link")
    page.goto(server.tablet)
    page.get_by_text("What brings the vehicle in?").wait_for()
    assert "key=" not in page.url
    assert page.get_by_text("Bring a tablet in").count() == 0
    walk(page, page.url, kb, ShopBook(tmp_path / "shop-book.db"))
    stranger = chromium.new_context().new_page()
    assert stranger.goto(server.tablet).status == 403


def test_the_computer_shows_the_link_as_a_picture_and_makes_another(page, chromium, served):
    server = served("--tablet")
    page.set_viewport_size({"width": 1280, "height": 800})
    page.goto(server.computer)
    page.get_by_text("Bring a tablet in").wait_for()
    page.get_by_alt_text("QR code of the link").wait_for()
    written = page.locator('[data-testid="stSidebar"] code')
    written.wait_for()
    assert written.inner_text().strip() == server.tablet
    hands.tap(page, "Make another link")
    link = written.inner_text().strip()
    assert link != server.tablet
    tablet = chromium.new_context().new_page()
    assert tablet.goto(server.tablet).status == 403
    tablet.goto(link)
    tablet.get_by_text("What brings the vehicle in?").wait_for()
    hands.in_fahrenheit(page)
    page.get_by_text("The last link was used.").wait_for()
