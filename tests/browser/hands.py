"""Owns what a technician's hands do on the screens: type, tap, wait until the screen rests."""

RESTING = '[data-testid="stApp"][data-test-script-state="notRunning"]'
CONNECTED = '[data-testid="stApp"][data-test-connection-state="CONNECTED"]'
LOST = '[data-testid="stApp"]:not([data-test-connection-state="CONNECTED"])'
NUMBER_FIELDS = {"low": "Lowest number", "high": "Highest number", "number": "Number shown", "ohms": "Ohms the meter showed",
                 "at": " of the sensor then", "ma": "Milliamperes the meter showed", "signal_to_return_v": "Volts, signal to return",
                 "signal_to_battery_v": "Volts, signal to battery negative"}
MOST_STEPS, MOST_WAITS = 20, 80


def rest(page):
    """Wait until the server has finished drawing."""
    page.wait_for_timeout(150)
    page.wait_for_selector(RESTING, timeout=30_000)


def type_in(page, label, text):
    """Type `text` into the field named `label` and leave it."""
    field = page.get_by_label(label).first
    field.fill(str(text))
    field.press("Tab")


def tap(page, name):
    """Tap the button `name` and wait for the screen."""
    page.get_by_role("button", name=name).first.click()
    rest(page)


def save(page, name):
    """Tap the button `name` and wait until the screen says that it is saved: a busy browser may rest before it begins."""
    tap(page, name)
    page.get_by_text("Saved.", exact=True).first.wait_for()
    rest(page)


def in_fahrenheit(page):
    """Switch the screen to degF."""
    page.get_by_text("°F", exact=True).first.click()
    # A busy browser shows the address a moment after the screen.
    page.wait_for_url(lambda url: "unit=degF" in url)
    rest(page)


def start_job(page, base, typed="P0118", found="P0118"):
    """From the first screen to a new job; its id, taken from the address."""
    page.goto(base)
    page.get_by_label("Trouble code, symptom or sensor").press_sequentially(typed, delay=15)
    tap(page, found)
    page.get_by_role("button", name="Start this job").first.click()
    page.get_by_role("heading", name="What the circuit is taken to be").wait_for()
    rest(page)
    return job_in(page)


def job_in(page):
    """The job id in the address, which a busy browser shows a moment after the screen."""
    page.wait_for_url(lambda url: "job=" in url)
    return page.url.split("job=")[1].split("&")[0]


def describe_circuit(page, points):
    """Type what the vehicle's diagram says: 5 V, 2.2 kohm, two `points` of the curve, 70 degF around."""
    page.get_by_text("I know it better").click()
    type_in(page, "Input resistor (ohms)", "2.2k")
    type_in(page, "Reference volts", "5")
    type_in(page, "Or its own points", points)
    type_in(page, "Temperature around the sensor", "70")
    save(page, "Save what is known")


def describe_stand_in(page):
    """Type the stand-in in hand: 9.4 kohm end to end."""
    type_in(page, "Ohms end to end, as measured", "9.4k")
    save(page, "Save the stand-in")


def wanted_test(page, kb, sensor):
    """Id of the test the screen asks for, or None when it asks for none."""
    # The screen keeps ": item" from being read as a symbol's name with an unseen word joiner.
    shown = [text.replace("\u2060", "") for text in page.locator("h3").all_inner_texts()]
    return next((kind.id for kind in kb.tables.tests if kb.test(kind.id, sensor).label in shown), None)


def next_wanted(page, kb, sensor):
    """The test asked for once the screen has drawn it, or None when it says Found instead."""
    for _ in range(MOST_WAITS):
        if page.get_by_role("heading", name="Found", exact=True).count():
            return None
        open_lock(page)
        if test := wanted_test(page, kb, sensor):
            # What stood there may have been the screen before; two looks that agree are of one screen.
            rest(page)
            if wanted_test(page, kb, sensor) == test:
                return test
        # A busy machine may rest between one screen and the next.
        page.wait_for_timeout(250)
    raise AssertionError(f"neither a verdict nor a test on {page.locator('h2, h3').all_inner_texts()}")


def open_lock(page):
    """Say that the diagram names the pins, where a test waits for that."""
    button = page.get_by_role("button", name="The diagram names the pins")
    if button.count():
        button.click()
        page.get_by_text("Pins known from the diagram.").first.wait_for()
        rest(page)


def answer_step(page, vehicle, test, number):
    """Do what is asked on `vehicle` and save it as reading `number`."""
    ohm = page.get_by_label("Ohms on the stand-in, as measured")
    set_to = ohm.input_value() if ohm.count() else ""
    if ohm.count() and not set_to:
        set_to = "1000"
        type_in(page, "Ohms on the stand-in, as measured", set_to)
    for field, text in vehicle.answer(test, float(set_to) if set_to else None).items():
        if field == "good":
            page.get_by_text(text, exact=True).click()
        else:
            type_in(page, NUMBER_FIELDS[field], text)
    page.get_by_role("button", name="Save the reading").click()
    page.get_by_text(f"Saved. {number} reading").first.wait_for()
    rest(page)


def work_to_verdict(page, kb, vehicle, sensor="coolant-temperature"):
    """Answer step after step until the screen says Found; the tests asked for, in order."""
    asked = []
    for number in range(1, MOST_STEPS + 1):
        test = next_wanted(page, kb, sensor)
        if test is None:
            return asked
        answer_step(page, vehicle, test, number)
        asked.append(test)
    raise AssertionError(f"no verdict after {asked}")
