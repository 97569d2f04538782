"""How far something is that a page waits for, drawn anew until it is done; then the page is drawn as a whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboard import data

if TYPE_CHECKING:
    from dashboard.data import NotYet

LOOKS_SECONDS = 1


def wait_for(pending: NotYet, what: str) -> None:
    """Say how far `what` is, in the place of what will come."""
    _look_on(pending, what)


@st.fragment(run_every=LOOKS_SECONDS)
def _look_on(pending: NotYet, what: str) -> None:
    found = data.how_far(pending.key)
    if found is None:
        st.rerun()
    done, of, other = found
    if of:
        st.progress(min(1.0, done / of), f"{what}: step {min(done + 1, of)} of {of}")
    else:
        st.progress(0.0, f"{what}: waits until this is done: {other.lower()}" if other else f"{what}: begins")
