"""The button that learns the forecasts from the jobs in the book, where a page finds that nobody has yet."""

from __future__ import annotations

import streamlit as st

from dashboard import data
from dashboard.app_parts import frame

WORKING = "Learning, and testing on later jobs"


def is_learnt(build: str, key: str) -> bool:
    """Whether the forecasts of this build can be used; if not, says why and learns them at the press of a button."""
    missing = data.why_not_trained(build)
    if not missing:
        return True
    frame.instead(missing, "Learning takes under a minute for a thousand jobs, once each time files were handed in.")
    if st.button("Learn from these jobs", type="primary", key=key):
        bar = st.progress(0.0, WORKING)

        def show(done: int, steps: int) -> None:
            bar.progress(done / steps, WORKING)

        data.train(build, show)
        st.rerun()
    return False
