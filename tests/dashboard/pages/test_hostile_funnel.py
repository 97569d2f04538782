"""The engineers' funnel with hostile ids: names in the figure, in the list and in the sentence are text and no more."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from dashboard.figures.audit.practice_engineers import funnel_figure
from dashboard.words.literal import in_figure, literal, without_joins
from tests.dashboard import audit_maker as made
from tests.hostile_world import MARK, PATTERNS


def texts_of(part: Any) -> list[str]:
    """Every text within a figure."""
    if isinstance(part, dict):
        return [text for value in part.values() for text in texts_of(value)]
    if isinstance(part, list):
        return [text for value in part for text in texts_of(value)]
    return [part] if isinstance(part, str) else []


@pytest.mark.parametrize("pattern", PATTERNS)
def test_names_in_the_funnel_are_drawn_letter_by_letter(pattern: str) -> None:
    """One engineer beyond the limits and one chosen, of two firms: each is named on the figure and where it is pointed
    at."""
    beyond, chosen = made.engineer(pattern, 14, pattern), made.engineer(f"E{pattern}", 4, "other")

    figure = json.loads(funnel_figure(made.funnel(beyond, chosen), chosen).to_json())

    named = [text for text in texts_of(figure) if MARK in text]
    whole = [in_figure(f"{pattern}, {pattern}"), in_figure(f"E{pattern}, other")]
    assert len(named) == 4
    assert all(any(text.startswith(each) for each in whole) for text in named)
    for text in named:
        shown = re.sub("<extra></extra>$", "", text)
        assert not re.search(r"<[^>]*>|%\{", shown)


def page() -> None:
    from dashboard.app_parts.audit.audit_basis import draw_engineers
    from tests.dashboard import audit_maker as made
    from tests.dashboard.pages.test_hostile_funnel import FakeAudit
    from tests.hostile_world import PATTERNS

    points = [made.engineer(f"{pattern} {number}", 4 + number % 3) for number, pattern in enumerate(PATTERNS)]
    draw_engineers(FakeAudit(made.funnel(*points)))


class FakeAudit:
    """What the funnel of an audit is drawn from."""

    horizon_days = 365

    def __init__(self, funnel: Any) -> None:
        self.funnel = funnel


def test_the_sentence_of_each_engineer_is_text_and_the_list_holds_every_name() -> None:
    from streamlit.testing.v1 import AppTest

    app = AppTest.from_function(page, default_timeout=60).run()
    assert not app.exception
    names = app.selectbox(key="audit_engineer").options
    assert len(names) == len(PATTERNS) + 1
    for name in names[1::6]:
        app.selectbox(key="audit_engineer").select(name).run()
        (said,) = [each.value for each in app.markdown if "were to be expected of these jobs" in each.value]
        assert said.startswith(literal(f"{name}: 40 jobs")[:-1])
        assert without_joins(said).count(MARK) == name.count(MARK)
