"""Part of "Intake": a firm's own headings, what they are taken for, and what only a person can answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd
import streamlit as st

from dashboard.app_parts import frame
from dashboard.words import wording

if TYPE_CHECKING:
    from dashboard.data import MappingSheet

ORDERS = ("", "dmy", "mdy", "ymd", "serial", "serial1904")
ORDER_WORDS = {
    "": "",
    "dmy": "day first",
    "mdy": "month first",
    "ymd": "year first",
    "serial": "days from 1900",
    "serial1904": "days from 1904",
}
HIGHEST_CHOICES = 3
"""More answers than this are a list to choose from; so many stand side by side."""


def draw_mapping(sheet: MappingSheet) -> Any:
    """The proposal to look through and change; the mapping once the person says to use it."""
    st.header("What do your headings mean?", anchor=False)
    st.markdown(
        f"{wording.count(sum(len(table.rows) for table in sheet.tables), 'heading')} looked at, "
        f"{wording.count(len(sheet.questions), 'question')} open. The book keeps what you confirm and reads the next "
        "file of this kind by itself."
    )
    for note in sheet.notes:
        frame.small(note)
    with st.form("intake_mapping", border=False):
        answers = [_ask(number, asked) for number, asked in enumerate(sheet.questions)]
        rows = [_edit(number, table) for number, table in enumerate(sheet.tables)]
        is_confirmed = st.form_submit_button("Use these headings", type="primary", icon=":material/check:")
    return sheet.confirmed(rows, answers) if is_confirmed else None


def _ask(number: int, asked: Any) -> str | None:
    """One question; None for as long as it is not answered: nothing is chosen beforehand."""
    words: dict[str, str] = dict(asked.choices)
    key, said = f"intake_ask_{number}", words.__getitem__
    if len(words) <= HIGHEST_CHOICES:
        return st.radio(asked.sentence, list(words), index=None, format_func=said, key=key, horizontal=True)
    return st.selectbox(asked.sentence, list(words), index=None, format_func=said, key=key)


def _edit(number: int, table: Any) -> list[dict[Any, Any]] | None:
    """One table to edit; None when the person leaves it out."""
    st.subheader(table.title, anchor=False)
    is_used = st.checkbox("Hand this table in", value=True, key=f"intake_use_{number}")
    show = st.column_config
    edited = st.data_editor(
        pd.DataFrame(list(table.rows)),
        hide_index=True,
        num_rows="fixed",
        placeholder="–",
        key=f"intake_headings_{number}",
        alt=f"What the headings of {table.title} mean",
        disabled=["heading", "sure", "words", "samples"],
        column_config={
            "heading": show.TextColumn("Your heading"),
            "samples": show.TextColumn("For instance"),
            "column": show.SelectboxColumn("Column of the job log", options=["", *table.columns]),
            "sure": show.TextColumn("How sure"),
            "unit": show.SelectboxColumn("Unit", options=["", *table.units]),
            "dates": show.SelectboxColumn("Dates", options=list(ORDERS), format_func=lambda o: ORDER_WORDS[str(o)]),
            "constant": show.TextColumn("The same for every row"),
            "words": show.TextColumn("Your words"),
        },
        column_order=["heading", "column", "samples", "sure", "unit", "dates", "constant", "words"],
    )
    return edited.fillna("").to_dict("records") if is_used else None
