"""Parts of "Job book": debris curves of many jobs overlaid, or group beside group."""

from __future__ import annotations

from hashlib import blake2b
from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard import data, groupings, theme
from dashboard.app_parts import frame
from dashboard.app_parts.book import book_parts
from dashboard.figures import debris_curves as figures
from dashboard.kept import kept as once
from dashboard.kept import still
from dashboard.words import wording
from models.catch.band import MOST_JOBS, minutes_to, totals
from models.refusals import NotEnoughData

if TYPE_CHECKING:
    import plotly.graph_objects as go
    from streamlit.delta_generator import DeltaGenerator

CURVES_DRAWN = 200
"""More thin lines than this are one grey patch, and slow on a phone."""
PANEL_CURVES = 60
SHARE = "Share of total"
OUTERMOST = "the outermost run off the frame."
SIMILAR = "The bands hold half and 8 in 10 of the similar jobs: same system, emitters within 3."
EFFORT = (
    "Bad systems get the most effort, so these curves say what came, not what a practice does; the **Practice audit** "
    "weighs that up."
)


def draw_choices() -> tuple[groupings.Grouping | None, bool]:
    """By what to compare (None: nothing), and whether curves are shares of each job's total."""
    by = st.pills("Compare by", list(groupings.GROUPINGS), key="book_by", bind="query-params")
    view = st.segmented_control("Curves in", ["Kilograms", SHARE], default="Kilograms", key="book_view", required=True)
    return groupings.GROUPINGS[by] if by else None, view == SHARE


def draw_overlay(build: str, kept: pd.DataFrame, job: pd.Series, *, is_share: bool) -> None:
    """Curves of many jobs over the band of those that are like `job`, which is drawn strong."""
    look, some = frame.current_look(), blake2b(kept["job_place"].to_numpy().tobytes()).digest()
    key = ("overlay", build, some, int(job["job_place"]), is_share, look)
    figure, alt, rows, words = once(key, lambda: _overlay(build, kept, job, look, is_share=is_share))
    frame.chart(figure, key="book_curves", alt=alt, rows=rows, file_name="jobs.csv")
    frame.small(words)


def _overlay(
    build: str, kept: pd.DataFrame, job: pd.Series, look: theme.Look, *, is_share: bool
) -> tuple[go.Figure, str, pd.DataFrame, str]:
    """The figure, what it says, the jobs as a table, and what is to be known of it."""
    lines = data.curves_of(build, kept, is_share=is_share, most=CURVES_DRAWN)
    chosen = _chosen(build, job, is_share=is_share)
    try:
        band = data.catch_band(build, kept[groupings.similar_mask(kept, job)], is_share=is_share)
        beside = f"{SIMILAR}{_sampled(band.jobs)}"
    except NotEnoughData as refusal:
        band, beside = None, f"No band of similar jobs is drawn. {refusal}"
    extent = figures.frame_of(lines, is_share=is_share, chosen=chosen, bands=() if band is None else (band,))
    runs_off = bool((lines.last_x() > extent.longest).any() or (totals(lines) > extent.top).any())
    return (
        still(figures.overlay_figure(lines, band, chosen, extent, look)),
        figures.overlay_alt(lines.size.size, band, chosen, extent),
        book_parts.browse_rows(kept),
        f"{_drawn(lines.size.size, len(kept), runs_off=runs_off)} {beside}",
    )


