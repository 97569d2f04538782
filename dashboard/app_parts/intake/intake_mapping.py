"""Part of "Intake": a firm's own headings, what they are taken for, and what only a person can answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd
import streamlit as st

from dashboard.app_parts import frame
from dashboard.words import wording
from dashboard.words.literal import literal

if TYPE_CHECKING:
    from dashboard.data import MappingSheet

ORDER_WORDS = {
    "": "",
    "dmy": "day first",
    "mdy": "month first",
    "ymd": "year first",
    "serial": "days from 1900",
    "serial1904": "days from 1904",
    "dmy serial": "day first, and days from 1900",
    "mdy serial": "month first, and days from 1900",
    "dmy serial1904": "day first, and days from 1904",
    "mdy serial1904": "month first, and days from 1904",
}
ORDERS = tuple(ORDER_WORDS)
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
        frame.small(literal(note))
    _list_not_taken(sheet)
    with st.form("intake_mapping", border=False):
        answers = [_ask(number, asked) for number, asked in enumerate(sheet.questions)]
        rows = [_edit(number, table) for number, table in enumerate(sheet.tables)]
        is_confirmed = st.form_submit_button("Use these headings", type="primary", icon=":material/check:")
    return sheet.confirmed(rows, answers) if is_confirmed else None


def told_heading_line() -> int:
    """The line that the headings stand on, as the person says; 0 where the program is to find it."""
    return int(
        st.number_input(
            "Line with the headings (0: found for you)",
            min_value=0,
            max_value=99,
            step=1,
            key="intake_heading_line",
            help="For sheets with two rows of headings, or whose headings were taken from the wrong line.",
        )
    )


def _line() -> int:
    """Part of the keys: what was entered for one line of headings is never taken for another's."""
    return int(st.session_state.get("intake_line", 0))


def _list_not_taken(sheet: MappingSheet) -> None:
    """Every heading that no column takes so far, with its first values: nothing is left out unseen."""
    if not sheet.not_taken:
        return
    st.markdown(f"**Not taken so far: {wording.count(len(sheet.not_taken), 'heading')}.**")
    rows = [
        {
            "File": each.file,
            "Heading": each.heading,
            "For instance": ", ".join(each.samples),
            "What": each.state,
            "May be": ", ".join(each.may_be),
            "Why": each.why,
        }
        for each in sheet.not_taken
    ]
    frame.table(pd.DataFrame(rows), key="intake_not_taken", file_name="not-taken.csv", alt="Headings not taken so far")


def _ask(number: int, asked: Any) -> str | None:
    """One question; None for as long as it is not answered: nothing is chosen beforehand."""
    words = {choice: literal(said) for choice, said in dict(asked.choices).items()}
    key, said = f"intake_ask_{_line()}_{number}", words.__getitem__
    if len(words) <= HIGHEST_CHOICES:
        answer = st.radio(literal(asked.sentence), list(words), index=None, format_func=said, key=key, horizontal=True)
    else:
        answer = st.selectbox(literal(asked.sentence), list(words), index=None, format_func=said, key=key)
    return None if answer is None else str(answer)


def _edit(number: int, table: Any) -> list[dict[Any, Any]] | None:
    """One table to edit; None when the person leaves it out."""
    st.subheader(literal(table.title), anchor=False)
    is_used = st.checkbox("Hand this table in", value=True, key=f"intake_use_{_line()}_{number}")
    show = st.column_config
    edited = st.data_editor(
        pd.DataFrame(list(table.rows)),
        hide_index=True,
        num_rows="fixed",
        placeholder="–",
        key=f"intake_headings_{_line()}_{number}",
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
