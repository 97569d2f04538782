"""Text from files as Markdown and as figure text: what a person sees is the text; ordinary text is not touched."""

from __future__ import annotations

import pytest

from dashboard.words.literal import in_figure, literal, without_joins
from tests.hostile_world import PATTERNS


@pytest.mark.parametrize("pattern", PATTERNS)
def test_nothing_but_escapes_and_joins_is_added(pattern: str) -> None:
    """Taken off by CommonMark's rule (0.31, 2.4): a backslash before ASCII punctuation stands for that punctuation."""
    shown, text = "", without_joins(literal(pattern))
    while text:
        if text[0] == "\\" and len(text) > 1 and not text[1].isalnum():
            text = text[1:]
        shown, text = shown + text[0], text[1:]

    assert shown == pattern


@pytest.mark.parametrize("text", ["2031-03-04-a", "1.7 kg (1.2 to 3.9)", "£1,234 at 10:30, 5 %", "A_1", "J/7 é"])
def test_ordinary_text_stays_as_it_is(text: str) -> None:
    assert literal(text) == text
    assert in_figure(text) == text


def test_controls_are_written_out_and_lines_made_one() -> None:
    assert literal("a\r\n\n- b\x1b[2J\u202e") == r"a - b\\x1b\[2J\\u202e"
    assert in_figure("a\n\x9b1m") == r"a \x9b1m"


def test_figures_name_jobs_and_engineers_letter_by_letter() -> None:
    import numpy as np

    from dashboard.figures.debris_curves import Chosen, Frame, overlay_figure
    from models.catch.records.ragged_arrays import Ragged

    curve = Ragged(np.array([10.0, 20.0]), np.array([1.0, 2.0]), np.array([0]), np.array([2]))
    figure = overlay_figure(curve, None, Chosen("<i>J</i>&amp;%{x}", curve), Frame(30.0, 2.0, is_share=False))

    assert figure.layout.annotations[-1].text == "<b>&lt;i&gt;J&lt;/i&gt;&amp;amp;%\u2060{x}</b>"