def draw_panels(
    build: str, kept: pd.DataFrame, job: pd.Series, grouping: groupings.Grouping, *, is_share: bool
) -> None:
    """A panel a group, on the same axes, two abreast on a desk and one below the other on a phone."""
    group_of = grouping.of(kept)
    try:
        everyone = data.catch_band(build, kept, is_share=is_share)
    except NotEnoughData as refusal:
        frame.instead(str(refusal), "Take a choice above off, or hand in more jobs.")
        return
    panels, missing = [], []
    for name in grouping.groups:
        rows = kept[(group_of == name).to_numpy()]
        try:
            panels.append(_panel(build, name, rows, job, is_share=is_share))
        except NotEnoughData as refusal:
            missing.append(f"{name} ({refusal.found})")
    bands = tuple(panel.band for panel in panels)
    extent = figures.frame_of(data.curves_of(build, kept.iloc[:0]), is_share=is_share, bands=(everyone, *bands))
    roomiest = max(panels, key=lambda panel: (panel.band.p90[-1], panel.band.minutes[-1]), default=None)
    columns: list[DeltaGenerator] = []
    for panel in panels:
        columns = columns or list(st.columns(2))  # a row at a time, so that a phone keeps the order
        with columns.pop(0):
            st.markdown(f"**{_capital(panel.name)}**: {figures.band_words(panel.band, extent)}")
            st.plotly_chart(
                figures.panel_figure(panel, everyone, extent, frame.current_look(), is_named=panel is roomiest),
                key=f"book_panel_{panel.name}",
                alt=figures.panel_alt(panel, everyone, extent),
                theme=None,
                config=theme.SETTINGS,
            )
    _below(kept, group_of, missing, grouping, everyone.jobs)
    rows = _rows(build, kept, group_of, grouping)
    with st.expander("The same as a table", key="book_panels_table", type="compact"):
        frame.table(rows, key="book_panels", file_name="groups.csv", alt="Each group of jobs in figures")


def _panel(build: str, name: str, rows: pd.DataFrame, job: pd.Series, *, is_share: bool) -> figures.Panel:
    band = data.catch_band(build, rows, is_share=is_share)
    lines = data.curves_of(build, rows, is_share=is_share, most=PANEL_CURVES)
    is_here = bool((rows["job_place"] == job["job_place"]).any())
    return figures.Panel(name, lines, band, _chosen(build, job, is_share=is_share) if is_here else None)


def _chosen(build: str, job: pd.Series, *, is_share: bool) -> figures.Chosen | None:
    curve = data.curves_of(build, job.to_frame().T.astype({"job_place": "int64"}), is_share=is_share)
    return figures.Chosen(str(job["job_id"]), curve) if curve.size.size else None


def _below(
    kept: pd.DataFrame, group_of: pd.Series, missing: list[str], grouping: groupings.Grouping, banded: int
) -> None:
    unknown = int(group_of.isna().sum())
    said = ["Bands hold half and 8 in 10 jobs of the group; dotted is the middle of all jobs." + _sampled(banded)]
    if missing:
        said.append(f"Too few jobs to draw: {wording.listed(missing)}.")
    if unknown:
        said.append(f"{wording.count(unknown, 'job')} left out: not written down.")
    frame.small(" ".join(said))
    if grouping.is_practice:
        frame.small(f":material/balance: {EFFORT}")


def _rows(build: str, kept: pd.DataFrame, group_of: pd.Series, grouping: groupings.Grouping) -> pd.DataFrame:
    """Each group in figures: jobs, kilograms, and the time by which the middle job had half of its own."""
    rows = []
    for name in grouping.groups:
        own = kept[(group_of == name).to_numpy()]
        kilos = own["magnetite_kg"].dropna()
        try:
            half = minutes_to(0.5, data.catch_band(build, own, is_share=True))
        except NotEnoughData:
            half = None
        low, middle, high = kilos.quantile([0.1, 0.5, 0.9]) if len(kilos) else (None, None, None)
        rows.append(
            {
                "Group": name,
                "Jobs": len(own),
                "Magnetite, middle [kg]": middle,
                "10 % under [kg]": low,
                "10 % over [kg]": high,
                "Half of it after [min]": half,
            }
        )
    return pd.DataFrame(rows).round(3)


def _drawn(lines: int, jobs: int, *, runs_off: bool) -> str:
    """Which of the jobs the thin lines show."""
    end = f"; {OUTERMOST}" if runs_off else "."
    if lines < jobs and lines == CURVES_DRAWN:
        return f"{lines} of {wording.count(jobs, 'job')} drawn, evenly over their dates{end}"
    return f"{wording.count(lines, 'job')} drawn{end}"


def _sampled(jobs: int) -> str:
    return f" They rest on {MOST_JOBS:,} jobs taken evenly over the dates." if jobs == MOST_JOBS else ""


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]
