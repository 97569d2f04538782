"""The sheet that papers are drawn on: what must not fall apart at the end of a page."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pypdfium2
import pytest

from dashboard.papers.sheet import Sheet, letterhead
from pipeline.contract.firm import Firm


@pytest.mark.parametrize("offset", [0.0, 1.3, 2.6, 3.9])
def test_every_bullet_has_its_dot_on_the_page_of_its_first_line(tmp_path: Path, offset: float) -> None:
    dots: list[tuple[int, float]] = []

    class Watched(Sheet):
        def ellipse(self, x: float, y: float, *rest: float, **more: str) -> None:  # type: ignore[override]
            dots.append((self.page, y))
            super().ellipse(x, y, *rest, **more)  # type: ignore[arg-type]

    sheet = Watched(letterhead(Firm(), tmp_path, "Test", date(2031, 3, 4)))
    sheet.ln(offset)

    sheet.bullets([f"Line {number}" for number in range(150)])

    assert len(dots) == 150
    assert {page for page, _ in dots} == set(range(1, sheet.page + 1))
    assert max(y for _, y in dots) < sheet.h - sheet.b_margin


@pytest.mark.parametrize("name", ["Upper and Lower Valley Heating Water Care and Daughters Ltd", "MW " * 20])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_long_name_of_a_firm_stands_whole_and_clear_of_the_kind_of_paper(
    tmp_path: Path, name: str, paper: str
) -> None:
    head = letterhead(Firm(name=name.strip(), paper=paper), tmp_path, "Report of the cleaning", date(2031, 3, 4))

    page = pypdfium2.PdfDocument(Sheet(head).as_bytes())[0].get_textpage()

    parts = [
        (page.get_rect(number), page.get_text_bounded(*page.get_rect(number))) for number in range(page.count_rects())
    ]
    title = next(rect for rect, text in parts if text.startswith("Report"))
    shown = [(rect, text) for rect, text in parts if rect[1] > title[1] - 6 and text != "Report of the cleaning"]
    assert " ".join(text.strip() for _, text in shown).split() == name.split()
    assert max(rect[2] for rect, _ in shown) < title[0]
