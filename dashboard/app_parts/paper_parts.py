"""Buttons that save papers: made when pressed, not before."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import streamlit as st

from dashboard import data
from dashboard.app_parts import frame
from pipeline.contract.findings import SludgebookError

if TYPE_CHECKING:
    from models.practice.results.audit_result import Audit
    from models.practice.results.pool_results import OwnFirm
    from models.quote.base.quote_result import Quote
    from models.quote.offers.further import Further

PDF = "application/pdf"


def draw_quote_papers(quote: Quote, tables: tuple[Any, Any, Any]) -> None:
    """The quote for the client as PDF and as text, and the owner's sheet."""
    client, plain, owner = st.columns(3)
    client.download_button(
        "Quote for the client (PDF)",
        partial(data.quote_paper, "client", quote, *tables),
        "quote.pdf",
        PDF,
        key="price_client_pdf",
        on_click="ignore",
        icon=":material/description:",
        width="stretch",
    )
    plain.download_button(
        "The same as text",
        partial(data.quote_paper, "text", quote, *tables),
        "quote.txt",
        "text/plain",
        key="price_client_text",
        on_click="ignore",
        icon=":material/mail:",
        width="stretch",
    )
    owner.download_button(
        "Owner's sheet (PDF)",
        partial(data.quote_paper, "owner", quote, *tables),
        "owner.pdf",
        PDF,
        key="price_owner_pdf",
        on_click="ignore",
        icon=":material/lock:",
        width="stretch",
    )


def draw_job_paper(build: str, firm_id: str, job_id: str, key: str) -> None:
    """The report of a finished job for the client."""
    st.download_button(
        "Report for the client (PDF)",
        partial(data.job_paper, build, firm_id, job_id),
        f"report-{job_id}.pdf",
        PDF,
        key=key,
        on_click="ignore",
        icon=":material/description:",
    )


def draw_audit_paper(audit: Audit, view: OwnFirm | None = None) -> None:
    """The audit for a trade body; with `view` for one firm, beside the unnamed others."""
    st.download_button(
        "Report (PDF)",
        partial(data.audit_paper, audit, view),
        "practice-audit.pdf",
        PDF,
        key="audit_pdf",
        on_click="ignore",
        icon=":material/description:",
    )


def draw_keep(build: str, quote: Quote, tables: tuple[Any, Any, Any], further: Further) -> None:
    """Keep the quote in the book under the firm's own job name, to hold it against the job later."""
    name, button = st.columns([3, 2], vertical_alignment="bottom")
    job = name.text_input(
        "Job",
        key="price_keep_job",
        max_chars=80,
        help="As it will stand in the job log; no name or address of a person.",
    )
    if button.button("Keep this quote", key="price_keep", icon=":material/bookmark:", width="stretch"):
        if not job.strip():
            frame.instead("Name the job first, as it will stand in the job log.")
            return
        try:
            kept = data.keep_quote(build, quote, job.strip(), *tables, further)
        except SludgebookError as error:
            frame.instead(str(error))
        else:
            st.success(f"Kept as {kept}. It stands under **Quoted and done**.", icon=":material/check:")
