"""Cached reads: the only package here that touches the book. Every read is keyed by the path of the build.

The book's folder comes from the environment variable `SLUDGEBOOK_BOOK`; `sludgebook serve` sets it.
Frames are returned as copies, models and results as shared objects that nobody changes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.data.forecasts import (
    Rows,
    backtest,
    is_own_model,
    quote,
    quote_model,
    train,
    why_not_trained,
)
from dashboard.data.handing_in import (
    Uploads,
    load_files,
    mapping_sheet,
    open_rejects,
    reject_workbook,
    templates,
)
from dashboard.data.jobs import (
    curves_of,
    job_catch,
    job_list,
    magnet_curves,
    warnings_of,
    watch,
)
from dashboard.data.opened import (
    BOOK_VARIABLE,
    EMPTY,
    ENTRIES,
    Holdings,
    Shelf,
    State,
    book,
    firm,
    firm_or_default,
    holdings,
    of_job,
    shelf,
    table,
)
from dashboard.data.other_plans import further
from dashboard.data.papers import job_paper, quote_paper
from dashboard.data.practice import audit
from dashboard.data.quotes import keep_quote, kept_quotes, say_what_became, track_record

if TYPE_CHECKING:
    from pipeline.mapping_sheet import MappingSheet

__all__ = [
    "BOOK_VARIABLE",
    "EMPTY",
    "ENTRIES",
    "Holdings",
    "MappingSheet",
    "Rows",
    "Shelf",
    "State",
    "Uploads",
    "audit",
    "backtest",
    "book",
    "curves_of",
    "firm",
    "firm_or_default",
    "further",
    "holdings",
    "is_own_model",
    "job_catch",
    "job_list",
    "job_paper",
    "keep_quote",
    "kept_quotes",
    "load_files",
    "magnet_curves",
    "mapping_sheet",
    "of_job",
    "open_rejects",
    "quote",
    "quote_model",
    "quote_paper",
    "reject_workbook",
    "say_what_became",
    "shelf",
    "table",
    "templates",
    "track_record",
    "train",
    "warnings_of",
    "watch",
    "why_not_trained",
]
