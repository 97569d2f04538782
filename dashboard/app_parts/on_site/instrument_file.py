"""An instrument's file for today's job: attached, its headings asked once where nobody knows them yet."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import uuid4

import streamlit as st

from dashboard import data
from dashboard.app_parts import frame
from dashboard.app_parts.on_site.phone import phone
from dashboard.app_parts.on_site.saving import SAID, Said, is_double_tap, note_saved
from dashboard.words import wording
from dashboard.words.literal import literal
from pipeline.contract.findings import SludgebookError

if TYPE_CHECKING:
    from dashboard.data import AskedHeading

FILE, ASKED = "site_file", "site_file_asked"
NOT_USED = "Not used"
KINDS = ["csv", "txt", "xlsx", "tsv"]


def draw_file(job: str) -> None:
    """The file, and below it the questions about its headings while there are any."""
    asked = _open_questions(job)
    with st.expander("Instrument file", icon=":material/attach_file:", key="site_file_part"):
        st.file_uploader("Readings of today, such as a logger's CSV", key=FILE, type=KINDS)
        if asked:
            st.markdown("**What are its headings?**")
            frame.small("Say it once: the next file of this kind is read by itself.")
            for number, each in enumerate(asked):
                _ask(number, each)
        st.button(
            "Attach it",
            key="site_attach",
            width="stretch",
            on_click=_attach,
            args=(job, asked),
            disabled=st.session_state.get(FILE) is None,
        )


def _open_questions(job: str) -> tuple[AskedHeading, ...]:
    """What has to be answered about the file that is chosen now."""
    file = st.session_state.get(FILE)
    of_job, of_file, asked = st.session_state.get(ASKED) or ("", "", ())
    return asked if file is not None and (job, file.file_id) == (of_job, of_file) else ()


def _ask(number: int, asked: AskedHeading) -> None:
    words = {"": NOT_USED, **dict(asked.choices)}
    label = f"“{asked.heading}”: {', '.join(asked.samples)}"
    st.selectbox(
        literal(label),
        list(words),
        list(words).index(asked.proposed),
        format_func=words.__getitem__,
        key=f"site_heading_{number}",
        filter_mode=None,
    )


def _attach(job: str, asked: tuple[AskedHeading, ...]) -> None:
    file = st.session_state.get(FILE)
    if file is None or is_double_tap("files"):
        return
    state = st.session_state
    answers = {each.heading: str(state.get(f"site_heading_{n}") or "") for n, each in enumerate(asked)}
    state.pop(SAID, None)
    try:
        found = data.attach(job, file.name, file.getvalue(), uuid4().hex, phone(), answers or None)
    except SludgebookError as problem:
        state[SAID] = Said(problem.sentence, is_saved=False)
        return
    if isinstance(found, int):
        state.pop(ASKED, None)
        note_saved("files")
        state[SAID] = Said(f"Saved {file.name}: {wording.count(found, 'reading')}", is_saved=True)
        return
    state[ASKED] = (job, file.file_id, found)
    for number in range(len(found)):
        state.pop(f"site_heading_{number}", None)  # answers about another file
