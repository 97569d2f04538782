"""The job in progress on a phone: what to do now, what was entered, the picture, and the way to the end of it."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import streamlit as st

from dashboard import data
from dashboard.app_parts import frame, watch_parts
from dashboard.app_parts.on_site.end import draw_again, draw_finish, draw_received
from dashboard.app_parts.on_site.entry import draw_entry
from dashboard.app_parts.on_site.more import draw_more
from dashboard.app_parts.on_site.phone import ask_the_phone
from dashboard.app_parts.on_site.saving import TURNED
from dashboard.app_parts.on_site.start import JOB, draw_start
from dashboard.services.on_site import as_of
from dashboard.words import wording
from dashboard.words.entry_words import place
from dashboard.words.literal import literal
from models.refusals import Refusal
from pipeline.contract.findings import BadInput, SludgebookError

if TYPE_CHECKING:
    from dashboard.data import SiteJob

PHONE_PAGE = "/phone/"
"""A page of its own that goes on without signal: `dashboard.phone`."""
OTHERS_SECONDS = 4
"""How often a phone looks whether another one has entered something."""
MOST_WARNINGS = 2
"""More than this are not read with wet hands; the others stand below the picture."""


def draw_today() -> None:
    """Today's job: the one that is open, or the form to begin one; from its top where that has just changed."""
    st.link_button("The page for the phone", PHONE_PAGE, icon=":material/smartphone:")
    (place_below,) = frame.from_the_top(1, is_new=st.session_state.pop(TURNED, False))
    with place_below:
        _draw_today()


def _draw_today() -> None:
    ask_the_phone()
    shelf = data.shelf()
    if shelf.state in ("not_named", "broken"):
        frame.instead(shelf.sentence)
        return
    jobs = {job.name: job for job in data.open_jobs()}
    draw_received(jobs)
    if not jobs:
        st.header("Begin the job, then weigh each catch.", anchor=False)
        draw_start()
        draw_again()
        return
    job = _chosen(jobs)
    if job.finish is not None:
        draw_finish(job, 0)
        return
    _draw_open(job)
    with st.expander("Begin another job", icon=":material/add:", key="site_another", on_change="rerun"):
        draw_start()
    draw_again()


def _chosen(jobs: dict[str, SiteJob]) -> SiteJob:
    if st.session_state.get(JOB) not in jobs:
        st.session_state[JOB] = next(iter(jobs))
    if len(jobs) > 1:
        st.selectbox(
            "Job",
            list(jobs),
            key="site_chosen",
            index=list(jobs).index(st.session_state[JOB]),
            on_change=_choose,
            filter_mode=None,
        )
    return jobs[st.session_state[JOB]]


def _choose() -> None:
    st.session_state[JOB] = st.session_state["site_chosen"]


def _draw_open(job: SiteJob) -> None:
    """The answer, the buttons, the picture. Whatever goes wrong with the answer, the buttons are there."""
    now = as_of(job, datetime.now())
    emitters = wording.count(len(job.emitter_numbers), "emitter")
    here = literal(place(job.focus, job.room(job.focus)))
    frame.small(f"**{literal(job.name)}** · flow on {here} · {emitters}")
    try:
        if fault := data.times_at_fault(job):
            raise BadInput(f"Nothing can be worked out: {fault}. Finish the job below, with its right times.")
        view = data.site_view(str(data.book().path), job.name, job.lines, now)
        watch = data.watch(view.job, now)
    except (Refusal, SludgebookError) as problem:
        frame.instead(str(problem), "Go on weighing: entries are saved all the same.")
        draw_entry(job)
        draw_more(job)
        draw_finish(job, len(job.all_of("reading")))
        return
    if job.all_of("catch"):
        watch_parts.draw_answer(watch, most_notes=MOST_WARNINGS)
    else:
        frame.answer(f"Flow since {wording.clock(view.job.started_at, now)}. Weigh the first catch.")
    draw_entry(job)
    _look_for_others(job.name, job.lines)
    if job.all_of("catch"):
        watch_parts.draw_house(view.job, watch, view.readings)
        watch_parts.draw_emitters(view.job, watch)
        watch_parts.draw_hour(watch)
    frame.notes((*watch.findings[MOST_WARNINGS:], *view.findings))
    draw_more(job)
    draw_finish(job, len(view.readings))
    frame.caution("Hot water scalds: cool and depressurise before a trap is opened. Keep magnets away from pacemakers.")


@st.fragment(run_every=OTHERS_SECONDS)
def _look_for_others(name: str, lines: int) -> None:
    """Draw the page again once another phone has entered something."""
    try:
        has_more = data.site_job(name).lines != lines
    except SludgebookError:
        return
    if has_more:
        st.rerun()
