"""The sentences that an engineer reads."""

from __future__ import annotations

from datetime import datetime

import pytest

from models.catch.wording import emitter_sentence, running_answer
from models.quantiles import Quantiles

AT = datetime(2031, 3, 4, 12, 0)
SOME = Quantiles(0.1, 0.2, 0.4, 0.62, 0.9, 1.4, 2.0)


def level_at(*hours: float) -> dict[str, datetime]:
    days = [AT.replace(day=4 + int(hour // 24), hour=int(hour % 24), minute=30) for hour in hours]
    return dict(zip(("p10", "p50", "p90"), days, strict=True))


@pytest.mark.parametrize(
    ("hours", "end"),
    [
        ((13, 14, 15), "if the flow goes on; it levels off around 14:30 (13:30 to 15:30)."),
        ((13, 14, 30), "if the flow goes on; it levels off around 14:30 (not before 13:30)."),
        ((13, 30, 40), "if the flow goes on; it does not level off today."),
    ],
)
def test_the_answer_gives_kilograms_with_their_range_and_the_clock(hours: tuple[float, ...], end: str) -> None:
    assert running_answer(SOME, level_at(*hours), AT, is_level=False) == f"Expect 0.62 kg more (0.20 to 1.4) {end}"


def test_a_house_that_is_level_is_told_to_move_on_or_stop() -> None:
    sentence = running_answer(SOME, level_at(13, 14, 15), AT, is_level=True)

    assert sentence.startswith("It has levelled off: going on would bring about 0.62 kg more (0.20 to 1.4)")


@pytest.mark.parametrize(
    ("state", "has_flow", "sentence"),
    [
        ("not_started", False, "Emitter 3 has not had the flow yet; judging by the others, expect about 0.62 kg."),
        ("too_early", True, "Emitter 3: 0.45 kg so far, too early to say whether it is levelling off."),
        ("still_giving", True, "Emitter 3 is still giving: 0.45 kg so far, about 0.62 kg to come."),
        ("still_giving", False, "Emitter 3 was left at 0.45 kg while still giving; about 0.62 kg may be behind."),
        ("levelled_off", True, "Emitter 3 has levelled off at 0.45 kg; move the flow on."),
        ("levelled_off", False, "Emitter 3 has levelled off at 0.45 kg."),
    ],
)
def test_each_emitter_has_one_short_sentence(state: str, has_flow: bool, sentence: str) -> None:
    assert emitter_sentence(3, state, 0.45, SOME, has_flow) == sentence
