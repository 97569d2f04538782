"""The practice audit on paper: the answer, every practice, its methods; read back from the PDF."""

from __future__ import annotations

import json
from pathlib import Path

import pypdfium2
import pytest

from dashboard.cli_report import report
from pipeline.book import Book


def test_the_audit_of_a_book_is_written_with_every_practice(
    trained_book: Book, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "audit.pdf"

    report("audit", trained_book.path, out, None, owner=False)

    assert json.loads(capsys.readouterr().out) == {"written": [str(out)]}
    document = pypdfium2.PdfDocument(out)
    text = " ".join(document[number].get_textpage().get_text_bounded() for number in range(len(document)))
    for words in ("Practice audit", "Filter fitted on the return", "Flow reversed", "AIPW", "simulator", "E-value"):
        assert words in text
    assert "cannot be told yet" in text


def test_a_paper_is_never_written_over(trained_book: Book, tmp_path: Path) -> None:
    from pipeline.findings import BadInput

    out = tmp_path / "audit.pdf"
    out.write_text("mine")

    with pytest.raises(BadInput, match="is there already"):
        report("audit", trained_book.path, out, None, owner=False)
    assert out.read_text() == "mine"
