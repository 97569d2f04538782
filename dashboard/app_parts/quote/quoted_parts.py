"""Parts of "Quoted and done": the answer, the groups, and the quotes kept in the book."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard import data
from dashboard.app_parts import frame
from dashboard.figures import quoted_and_done as figures
from dashboard.kept import Same, kept, made
from dashboard.words import wording
from pipeline.contract.findings import SludgebookError

if TYPE_CHECKING:
    from models.quote.pricing.track_record import By, GroupRecord, TrackRecord
    from pipeline.contract.firm import Firm

GROUPS: dict[str, By] = {"Size of system": "size", "Engineer": "engineer", "Month": "month"}
MOST_MONTHS = 18
KEPT_HEADS = {
    "quote_id": "Quote",
    "job_id": "Job",
    "status": "State",
    "price": "Price before tax",
    "currency": "Currency",
    "site_minutes_p50": "Time on site [min]",
    "magnetite_p50": "Magnetite [kg]",
    "kept_at": "Kept",
    "valid_until": "Valid until",
}
"""Columns of the quotes kept, and how the page heads them."""


def draw_answer(record: TrackRecord, firm: Firm) -> None:
    """How prices held, in one sentence, and where too little was asked."""
    over = record.minutes_over
    direction = "longer" if over > 0 else "shorter"
    sizes = [group for group in record.groups if group.by == "size"]
    lost = [group.name for group in sizes if group.is_underpriced]
    whole = "every size of system" if len(lost) == len(sizes) > 1 else f"systems of {wording.listed(lost)}"
    where = f" Too little is asked for {whole}." if lost else ""
    left = record.kept_share
    told = (
        f"{wording.share(left)} of the money asked was left"
        if left >= 0
        else (f"the work cost {wording.share(-left)} more than was asked")
    )
    frame.answer(
        f"{wording.share(record.loss_share)} of jobs cost more than their price; the middle job took "
        f"{wording.duration(abs(over))} {direction} than quoted.{where}",
        f"{wording.count(len(record.jobs), 'job')} with a price and a time on site, at today's rates of firm.toml; "
        f"{told}; {wording.share(firm.target_margin_share)} is to be left.",
    )
    if record.minutes_inside is not None:
        inside = f"Of {wording.count(record.ranged_jobs, 'job')} quoted with a range for 8 in 10, "
        kilos = record.kilograms_inside
        st.markdown(
            f"{inside}{wording.share(record.minutes_inside)} stayed inside it in time"
            + (f" and {wording.share(kilos)} in kilograms." if kilos is not None else ".")
        )


def draw_groups(record: TrackRecord, firm: Firm) -> None:
    """What was left of the price, by size, engineer or month."""
    st.header("Where prices hold", anchor=False)
    chosen = st.segmented_control("By", list(GROUPS), default=next(iter(GROUPS)), key="quoted_by")
    by = GROUPS[chosen or next(iter(GROUPS))]
    groups = kept(("groups", Same(record), by), lambda: groups_of(record, by))
    if not groups:
        frame.instead("Not known for enough jobs yet.", "A group is shown from 5 jobs on.")
        return
    frame.chart(
        made(figures.margin_figure, groups, firm.target_margin_share, frame.current_look()),
        key="quoted_margin",
        alt=made(figures.margin_alt, groups),
        rows=made(group_rows, groups),
        file_name="quoted_and_done.csv",
    )
    frame.small(
        "Mark: the group's figure, drawn towards the firm's where few jobs tell; line: 95 % interval. Groups under "
        "5 jobs stand together. No order of merit: who gets the bad systems is not allowed for here."
    )


def groups_of(record: TrackRecord, by: str) -> list[GroupRecord]:
    """The groups of one kind; of months the newest."""
    groups = [group for group in record.groups if group.by == by]
    return groups[-MOST_MONTHS:] if by == "month" else groups


def draw_every_job(record: TrackRecord) -> None:
    """Every job behind the answer, to save."""
    st.download_button(
        "Every job as CSV",
        lambda: frame.csv_bytes(record.jobs),
        "quoted_jobs.csv",
        "text/csv",
        key="quoted_jobs",
        on_click="ignore",
        icon=":material/download:",
    )


def group_rows(groups: list[GroupRecord]) -> pd.DataFrame:
    """The groups as a table."""
    return pd.DataFrame(
        [
            {
                "Group": group.name,
                "Jobs": group.jobs,
                "Over the quoted time [min]": round(group.minutes_over),
                "Left of the price [%]": round(100 * group.kept_share, 1),
                "from [%]": round(100 * group.kept_low, 1),
                "to [%]": round(100 * group.kept_high, 1),
                "Cost more than their price [%]": round(100 * group.loss_share, 1),
            }
            for group in groups
        ]
    )


def draw_kept() -> None:
    """The quotes kept in the book, and what became of them."""
    st.header("Quotes kept", anchor=False)
    held = data.kept_quotes()
    if held.empty:
        frame.instead("No quote is kept yet.", "On **Price a job**, keep a quote to hold it against the job later.")
        return
    shown = held[list(KEPT_HEADS)].rename(columns=KEPT_HEADS)
    shown = shown.assign(**{"Time on site [min]": shown["Time on site [min]"].round()})
    frame.table(shown.round(2), key="quoted_kept", file_name="quotes.csv", alt="Quotes kept in the book")
    _say_what_became(held["quote_id"].tolist())


def _say_what_became(quotes: list[str]) -> None:
    """Asks what became of one of the quotes, and notes it in the book."""
    which, became, done, note = st.columns([3, 3, 3, 2], vertical_alignment="bottom")
    quote: str = which.selectbox("Quote", quotes, key="quoted_which")
    state = became.selectbox("What became of it", ["won", "lost", "withdrawn", "offered"], key="quoted_state")
    job = done.text_input("Done as job", key="quoted_job", help="As it stands in the job log. Empty: as it was kept.")
    if note.button("Note it", key="quoted_note", width="stretch"):
        try:
            data.say_what_became(quote, state, job.strip())
        except SludgebookError as error:
            frame.instead(str(error))
        else:
            st.rerun()
