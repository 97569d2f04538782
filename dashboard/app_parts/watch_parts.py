"""Parts of "Watch the catch": which job, as of when, the answer, the house, and emitter by emitter."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard import data
from dashboard.app_parts import frame
from dashboard.app_parts.book.book_parts import choose_job
from dashboard.figures import watch_the_catch as figures
from dashboard.figures.watch_strips import add_strips, strips_alt, strips_of
from dashboard.kept import Same, kept, made, still
from dashboard.words import wording
from dashboard.words.literal import literal

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from dashboard.theme import Look
    from models.catch.records.job import JobCatch
    from models.catch.records.watch_result import Watch


LATEST_HOUR = 20
"""The answer tells no clock times after it: a crew still on site then is rare (common practice, no source)."""
UNKNOWN = "not yet"
"""Stands where a figure will be, once there are weighings enough."""
TODAY, BACK = "Today's job", "Looking back"


def is_today() -> bool:
    """Let the state of the page be chosen: the job in progress, or a finished one. An open job comes first."""
    first = TODAY if data.open_jobs() or data.shelf().state != "ready" else BACK
    chosen = st.segmented_control(
        "Which job",
        [TODAY, BACK],
        default=first,
        key="watch_state",
        required=True,
        width="stretch",
        label_visibility="collapsed",
    )
    return chosen == TODAY


def job_from_book(jobs: pd.DataFrame, build: str) -> JobCatch:
    """Let a job of the book be picked, the newest first."""
    weighed = jobs[jobs["magnet_catches"].fillna(0) > 0].reset_index(drop=True)
    if weighed.empty:
        frame.instead("No job in this book has a weighing yet.", "Hand in `catches` too, or weigh on site.")
        st.stop()
    job = choose_job(weighed, "watch")
    return data.job_of_book(build, job["firm_id"], job["job_id"])


def moment(job: JobCatch) -> datetime:
    """Let the moment be chosen at which the job is looked at: each weighing, and the end."""
    from models.catch.records.flush_clock import clock_at, minutes_at

    last = minutes_at(job.days, job.last_at)
    minutes = sorted({catch.minutes for catch in job.magnet_catches()} | {last})
    if len(minutes) < 2:
        return job.last_at
    stops = {m: clock_at(job.days, job.last_at, last, m) for m in minutes}
    chosen = st.select_slider(
        "As it stood at",
        minutes,
        minutes[-1],
        key=f"watch_at_{job.firm_id}_{job.job_id}_{len(minutes)}",
        format_func=lambda m: f"{wording.clock(stops[m], job.started_at)} ({wording.duration(m)})",
    )
    return stops[chosen]


def draw_answer(watch: Watch, most_notes: int | None = None) -> None:
    """What to do now, in the model's own sentence, the first `most_notes` warnings, and the three figures behind it."""
    frame.answer(watch.answer)
    frame.notes(watch.findings[:most_notes])
    left = wording.kilograms(max(0.0, watch.remaining_kg.p50)) if watch.remaining_kg else UNKNOWN
    with st.container(horizontal=True, gap="medium"):
        st.metric("Caught, dry", wording.kilograms(watch.caught_kg), width="content")
        st.metric("Left, likely", left, width="content")
        st.metric(*_until(watch), width="content")
        if watch.one_more_hour is not None and not watch.is_finished:
            hour = watch.one_more_hour
            costs = f"One more hour, {wording.money(hour.cost, hour.currency)}"
            st.metric(costs, wording.kilograms(hour.expected_kg.p50), width="content")


def _until(watch: Watch) -> tuple[str, str]:
    """Until when, by the forecast that the answer above stands on: the crew's likely end where past jobs tell of it,
    else when the curve levels off."""
    if watch.is_finished:
        return "Level at", _levels_off(watch)
    if watch.minutes_left is None:
        return "Levels off", _levels_off(watch)
    ends = watch.at + timedelta(minutes=watch.minutes_left.p50)
    is_today = ends <= watch.at.replace(hour=LATEST_HOUR, minute=0, second=0, microsecond=0)
    return "Likely end", wording.clock(ends, watch.at) if is_today else "not today"


def _levels_off(watch: Watch) -> str:
    if watch.level_off_at is None or watch.level_off_minutes is None:
        return UNKNOWN
    if watch.level_off_minutes.p50 <= watch.minutes:
        return "already"
    return wording.clock(watch.level_off_at["p50"], watch.at)


