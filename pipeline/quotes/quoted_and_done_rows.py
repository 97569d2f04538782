"""Kept quotes as a table, and what was quoted beside what was done, a row a job."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.quotes.kept_quotes import KeptQuote, kept_quotes
from pipeline.store.book import Book, read

QUOTE_COLUMNS = (
    "quote_id",
    "kept_at",
    "valid_until",
    "status",
    "status_at",
    "firm_id",
    "job_id",
    "currency",
    "price",
    "price_with_tax",
    "chance_of_loss",
    "cost_p50",
    "magnetite_p10",
    "magnetite_p50",
    "magnetite_p90",
    "site_minutes_p10",
    "site_minutes_p50",
    "site_minutes_p90",
    "second_day",
    "model",
)
_DONE = """
select j.firm_id, j.job_id, j.engineer_id, j.visit_date, j.crew_size, j.filter_at_survey, j.filter_fitted,
    j.predosed_on < j.visit_date as is_predosed, o.is_second_day, v.emitter_count,
    v.system_volume_l, coalesce(j.quoted_price, j.charged_price) as quoted_price,
    j.quoted_minutes, o.site_minutes, o.magnetite_kg, o.non_magnetic_kg
from jobs j
left join ftr_volume v on v.firm_id = j.firm_id and v.job_id = j.job_id
left join ftr_outcome o on o.firm_id = j.firm_id and o.job_id = j.job_id
order by j.visit_date, j.firm_id, j.job_id
"""


def quotes_frame(book: Book) -> pd.DataFrame:
    """Every kept quote, a row each, in the order kept; kilograms dry, minutes on site, money before tax."""
    return pd.DataFrame([_row(kept) for kept in kept_quotes(book)], columns=list(QUOTE_COLUMNS))


def quoted_and_done(book: Book, build: Path) -> pd.DataFrame:
    """Every job of a build with what was quoted for it: by its newest kept quote that was not lost or withdrawn,
    else by the figures of the job log."""
    done = read(build, _DONE)
    kept = quotes_frame(book)
    kept = kept[kept["status"].isin(["offered", "won"])].drop_duplicates(["firm_id", "job_id"], keep="last")
    ranges = {
        "site_minutes_p10": "low_minutes",
        "site_minutes_p90": "high_minutes",
        "magnetite_p10": "low_kg",
        "magnetite_p90": "high_kg",
        "price": "kept_price",
        "site_minutes_p50": "kept_minutes",
    }
    columns = ["firm_id", "job_id", *ranges]
    both = done.merge(kept[columns].rename(columns=ranges), on=["firm_id", "job_id"], how="left", validate="one_to_one")
    for name in ("price", "minutes"):
        told = pd.to_numeric(both.pop(f"kept_{name}"), errors="coerce").astype(float)
        both[f"quoted_{name}"] = told.fillna(pd.to_numeric(both[f"quoted_{name}"], errors="coerce"))
    return both


def _row(kept: KeptQuote) -> dict[str, Any]:
    part = partial(_part, kept.answer)
    return {
        "quote_id": kept.quote_id,
        "kept_at": kept.kept_at,
        "valid_until": kept.valid_until,
        "status": kept.status,
        "status_at": kept.status_at,
        "firm_id": kept.job[0],
        "job_id": kept.job[1],
        "currency": kept.currency,
        "price": kept.price,
        "price_with_tax": part("price", "price_with_tax"),
        "chance_of_loss": part("price", "chance_of_loss"),
        "cost_p50": part("price", "cost", "p50"),
        "magnetite_p10": part("magnetite_kg", "p10"),
        "magnetite_p50": part("magnetite_kg", "p50"),
        "magnetite_p90": part("magnetite_kg", "p90"),
        "site_minutes_p10": part("site_minutes", "p10"),
        "site_minutes_p50": part("site_minutes", "p50"),
        "site_minutes_p90": part("site_minutes", "p90"),
        "second_day": part("second_day"),
        "model": kept.model,
    }


def _part(answer: Mapping[str, Any], *names: str) -> float | None:
    """A number within a quote; None where the quote does not say it, as one of an earlier version or a changed one."""
    found: Any = answer
    for name in names:
        found = found.get(name) if isinstance(found, Mapping) else None
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) else None
