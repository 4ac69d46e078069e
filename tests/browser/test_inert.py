"""Owns the proof that nothing typed comes alive on any screen: no markup, no picture, no link, no script."""

from knowledge.shop_book import ShopBook
from tests.app.case import CASE
from tests.browser import hands

NOTE = ("<script>window.struck=1</script><img src=x onerror='window.struck=2'><b>loud</b> **bold** _em_ `code` $x^2$ "
        ":smile: :material/home: :red[hot] ![i](http://stranger.example/i.png) [tap](javascript:window.struck=3) "
        "https://stranger.example www.stranger.example a@b.example\x07\x1b[31m\u202e\n# head\n- item\n| a | b |\n|---|---|\n")
SCREENS = ("", "circuit", "dial-sheet", "next-step", "shop-book", "which-sensors-suit")


def assert_inert(page):
    assert page.evaluate("window.struck") is None
    assert page.strangers == []
    main = page.locator('[data-testid="stMain"]')
    assert main.locator("a[href*='stranger'], a[href^='mailto'], a[href^='javascript'], img[src*='stranger'], "
                        "script, b, .katex").count() == 0
    assert main.get_by_role("heading", name="head", exact=True).count() == 0


def test_a_note_full_of_markup_stays_text_on_every_screen(page, served, tmp_path):
    server, book = served(), ShopBook(tmp_path / "shop-book.db")
    job = book.new_job(CASE)
    page.goto(f"{server.base}/shop-book?job={job}")
    hands.type_in(page, "What was repaired?", NOTE[:200].replace("\n", " "))
    field = page.get_by_label("Note for the next time")
    field.fill(NOTE)
    field.press("Tab")
    page.get_by_role("button", name="Keep this job").click()
    page.get_by_text(f"Saved. Job {job} is in the shop book.").first.wait_for()
    hands.rest(page)
    assert "https://stranger.example www.stranger.example" in page.inner_text('[data-testid="stMain"]')
    assert "<b>loud</b> **bold** _em_ `code` $x^2$ :smile: :material/home: :red[hot]" in page.inner_text(
        '[data-testid="stMain"]')
    assert_inert(page)
    for screen in SCREENS:
        page.goto(f"{server.base}/{screen}?job={job}")
        hands.rest(page)
        page.locator("h2").first.wait_for()
        assert_inert(page)


def test_what_is_typed_into_fields_stays_text_in_the_sentence_about_it(page, served, tmp_path):
    server, book = served(), ShopBook(tmp_path / "shop-book.db")
    job = book.new_job({"format": 1, "sensor": "coolant-temperature"})
    marks = "<b>x</b> www.stranger.example $a$ :red[b]"[:40]
    page.goto(f"{server.base}/dial-sheet?job={job}")
    hands.type_in(page, "Ohms end to end, as measured", marks)
    hands.tap(page, "Save the stand-in")
    page.get_by_text("ohms are a number such as 330").wait_for()
    assert_inert(page)
    page.goto(f"{server.base}/")
    page.get_by_label("Trouble code, symptom or sensor").press_sequentially(marks, delay=10)
    page.get_by_text("Nothing of that name.").wait_for()
    assert_inert(page)


def test_a_hostile_address_shows_a_sentence(page, served):
    server = served()
    for query in ("job=%3Cscript%3Ewindow.struck%3D1%3C%2Fscript%3E", "job=" + "x" * 3000, "unit=%3Cb%3E", "job=%00"):
        page.goto(f"{server.base}/next-step?{query}")
        page.get_by_text("No job is open.").wait_for()
        assert_inert(page)
