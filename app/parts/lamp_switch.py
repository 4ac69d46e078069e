"""Owns finding where a lamp switches, beside the refusal of its thermistor: trials typed, what to try next, what the sensor must reach."""

import streamlit as st

from app import sentences, typed, wording
from app.parts import problem
from engine.errors import OhmwrightError
from engine.lamp_switch import USUAL_FEED_V, bracket, series_ohm, thermistor


def show(mark: str) -> None:
    """The fields and what they come to; `mark` keeps the fields of one card apart from another's."""
    with st.expander("Find where the lamp switches", icon=":material/lightbulb:"):
        tried = st.text_area("Ohms tried, one a line: ohms, then lit or dark", max_chars=2000, key=f"lamp-tried-{mark}",
                             placeholder="56 lit\n68 dark")
        st.text("Volts over the resistor at one of them give what is in series with it.")
        ohm = st.text_input("At these ohms", max_chars=40, placeholder="160", key=f"lamp-at-{mark}")
        drop_v = st.number_input("Volts over the resistor", value=None, min_value=0.0, max_value=60.0, step=0.1, format="%g",
                                 key=f"lamp-drop-{mark}", placeholder="not measured")
        feed_v = st.number_input("Volts of the feed", value=USUAL_FEED_V, min_value=0.5, max_value=60.0, step=0.1, format="%g",
                                 key=f"lamp-feed-{mark}")
        st.text("The thermistor itself, once its ohms under its own working current have settled:")
        in_air = st.text_input("In air (ohms)", max_chars=40, placeholder="not measured", key=f"lamp-air-{mark}")
        in_liquid = st.text_input("In liquid (ohms)", max_chars=40, placeholder="not measured", key=f"lamp-liquid-{mark}")
        try:
            found = bracket(typed.trials(tried))
            st.info(wording.plain(sentences.lamp(found, feed_v)), icon=":material/lightbulb:")
            at = typed.ohms_or_none(ohm, "the ohms on the lamp's wire")
            if at is not None and drop_v is not None:
                st.text(f"In series with it: about {wording.ohms(series_ohm(at, drop_v, feed_v))}.")
            own = [typed.ohms_or_none(text, "the thermistor's ohms") for text in (in_air, in_liquid)]
            if None not in own:
                st.text(sentences.LAMP_SENSOR[thermistor(found, *own)])
        except OhmwrightError as mistake:
            problem.show(mistake)
