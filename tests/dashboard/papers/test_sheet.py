"""The sheet that papers are drawn on: what must not fall apart at the end of a page."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from dashboard.papers.sheet import Sheet, letterhead
from pipeline.firm import Firm


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
