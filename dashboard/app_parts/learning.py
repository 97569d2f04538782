"""The button that learns the forecasts from the jobs in the book, where a page finds that nobody has yet."""

from __future__ import annotations

import streamlit as st

from dashboard import data
from dashboard.app_parts import frame


def offer_training(build: str, key: str) -> None:
    """Say that the forecasts are not learnt yet from this build, and learn them at the press of a button."""
    frame.instead(
        "The forecasts have not been learnt from these jobs yet.",
        "It takes under a minute for a thousand jobs, and is needed once after each time files are handed in.",
    )
    if not st.button("Learn from these jobs", type="primary", key=key):
        return
    bar = st.progress(0.0, "Learning, and testing on later jobs")

    def show(done: int, steps: int) -> None:
        bar.progress(done / steps, "Learning, and testing on later jobs")

    data.train(build, show)
    st.rerun()
