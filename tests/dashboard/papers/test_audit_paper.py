"""The practice audit on paper: the answer, every practice, its methods; read back from the PDF."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pypdfium2
import pytest

from dashboard.cli.report import report
from dashboard.papers.audit_contents import audit_contents
from dashboard.papers.audit_report import TITLE, audit_report
from dashboard.papers.sheet import letterhead
from models.practice.results.audit_result import Audit
from pipeline.store.book import Book
from tests.dashboard import audit_maker as made


@pytest.fixture(scope="module")
def audit(page_book: Book) -> Audit:
    """Of the pages' book, with practices, curves and engineers made by hand."""
    from models.practice.audit import audit as weigh_up
    from models.practice.cohort.audited_jobs import PracticeFrames
    from pipeline.store.book import read_table

    names = ("jobs", "ftr_quote", "ftr_outcome", "ftr_callback")
    found = weigh_up(PracticeFrames(*(read_table(page_book.current(), n) for n in names)), page_book.firm())
    engineers = made.funnel(made.engineer("E1", 5), made.engineer("E3", 14), made.engineer("E4", None))
    return replace(
        found,
        practices=(made.refused(), made.effect()),
        curves={made.effect().contrast: made.curves()},
        funnel=engineers,
    )


def words_of(paper: bytes) -> str:
    document = pypdfium2.PdfDocument(paper)
    text = "\n".join(document[number].get_textpage().get_text_bounded() for number in range(len(document)))
    return " ".join(text.split())


def test_the_audit_of_a_book_is_written_with_every_practice(
    trained_book: Book, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "audit.pdf"

    report("audit", trained_book.path, out, None, owner=False)

    assert json.loads(capsys.readouterr().out) == {"written": [str(out)]}
    text = words_of(out.read_bytes())
    for words in (
        "Practice audit",
        "Filter fitted on the return",
        "Flow reversed",
        "AIPW",
        "simulator",
        "E-value",
        "Local codes",
        "cannot be told yet",
    ):
        assert words in text


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_figures_verdicts_and_refusals_stand_on_it_and_no_engineer_does(
    audit: Audit, page_book: Book, paper: str
) -> None:
    firm = replace(page_book.firm(), paper=paper)
    text = words_of(audit_report(audit, letterhead(firm, page_book.path, TITLE, date(2031, 3, 4))))

    assert "Filter fitted on the return cuts callbacks: 5.0 (2.0 to 8.0) fewer per 100 jobs." in text
    assert "Filter fitted on the return 200 200 5.0 2.0 to 8.0 " in text
    assert "Vibration: the smaller group holds 3 jobs." in text
    assert "£1,700" in text
    assert "day 180" in text
    assert "1 engineer within limits, 1 engineer more than expected and 1 engineer too few jobs" in text
    assert not {"E1", "E3", "E4"} & set(text.replace(".", " ").split())


def test_the_contents_dwell_on_the_surest_practice_and_lack_none(audit: Audit) -> None:
    contents = audit_contents(audit)

    assert contents.focus is not None
    assert contents.focus.label == "Filter fitted on the return"
    assert [row[0] for row in contents.effects] == ["Filter fitted on the return", "Vibration"]
    assert contents.effects[1][3:] == ("–", "–", "–", "cannot be told yet", "900")
    assert contents.refusals == ("Vibration: the smaller group holds 3 jobs.",)


def test_an_audit_where_all_is_refused_is_still_a_paper(audit: Audit, page_book: Book) -> None:
    nothing = replace(audit, practices=(made.refused(),), curves={})

    text = words_of(audit_report(nothing, letterhead(page_book.firm(), page_book.path, TITLE, date(2031, 3, 4))))

    assert "No practice can be told yet to cut or raise callbacks" in text
    assert "What each is worth" not in text


def test_a_paper_is_never_written_over(trained_book: Book, tmp_path: Path) -> None:
    from pipeline.contract.findings import BadInput

    out = tmp_path / "audit.pdf"
    out.write_text("mine")

    with pytest.raises(BadInput, match="is there already"):
        report("audit", trained_book.path, out, None, owner=False)
    assert out.read_text() == "mine"
