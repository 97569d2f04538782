"""Which phone this is, and what its clock says: the one small script of the pages, since only a browser knows."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import streamlit as st

from dashboard import data

_TOLD = "site_phone_told"
_SCRIPT = """
export default function ({ setStateValue }) {
    let id = null;
    try { id = localStorage.getItem("sludgebook-phone"); } catch (blocked) { id = null; }
    if (!id) {
        id = Math.random().toString(36).slice(2, 10);
        try { localStorage.setItem("sludgebook-phone", id); } catch (blocked) { /* a private window: new each time */ }
    }
    const now = new Date();
    const local = new Date(now.getTime() - now.getTimezoneOffset() * 60000).toISOString().slice(0, 19);
    setStateValue("told", id + " " + local);
}
"""


def ask_the_phone() -> None:
    """Ask the browser once a visit which device it is and what its clock says."""
    if _TOLD not in st.session_state:
        _hear(getattr(_component()(key="site_phone", on_told_change=_listen), "told", None))


def phone() -> data.Phone:
    """The device as it told, its clock carried on from then; an empty one while it has told nothing."""
    known: tuple[str, timedelta] | None = st.session_state.get(_TOLD)
    return data.Phone() if known is None else data.Phone(known[0], datetime.now() + known[1])


def _listen() -> None:
    """Something was told: read when the page is drawn next."""


def _hear(told: Any) -> None:
    """Keep the device and how far its clock is ahead of this computer's, once the browser has told them."""
    device, _, clock = str(told or "").partition(" ")
    try:
        ahead = datetime.fromisoformat(clock) - datetime.now()
    except ValueError:
        return
    st.session_state[_TOLD] = (device[:20], ahead)


def _component() -> Any:
    return st.components.v2.component("sludgebook_phone", js=_SCRIPT)
