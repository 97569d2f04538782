"""Text of files on paper: every pattern stands letter by letter, and nothing in the file leads or runs anywhere."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest

from dashboard.papers import owner_sheet, quote_sheet
from dashboard.papers.job_contents import job_contents
from dashboard.papers.job_report import job_report
from dashboard.papers.quote_contents import contents
from dashboard.papers.quote_text import quote_text
from dashboard.papers.sheet import letterhead
from models.quote.base.quote_result import CostPart, Quote
from pipeline.contract.findings import Finding
from pipeline.contract.firm import Firm
from tests.dashboard.papers.test_papers import ASKED, ON, job_tables
from tests.hostile_world import MARK, PATTERNS

LEADS = (b"/URI", b"/Launch", b"/JavaScript", b"/JS", b"/Annots", b"/OpenAction <<", b"/EmbeddedFile")
"""What a PDF holds that leads somewhere or runs. Source: ISO 32000-1, 12.6.4, 12.5.2 and 7.11.4 (from memory).
The place in the paper that a reader opens it at is an array behind `/OpenAction`, an action a dictionary."""


def letters(pdf: bytes) -> str:
    """Every word of a paper without its white space, since lines break where they must."""
    document = pypdfium2.PdfDocument(pdf)
    text = "".join(document[number].get_textpage().get_text_bounded() for number in range(len(document)))
    return re.sub(r"[\s\ufffe\u00ad]", "", text)


def without_white(text: str) -> str:
    return re.sub(r"\s", "", text)


def hostile_quote(quote: Quote, pattern: str) -> Quote:
    near = tuple(replace(job, job_id=f"N{pattern}") for job in quote.similar_jobs)
    price = replace(quote.price, parts=(*quote.price.parts, CostPart(f"P{pattern}", 10.0)))
    said = Finding("code", f"A row says S{pattern} of it.")
    return replace(quote, job_id=f"J{pattern}", similar_jobs=near, price=price, findings=(said,))


@pytest.mark.parametrize("pattern", PATTERNS)
def test_papers_of_a_quote_draw_hostile_text_letter_by_letter(quote: Quote, tmp_path: Path, pattern: str) -> None:
    hostile, firm = hostile_quote(quote, pattern), Firm(name=f"F{pattern}", tagline=f"T{pattern}")
    said = contents(hostile, ASKED, firm, ON)
    client = quote_sheet.quote_sheet(said, hostile, letterhead(firm, tmp_path, "Quote", ON))
    owner = owner_sheet.owner_sheet(said, hostile, letterhead(firm, tmp_path, "Price", ON))

    for pdf, drawn in ((client, "FTJ"), (owner, "FTJPS")):
        assert [each for each in LEADS if each in pdf] == []
        for begins in drawn:
            assert without_white(f"{begins}{pattern}") in letters(pdf)
    assert f"J{pattern}" in quote_text(said, firm)


@pytest.mark.parametrize("pattern", PATTERNS)
def test_the_report_of_a_job_draws_hostile_text_letter_by_letter(tmp_path: Path, pattern: str) -> None:
    tables = job_tables()
    tables["jobs"]["job_id"] = f"J{pattern}"
    firm = Firm(name=f"F{pattern}")

    pdf = job_report(job_contents(tables), letterhead(firm, tmp_path, "Report", ON))

    assert [each for each in LEADS if each in pdf] == []
    for begins in "FJ":
        assert without_white(f"{begins}{pattern}") in letters(pdf)
    assert MARK in letters(pdf)
