"""Effects by hand where both ways differ in everything: kilograms and callbacks, curves, doses, subgroups, verdicts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from models.practice.cohort.audited_jobs import Records
from models.practice.cohort.confounders import Known
from models.practice.cohort.contrasts import BY_NAME
from models.practice.effects import dose_response
from models.practice.effects.doubly_robust import Adjusted, Compared
from models.practice.effects.estimators import Estimate
from models.practice.effects.risk_per_kg import risk_per_kg
from models.practice.effects.subgroups import SUBGROUPS, subgroup_effects
from models.practice.effects.verdicts import verdict
from models.practice.effects.weighted_curves import practice_curves

FILTER = BY_NAME["filter_fitted:on_return|none"]
JOBS = 400


def weighed(jobs: int = JOBS) -> Records:
    """Engineers of 20 jobs each, ten flushed the one way (+1), ten the other (−1). The way brings 1 kg more or less
    than 2, and chance half a kilogram either way; of ten flushed the one way one comes back, of the others four."""
    way, chance = np.tile(np.repeat([1.0, -1.0], 10), jobs // 20), np.tile([0.5, -0.5], jobs // 2)
    event = np.tile(np.r_[np.arange(10) == 0, np.arange(10) < 4], jobs // 20)
    other = np.tile(np.arange(20) % 3 - 1.0, jobs // 20) * np.repeat(np.where(np.arange(jobs // 20) % 2, 1, -1), 20)
    known = Known(
        np.column_stack([way, other]),
        np.zeros(2, dtype=np.int64),
        ("w", "o"),
        ("w", "o"),
        ("isolation", ""),
        np.zeros(2, dtype=np.int64),
    )
    frame = pd.DataFrame({"magnetite_kg": 2 + way + chance, "property_kind": "house", "visit_date": "2030-06-03"})
    engineer, days = np.repeat(np.arange(jobs // 20), 20), np.full(jobs, 365.0)
    return Records(frame, days, event, days, event.astype(np.int64), engineer, jobs // 20, known, {}, 0)


def test_what_a_kilogram_does_is_the_difference_in_callbacks_over_that_in_kilograms() -> None:
    """(1/10 − 4/10) / 2 kg = −0.15. Misses: outcome − 1/4 + 0.15 (kg − 2); every engineer's jobs even out, so that the
    error is job by job. Chance leaves 400 · 0.25 = 100 of 378 degrees of freedom: 400 less 20 engineers, a column and a
    way; F 400 / (100 / 378). A tenth caught 0.5 or less, a tenth 3.5 or more: usual 1.5 either way. Shrunk: half
    of the risk of 1/4 over 1.5 kg is a spread of 1/12, of which s² / (s² + error²) is kept."""
    records = weighed()
    kg, way = records.frame["magnetite_kg"].to_numpy(), records.known.x[:, 0]

    found = risk_per_kg(records)

    misses = records.is_event - 0.25 + 0.15 * (kg - 2)
    error = np.sqrt(((way * misses) ** 2).sum()) / JOBS
    kept = (1 / 12) ** 2 / ((1 / 12) ** 2 + error**2)
    middle, half = -0.15 * kept, 1.959964 * np.sqrt(kept) * error
    assert (found.per_kg, found.low, found.high) == pytest.approx((middle, middle - half, middle + half), rel=1e-6)
    assert (found.jobs, found.usual_kg) == (JOBS, pytest.approx(1.5))
    assert found.strength == pytest.approx(400 / (100 / 378))
    assert (found.refused, found.horizon_days) == ("", 365)


def with_kg(records: Records, kg: np.ndarray) -> Records:
    return replace(records, frame=records.frame.assign(magnetite_kg=kg))


def test_a_kilogram_is_refused_below_300_jobs_below_30_callbacks_and_with_weak_ways() -> None:
    records, least = weighed(), weighed(300)
    one_less = least.frame["magnetite_kg"].to_numpy().copy()
    one_less[0] = np.nan
    few = replace(records, is_event=records.is_event & (np.cumsum(records.is_event) <= 29))
    enough = replace(records, is_event=records.is_event & (np.cumsum(records.is_event) <= 30))
    late = replace(few, is_event=records.is_event, days=np.where(few.is_event, 365.0, 366.0))
    by_chance = 2 + np.tile([0.5, -0.5], JOBS // 2) + 0.01 * records.known.x[:, 0]  # 400 · 0.01² / (100 / 378) = 0.15

    assert risk_per_kg(least).refused == ""
    assert "299 weighed jobs with 74 debris callbacks are too few" in risk_per_kg(with_kg(least, one_less)).refused
    assert "400 weighed jobs with 29 debris callbacks are too few" in risk_per_kg(few).refused
    assert "with 29 debris callbacks" in risk_per_kg(late).refused
    assert "too few" not in risk_per_kg(enough).refused
    assert "too little (F 0.2, 10 are wanted)" in risk_per_kg(with_kg(records, by_chance)).refused


def test_a_kilogram_that_does_nothing_is_told_as_nothing_and_one_that_does_harm_never() -> None:
    records = weighed()
    same = risk_per_kg(replace(records, is_event=np.tile(np.arange(10) < 3, JOBS // 10)))
    turned = np.tile(np.r_[np.arange(10) < 4, np.arange(10) == 0], JOBS // 20)
    harm = risk_per_kg(replace(records, is_event=turned))

    assert (same.refused, harm.refused) == ("", "")
    assert same.per_kg == pytest.approx(0.0)
    assert same.low == pytest.approx(-same.high)  # type: ignore[operator]
    assert (harm.per_kg, harm.low) == (0.0, 0.0)
    assert harm.high == pytest.approx(0.18, abs=0.005)  # 0.141 ± 0.04, as in the other direction


def test_a_catch_far_beyond_the_others_counts_as_the_99th_of_100() -> None:
    records = weighed()
    kg = records.frame["magnetite_kg"].to_numpy().copy()
    kg[0] = 500.0  # one of those of 3.5 kg

    assert risk_per_kg(with_kg(records, kg)).per_kg == pytest.approx(risk_per_kg(records).per_kg)


def two_groups() -> tuple[Records, Adjusted]:
    """Three jobs with and two without: days to the debris callback or the end, and the first callback of any cause."""
    a = np.array([True, True, True, False, False])
    days, event = np.array([100.0, 400, 300, 200, 366]), np.array([True, False, False, True, True])
    first_day, first_kind = np.array([100.0, 50, 300, 200, 366]), np.array([1, 2, 0, 1, 1])
    nothing = Known(np.zeros((0, 0)), np.zeros(0, dtype=np.int64), (), (), (), np.zeros(0, dtype=np.int64))
    frame = pd.DataFrame({"x": range(5)})
    records = Records(frame, days, event, first_day, first_kind, np.arange(5), 5, nothing, {}, 0)
    adjusted = Adjusted(
        Compared(FILTER, np.arange(5), a, days, event),
        chance=np.array([0.5, 0.25, 0.5, 0.5, 0.2]),
        kept=np.ones(5, dtype=bool),
        estimate=Estimate(0.1, 0.2, np.zeros((5, 2))),
    )
    return records, adjusted


def test_curves_of_two_groups_that_differ_in_everything_by_hand() -> None:
    """With: debris on day 100, another cause on day 50 of a job followed for 400, one lost on day 300. Free of debris
    2/3; first callbacks 1/3 of each cause (debris after the other cause: 2/3 · 1/2). Weights 2, 4, 2: other 1/2, debris
    1/2 · 2/4. Without: debris on day 200; another on day 366, too late: 1/2, weighted 2 of 3.25."""
    records, adjusted = two_groups()

    found = practice_curves(records, adjusted)

    assert found is not None
    assert found.adjusted_with is not None
    assert found.adjusted_without is not None
    ends = [each.estimate[-1] for each in (found.free_with, found.free_without)]
    assert ends == pytest.approx([2 / 3, 1 / 2])
    incidences = (found.debris_with, found.debris_without, found.other_with, found.other_without)
    assert [each.estimate[-1] for each in incidences] == pytest.approx([1 / 3, 1 / 2, 1 / 3, 0.0])
    assert [each.kind for each in incidences] == ["debris", "debris", "other", "other"]
    weighted = found.adjusted_with.estimate[-1], found.adjusted_without.estimate[-1]
    assert weighted == pytest.approx((0.25, 2 / 3.25))
    assert found.at_risk_with.tolist() == [3, 3, 2, 2, 2, 2, 1]
    assert found.at_risk_without.tolist() == [2, 2, 2, 2, 1, 1, 1]


def test_curves_are_weighted_over_those_kept_and_there_are_none_without_callbacks_on_either_side() -> None:
    """Kept with weights 2 and 4: the other cause first leaves 2 of 6, which is the debris one."""
    records, adjusted = two_groups()
    part = practice_curves(records, replace(adjusted, kept=np.array([True, True, False, True, False])))
    assert part is not None
    assert part.adjusted_with is not None
    assert part.adjusted_with.estimate[-1] == pytest.approx(2 / 6)
    nobody = replace(
        adjusted, compared=replace(adjusted.compared, is_event=adjusted.compared.is_event & adjusted.compared.a)
    )
    assert practice_curves(records, nobody) is None


DOSES = {0.0: 40, 3.0: 30, 7.0: 30, 8.0: 29, 15.0: 30, 20.0: 1}


def dosed(short: float = -1.0, followed: int = 10) -> Records:
    """Jobs by days of pre-dose, three callbacks on day 365 at each but `short`, which has two; `followed` jobs of each
    dose to day 365, the rest to day 100."""
    days, event, dose = [], [], []
    for each, jobs in DOSES.items():
        calls = 2 if each == short else 3 if jobs > 1 else 0
        event += [True] * calls + [False] * (jobs - calls)
        days += ([365.0] * (calls + followed) + [100.0] * jobs)[:jobs]
        dose += [each] * jobs
    n = len(dose)
    nothing = Known(np.zeros((n, 0)), np.zeros(0, dtype=np.int64), (), (), (), np.zeros(0, dtype=np.int64))
    frame = pd.DataFrame({"predose_days": dose, "property_kind": "house"})
    at, seen = np.array(days), np.array(event)
    return Records(frame, at, seen, at, seen.astype(np.int64), np.arange(n), n, nothing, {}, 0)


def test_doses_are_put_together_by_their_days_and_compared_with_none(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bins 0, 1 to 3, 4 to 7, 8 to 14 and 15 or more; 29 jobs are one too few. Means 0.10, 0.08, 0.05 and −0.01, each
    with influence ±0.1 times its place on every other job:
    error place · 0.1 / √(n − 1) with each job a cluster of its own; against none the same."""
    asked = []

    def means(records: Records, rows: np.ndarray, dose: np.ndarray, doses: int) -> tuple[np.ndarray, np.ndarray]:
        asked.append((rows, dose, doses))
        sign = np.where(np.arange(len(rows)) % 2, 1.0, -1.0)[:, None]
        return np.array([0.10, 0.08, 0.05, -0.01]), sign * 0.1 * np.arange(4)

    monkeypatch.setattr(dose_response, "_means", means)
    found = dose_response.predose_response(dosed())

    ((rows, dose, doses),) = asked
    assert (len(rows), doses, np.bincount(dose).tolist()) == (131, 4, [40, 30, 30, 31])
    assert found.jobs.tolist() == [40, 30, 30, 31]
    assert found.doses == pytest.approx([0.0, 3.0, 7.0, (30 * 15 + 20) / 31])
    half = 1.978380 * 0.1 * np.arange(4) / np.sqrt(130)  # Student's t at 97.5 % with 130 degrees of freedom (tables)
    assert found.risk == pytest.approx([0.10, 0.08, 0.05, 0.0])
    assert found.low == pytest.approx(np.clip(np.array([0.10, 0.08, 0.05, -0.01]) - half, 0, 1), abs=1e-6)
    assert found.high == pytest.approx(np.clip(np.array([0.10, 0.08, 0.05, -0.01]) + half, 0, 1), abs=1e-6)
    assert found.difference == pytest.approx([0, -0.02, -0.05, -0.11])
    assert found.difference_low == pytest.approx(np.array([0, -0.02, -0.05, -0.11]) - half, abs=1e-6)
    assert found.difference_high == pytest.approx(np.array([0, -0.02, -0.05, -0.11]) + half, abs=1e-6)
    assert (found.column, found.reference, found.refused) == ("predose_days", 0.0, "")


