"""Cached reads: the only package here that touches the book. Every read is keyed by the path of the build.

The book's folder comes from the environment variable `SLUDGEBOOK_BOOK`; `sludgebook serve` sets it.
Frames are returned as copies, models and results as shared objects that nobody changes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.data.ahead import read_ahead
from dashboard.data.curves import catch_band, curves_of
from dashboard.data.forecasts import (
    at_work,
    backtest,
    drift,
    firms,
    further,
    is_own_model,
    quote,
    quote_model,
    train,
    usual_firm,
    why_not_trained,
)
from dashboard.data.handing_in import Uploads, load_files, mapping_sheet, open_rejects, reject_workbook, templates
from dashboard.data.heavy import NotYet, Progress, how_far
from dashboard.data.jobs import job_list, job_of_book, warnings_of, watch
from dashboard.data.on_site import (
    FIRM,
    Phone,
    QuotedSurvey,
    SiteView,
    attach,
    attach_photograph,
    before_finishing,
    compensated_range_c,
    emitters_called_about,
    emitters_to_walk,
    engineers,
    hand_in_site_job,
    is_free,
    is_start_at_fault,
    next_name,
    note_all_well,
    note_return_visit,
    open_jobs,
    photographs,
    quoted_surveys,
    readings_at_25_c,
    save,
    site_job,
    site_jobs,
    site_view,
    times_at_fault,
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
from dashboard.data.papers import audit_paper, job_paper, quote_paper
from dashboard.data.practice import audit, own_firm, release_effects, risk_per_kg
from dashboard.data.quotes import keep_quote, kept_quotes, say_what_became, track_record
from dashboard.services.quoting import Rows

if TYPE_CHECKING:
    from pipeline.mapping.mapping_editor import MappingSheet
    from pipeline.on_site.instrument_headings import AskedHeading
    from pipeline.on_site.open_job import SiteEvent, SiteJob

__all__ = [
    "BOOK_VARIABLE",
    "EMPTY",
    "ENTRIES",
    "FIRM",
    "AskedHeading",
    "Holdings",
    "MappingSheet",
    "NotYet",
    "Phone",
    "Progress",
    "QuotedSurvey",
    "Rows",
    "Shelf",
    "SiteEvent",
    "SiteJob",
    "SiteView",
    "State",
    "Uploads",
    "at_work",
    "attach",
    "attach_photograph",
    "audit",
    "audit_paper",
    "backtest",
    "before_finishing",
    "book",
    "catch_band",
    "compensated_range_c",
    "curves_of",
    "drift",
    "emitters_called_about",
    "emitters_to_walk",
    "engineers",
    "firm",
    "firm_or_default",
    "firms",
    "further",
    "hand_in_site_job",
    "holdings",
    "how_far",
    "is_free",
    "is_own_model",
    "is_start_at_fault",
    "job_list",
    "job_of_book",
    "job_paper",
    "keep_quote",
    "kept_quotes",
    "load_files",
    "mapping_sheet",
    "next_name",
    "note_all_well",
    "note_return_visit",
    "of_job",
    "open_jobs",
    "open_rejects",
    "own_firm",
    "photographs",
    "quote",
    "quote_model",
    "quote_paper",
    "quoted_surveys",
    "read_ahead",
    "readings_at_25_c",
    "reject_workbook",
    "release_effects",
    "risk_per_kg",
    "save",
    "say_what_became",
    "shelf",
    "site_job",
    "site_jobs",
    "site_view",
    "table",
    "templates",
    "times_at_fault",
    "track_record",
    "train",
    "usual_firm",
    "warnings_of",
    "watch",
    "why_not_trained",
]
