"""Owns one step for the hand: what to do, how to connect it, what to beware of, and why this one."""

import streamlit as st

from app import hook_up, job_state, three_lead_drawing, wording
from app.parts import cautions, gauge, table
from engine.stand_in import set_to

_WHY = {"splits": "It tells apart:", "proof": "Nothing counts as found before it. It tells apart:",
        "reader": "One hook-up showed two numbers: the reader comes before anything on the vehicle. It clears or names:"}


def show(kb: object, job: object, kind: object, advice: object | None) -> None:
    """The test `kind` (engine TestKind); `advice` is the engine's for it, None when the technician insists on his own."""
    words = kb.test(kind.id, job.sensor)
    ohm = advice.ohm if advice else None
    st.subheader(wording.plain(words.label))
    if ohm is not None:
        st.metric("Set the stand-in to", wording.ohms(ohm), border=True)
        setting = set_to(job.stand_in, job.meter, ohm)
        if setting is not None and setting.parts:
            st.text(f"Take {wording.parts(setting.ohm, setting.parts)}, and measure what that makes.")
    if advice is not None and advice.ratio is not None:
        st.metric("Set the stand-in to", wording.ratio(advice.ratio), border=True)
        total = job.stand_in.end_to_end_ohm
        st.text(f"From the return leg to the wiper: {wording.ohms(advice.ratio * total)} of {wording.ohms(total)}." if total
                else "Ohms from the return leg to the wiper, over the ohms from end to end.")
    cautions.show(words.cautions)
    st.markdown("\n".join(f"{number}. {wording.plain(line)}" for number, line in enumerate(words.hand, 1)))
    # A level sender is fed from 5 V or from the battery: nothing is drawn that nobody said.
    gauge.show(job, kind, ohm)
    feed_v = job.circuit.open_v or (None if job.setup.quantity.unit == "percent" else 5.0)
    drawn = (three_lead_drawing.drawing(kind, advice.ratio if advice else None) if kind.pins == 3
             else hook_up.drawing(kind, ohm, one_wire=job.setup.case_grounded, feed_v=feed_v,
                                  reader="gauge" if job.circuit.pointer else "module"))
    st.image(drawn, width="stretch", alt=words.connect)
    st.text(f"{words.connect} {words.key} {wording.minutes(kind.minutes).capitalize()}.")


def why(kb: object, job: object, kind: object, advice: object | None) -> None:
    """Why this test, and what each place would make it show."""
    with st.expander("Why this one", icon=":material/help:"):
        st.text(kb.test(kind.id, job.sensor).proves)
        if advice is None:
            return
        if advice.splits:
            st.text(f"{_WHY[advice.why]} {wording.places(kb, advice.splits, job.sensor)}.")
        table.show(("If the fault is in", "it will show"),
                   [(wording.place(kb, location, job.sensor), wording.expected(value, advice.unit, job_state.unit_of(job)))
                    for location, value in sorted(advice.expect.items())])