def draw_house(job: JobCatch, watch: Watch, readings: pd.DataFrame) -> None:
    """The house curve with flow and heat below, and its numbers behind it. `readings`: rows of the job log."""
    look = frame.current_look()
    figure, words, rows = kept(("house", Same(job), Same(watch), look), lambda: _house(job, watch, readings, look))
    frame.chart(figure, key="watch_house", alt=words, rows=rows, file_name=f"catch_{watch.job_id}.csv")


def _house(job: JobCatch, watch: Watch, readings: pd.DataFrame, look: Look) -> tuple[go.Figure, str, pd.DataFrame]:
    from models.catch.records.flush_clock import minutes_at
    from models.catch.records.job import house_curve

    known = job.known_at(watch.at, minutes_at(job.days, watch.at))
    minutes, kg = house_curve(known)
    rows = pd.DataFrame({"Flush time [min]": minutes.round(1), "Magnetite caught, dry [kg]": kg.round(3)})
    strips = strips_of(job, readings, watch)
    figure = still(add_strips(figures.house_figure(known, watch, look), strips, look))
    return figure, f"{figures.house_alt(watch)} {strips_alt(strips)}".strip(), rows


def draw_emitters(job: JobCatch, watch: Watch) -> None:
    """Emitter by emitter: what is left behind each, or each one's own curve."""
    from models.catch.records.flush_clock import minutes_at

    if not watch.emitters:
        return
    st.header("Emitter by emitter", anchor=False)
    if not any(emitter.catches for emitter in watch.emitters):
        st.markdown("No weighing belongs to one emitter: the flow was on the whole system each time.")
        return
    if watch.where_next:
        st.markdown(f"**{literal(watch.where_next)}**")
    view = st.segmented_control(
        "View",
        ["What is left", "Curves"],
        default="What is left",
        key="watch_view",
        required=True,
        label_visibility="collapsed",
    )
    look = frame.current_look()
    rows = made(watch_rows, watch)
    alt = made(figures.emitters_alt, watch.emitters)
    if view == "Curves":
        known = job.known_at(watch.at, minutes_at(job.days, watch.at))
        figure = figures.emitter_curves_figure(known, watch.emitters, look)
    else:
        figure = made(figures.emitters_figure, watch.emitters, look)
        frame.small("Full: caught. Light: still expected, likely. Lightest: could be.")
    frame.chart(figure, key=f"watch_emitters_{view}", alt=alt, rows=rows, file_name=f"emitters_{watch.job_id}.csv")
    with st.expander("In words", icon=":material/notes:"):
        for emitter in watch.emitters:
            st.markdown(f"**{emitter.emitter_no}** · {literal(emitter.sentence)}")


def watch_rows(watch: Watch) -> pd.DataFrame:
    """Emitter by emitter as a table."""
    return pd.DataFrame(list(figures.watch_rows(watch)))


def draw_hour(watch: Watch) -> None:
    """What one more hour would bring, and what it costs."""
    hour = watch.one_more_hour
    if hour is None:
        return
    st.header("One more hour", anchor=False)
    each = "" if hour.cost_per_kg is None else f", {wording.money(hour.cost_per_kg, hour.currency)} a kilogram"
    st.markdown(
        f"It would bring about **{wording.kilograms_range(hour.expected_kg)}** and costs "
        f"{wording.money(hour.cost, hour.currency)}{each}."
    )
    change = hour.callback_change
    if change is not None:
        fewer = [-100 * value for value in (change.middle, change.high, change.low)]
        st.markdown(
            f"By the practice audit that avoids {fewer[0]:.1f} debris callbacks in 100 such jobs ({fewer[1]:.1f} to "
            f"{fewer[2]:.1f}) within {change.horizon_days} days."
        )


def draw_basis(job: JobCatch, watch: Watch) -> None:
    """What the answer rests on, and the caution for work with hot water and magnets."""
    from models.catch.exhaustion.exhaustion_forecast import is_by_emitter

    st.header("What this rests on", anchor=False)
    weighings = wording.count(sum(c.minutes <= watch.minutes + 0.02 for c in job.magnet_catches()), "magnet weighing")
    if is_by_emitter(job):
        how = "the flow was on one emitter at a time, so each emitter's curve is read by itself"
    elif watch.fit is None:
        how = "too few for a curve yet"
    else:
        how = f"the curve has come {wording.share(watch.fit.share_reached)} of the way to where it levels off"
    st.markdown(f"{weighings} of this job up to {wording.clock(watch.at)}: {how}. Masses are dry.")
    frame.caution("Hot water scalds: cool and depressurise before a trap is opened. Keep magnets away from pacemakers.")