@pytest.mark.parametrize(
    ("records", "told"),
    [
        (dosed(short=3.0), [0.0, 7.0, 470 / 31]),
        (dosed(short=0.0), None),  # without a reference nothing is compared
        (dosed(followed=9), None),
    ],
)
def test_a_dose_needs_three_callbacks_and_ten_jobs_followed_for_the_year(
    records: Records, told: list[float] | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        dose_response, "_means", lambda _, rows, __, doses: (np.zeros(doses), np.ones((len(rows), doses)))
    )
    found = dose_response.predose_response(records)

    assert found.doses.tolist() == ([] if told is None else pytest.approx(told))
    assert bool(found.refused) == (told is None)
    assert (found.trend_p is None) == (told is None)


HOUSES = pd.DataFrame(
    {
        "pipe_layout": ["microbore_manifold", None, "two_pipe", "microbore_manifold", "microbore_manifold"],
        "system_type": ["open_vented", "open_vented", "sealed", "sealed", None],
        "emitter_count": [15, 14, 16, None, 30],
    }
)


def test_who_is_in_which_subgroup_and_counted_on_which_side() -> None:
    """Three jobs with, two without; the fewest of anything is refused with its counts."""
    a = np.array([True, True, True, False, False])
    days, event = np.full(5, 365.0), np.array([True, False, False, True, True])
    nothing = Known(np.zeros((0, 0)), np.zeros(0, dtype=np.int64), (), (), (), np.zeros(0, dtype=np.int64))
    records = Records(HOUSES, days, event, days, event.astype(np.int64), np.arange(5), 5, nothing, {}, 0)
    adjusted = Adjusted(
        Compared(FILTER, np.arange(5), a, days, event),
        kept=np.ones(5, dtype=bool),
        estimate=Estimate(0.1, 0.2, np.zeros((5, 2))),
    )

    found = {each.code: each for each in subgroup_effects(records, adjusted)}

    assert {code: (each.jobs_with, each.jobs_without) for code, each in found.items()} == {
        "microbore": (1, 2),
        "open_vented": (2, 0),
        "sealed": (1, 1),
        "many_emitters": (2, 1),
    }
    assert [each.code for each in SUBGROUPS] == list(found)
    assert found["microbore"].refused.endswith("1 and 2 jobs, 3 debris callbacks.")


def test_one_verdict_in_twenty_by_chance_is_the_most() -> None:
    assert verdict(-0.01, 0.05) == "cuts callbacks"
    assert verdict(-0.01, 0.0501) == "cannot be told yet"
