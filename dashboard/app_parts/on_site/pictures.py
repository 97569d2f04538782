"""Photographs of today's job: taken or chosen on the phone, what each shows, and those that are there already."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import uuid4

import streamlit as st

from dashboard import data
from dashboard.app_parts import frame
from dashboard.app_parts.on_site.phone import phone
from dashboard.app_parts.on_site.saving import SAID, Said, is_double_tap, note_saved
from dashboard.words import wording
from dashboard.words.entry_words import place
from dashboard.words.literal import literal
from pipeline.contract.findings import SludgebookError
from pipeline.contract.photographs import SHOWN

if TYPE_CHECKING:
    from dashboard.data import SiteJob

PHOTO, SHOWS, OF_EMITTER, ROUND = "site_photo", "site_photo_shows", "site_photo_emitter", "site_photo_round"
KINDS = ["jpg", "jpeg", "png", "webp"]


def draw_photographs(job: SiteJob) -> None:
    """Behind a line to open: a phone offers its camera where a file is asked for."""
    taken = job.all_of("photograph")
    title = f"Photographs ({len(taken)})" if taken else "Photographs"
    with st.expander(title, icon=":material/photo_camera:", key="site_photo_part", on_change="rerun") as part:
        frame.small(
            "Place, device and file name are left out. No people, please: they would be on the client's report."
        )
        key = f"{PHOTO}_{st.session_state.get(ROUND, 0)}"  # another field once one is saved: the old one keeps its file
        st.file_uploader("Take or choose one", key=key, type=KINDS)
        st.selectbox("It shows", SHOWN, None, key=SHOWS, format_func=wording.plain, filter_mode=None)
        st.selectbox(
            "Which emitter",
            job.emitter_numbers,
            None,
            key=OF_EMITTER,
            format_func=lambda number: literal(place(number, job.room(number))),
            placeholder="None in particular",
            filter_mode=None,
        )
        chosen = st.session_state.get(key)
        ready = chosen is not None and st.session_state.get(SHOWS) is not None
        st.button(
            "Keep this photograph",
            key="site_keep_photo",
            width="stretch",
            disabled=not ready,
            on_click=_attach,
            args=(job.name, key),
        )
        if part.open:
            _draw_taken(job)


def _draw_taken(job: SiteJob) -> None:
    for column, each in zip(st.columns(2) * 20, reversed(data.photographs(job.name)), strict=False):
        caption = f"{wording.plain(each.shows)}, {place(each.emitter_no, job.room(each.emitter_no))}, {each.at:%H:%M}"
        column.image(each.jpeg, caption=literal(caption), width="stretch")


def _attach(name: str, key: str) -> None:
    state = st.session_state
    file = state.get(key)
    if file is None or is_double_tap("photograph"):
        return
    try:
        data.attach_photograph(name, file.getvalue(), state[SHOWS], state.get(OF_EMITTER), uuid4().hex, phone())
    except SludgebookError as problem:
        state[SAID] = Said(problem.sentence, is_saved=False)
    else:
        state[SAID] = Said(f"Saved: a photograph of {wording.plain(state[SHOWS])}.", is_saved=True)
        note_saved("photograph")
        state[ROUND] = state.get(ROUND, 0) + 1
        state[SHOWS] = state[OF_EMITTER] = None
