"""Parts of "About the data": how full the records are, when each figure is known, the simulator, the glossary."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard import data, tallies
from dashboard.app_parts import frame
from dashboard.kept import kept, made
from dashboard.words import wording
from pipeline.contract import BUILT, JOB_LOG, Table

if TYPE_CHECKING:
    from dashboard.data import Holdings

KNOWN_BY = {
    "survey": "at the survey: a quote may use it",
    "plan": "when the visit is planned: a quote may use it",
    "during": "on the day: only the catch forecast uses it",
    "after": "afterwards: outcome, never used to quote",
    "key": "names the row",
}
SIMULATOR_LIMITS = (
    "Simulated jobs are made by equations for houses, sludge, heat and flow, with invented crews who log with gaps "
    "and errors. They exercise every part of this tool and show that its methods recover what was put in. They say "
    "nothing about how much a real system gives, how long a real clean takes, or which practice cuts callbacks. "
    "The planted truth is kept in a file beside the logs and is never loaded."
)


def simulated_share(held: Holdings) -> str:
    """How many of the jobs are simulated, in one sentence."""
    if held.is_simulated:
        return "All of them are simulated."
    if held.simulated_jobs:
        return f"{held.simulated_jobs:,} of them are simulated."
    return "None of them is simulated."


def draw_known(build: str) -> None:
    """How often each column of the job log is filled in, the emptiest first."""
    st.header("How full the records are", anchor=False)
    rows = kept(("filled", build), lambda: tallies.filled({name: data.table(build, name) for name in JOB_LOG}))
    thin = int((rows["Filled in [%]"] < 50).sum())
    st.markdown(f"{wording.count(thin, 'column')} of {len(rows)} are filled in for fewer than half of the rows.")
    frame.table(rows, key="about_filled", file_name="filled.csv", alt="Share of rows filled in, by table and column")


def draw_simulator() -> None:
    """What simulated jobs can and cannot show."""
    st.header("What simulated jobs can show", anchor=False)
    st.markdown(SIMULATOR_LIMITS)


def draw_glossary() -> None:
    """Every column of the job log and of the build, with unit, meaning and when it is known."""
    st.header("Glossary", anchor=False)
    st.markdown("\n".join(f"- **{moment}**: {words}" for moment, words in KNOWN_BY.items()))
    tables = {**BUILT, **JOB_LOG}
    name = st.selectbox("Table", list(tables), key="about_table", bind="query-params")
    chosen = tables[name or "jobs"]
    frame.small(f"{chosen.grain.capitalize()}; key: {', '.join(chosen.key)}.")
    for rule in chosen.rules:
        frame.small(rule)
    frame.table(
        made(glossary_rows, chosen),
        key="about_glossary",
        file_name=f"{chosen.name}.csv",
        alt=f"Columns of {chosen.name} with unit and meaning",
    )


def glossary_rows(table: Table) -> pd.DataFrame:
    """One row a column of a table of the contract."""
    return pd.DataFrame(
        [
            {"Column": c.name, "Unit": c.unit, "Meaning": c.meaning, "Known": c.known_by, "Allowed": c.allowed}
            for c in table.columns
        ]
    )
