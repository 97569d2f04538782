"""The button that learns the forecasts from the jobs in the book, where a page finds that nobody has yet."""

from __future__ import annotations

import streamlit as st

from dashboard import data
from dashboard.app_parts import frame
from pipeline.contract.findings import SludgebookError

WORKING = "Learning, and testing on later jobs"
LOOKS_SECONDS = 2
"""How often a page that waits looks how far the learning is."""


def is_learnt(build: str, key: str) -> bool:
    """Whether the forecasts of this build can be used; if not, says why and learns them at the press of a button."""
    running = data.at_work()
    if running is not None:
        _look_on()
    missing = data.why_not_trained(build)
    if running is not None:
        return not missing
    if missing:
        frame.instead(missing, "Learning takes under a minute for a thousand jobs.")
        _offer(build, key, "Learn from these jobs")
    elif not data.is_own_model(build):
        st.caption("The forecasts were learnt before the newest files came in.")
        _offer(build, key, "Learn again", is_primary=False)
    return not missing


@st.fragment(run_every=LOOKS_SECONDS)
def _look_on() -> None:
    """How far the learning is that somebody else began; the page is drawn anew once it is done."""
    running = data.at_work()
    if running is None:
        st.rerun()
    st.progress(min(1.0, running.done / max(1, running.of)), f"{running.what}: {WORKING.lower()}")


def _offer(build: str, key: str, label: str, *, is_primary: bool = True) -> None:
    if st.button(label, type="primary" if is_primary else "secondary", key=key):
        bar = st.progress(0.0, WORKING)

        def show(done: int, steps: int) -> None:
            bar.progress(done / steps, WORKING)

        try:
            data.train(build, show)
        except SludgebookError as problem:
            frame.instead(problem.sentence)
            return
        st.rerun()
