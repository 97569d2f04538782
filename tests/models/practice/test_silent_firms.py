"""A firm that has handed in no callbacks: left out of every rate, with a sentence, never counted as having none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from models.practice.audit import audit
from models.practice.cohort.audited_jobs import PracticeFrames, Scope, gather
from models.practice.pool.own_firm import own_firm
from models.quote.base.callback_cost import callback_rate
from models.refusals import Refusal
from pipeline.contract.firm import Firm
from tests.benchmarks.studies.practice_world import draw_world

HAND_IN = "hand in a callbacks table with job_id, called_back_on and cause of every return visit"


@pytest.fixture(scope="module")
def pool() -> PracticeFrames:
    """A firm of 300 jobs that hands in callbacks, and one of 150 with the same job numbers that never did."""
    tables = ("jobs", "quote", "outcome", "callback")
    drawn = [(draw_world(5, 300), "talks"), (draw_world(6, 150), "silent")]
    parts = {name: [getattr(world.frames, name).assign(firm_id=firm) for world, firm in drawn] for name in tables}
    frames = PracticeFrames(*(pd.concat(parts[name], ignore_index=True) for name in tables))
    callback = frames.callback.copy()
    days = [name for name in callback.columns if name.startswith("first_")]
    callback.loc[callback["firm_id"] == "silent", days] = np.nan
    return replace(frames, callback=callback)


def test_its_jobs_do_not_thin_out_the_rate_of_the_others(pool: PracticeFrames) -> None:
    talks = pool.callback[pool.callback["firm_id"] == "talks"]

    assert callback_rate(talks).risk is not None
    assert replace(callback_rate(pool.callback, "talks"), firm_id=None) == callback_rate(pool.callback)
    assert callback_rate(pool.callback) == callback_rate(talks)


def test_its_own_rate_is_refused_with_what_to_hand_in(pool: PracticeFrames) -> None:
    alone = pool.callback[pool.callback["firm_id"] == "silent"]

    for rate in (callback_rate(pool.callback, "silent"), callback_rate(alone)):
        assert rate.risk is None
        assert rate.refused == f"no callbacks were handed in, and none on record is not the same as none: {HAND_IN}"


def test_the_audit_leaves_it_out_and_says_so(pool: PracticeFrames) -> None:
    records = gather(pool)
    found = audit(pool, Firm()).findings

    assert set(records.frame["firm_id"]) == {"talks"}
    assert records.left_out["the firm has handed in no callbacks"] == 150
    assert [each.sentence for each in found if each.code == "no_callbacks_handed_in"] == [
        f"1 firm has handed in no callbacks, so its 150 jobs are left out of every rate: {HAND_IN}."
    ]


def test_an_audit_of_it_alone_is_refused_with_what_to_hand_in(pool: PracticeFrames) -> None:
    sentence = f"No callbacks were handed in for these 150 jobs, and none on record is not the same as none: {HAND_IN}."
    with pytest.raises(Refusal) as refused:
        audit(pool, Firm(), Scope(firms=("silent",)))
    assert str(refused.value) == sentence
    with pytest.raises(Refusal) as refused:
        own_firm(pool, "silent")
    assert str(refused.value) == sentence


def test_one_callback_of_any_cause_is_enough_to_be_heard(pool: PracticeFrames) -> None:
    callback = pool.callback.copy()
    callback.loc[callback.index[callback["firm_id"] == "silent"][0], "first_other_day"] = 400.0

    assert set(gather(replace(pool, callback=callback)).frame["firm_id"]) == {"talks", "silent"}


def cut_to(frames: PracticeFrames, firm: str, days: float) -> PracticeFrames:
    """The firm's jobs said to be followed for so many days; what came later within the year does not count."""
    callback, mine = frames.callback.copy(), frames.callback["firm_id"] == firm
    first = [name for name in callback.columns if name.startswith("first_")]
    later = (callback[first].gt(days) & callback[first].le(365)).any(axis=1) & mine
    callback.loc[mine, first] = callback.loc[mine, first].where(callback.loc[mine, first] <= days)
    callback.loc[mine, "followed_days"] = np.minimum(callback.loc[mine, "followed_days"], days)
    return replace(frames, callback=callback.assign(has_later_callback_365=later))


def test_a_firm_whose_callbacks_lie_beyond_its_ends_of_follow_up_is_left_out_and_told_why(pool: PracticeFrames) -> None:
    short = cut_to(pool, "talks", 20)
    sentence = "300 jobs left out: most callbacks of the firm lie after the day to which its jobs were followed"

    with pytest.raises(Refusal, match=sentence):
        audit(short, Firm(), Scope(firms=("talks",)))
    with pytest.raises(Refusal, match=sentence):
        own_firm(short, "talks")
    for rate in (callback_rate(short.callback), callback_rate(short.callback, "talks")):
        assert rate.risk is None
        assert "leave followed_until empty" in rate.refused
    assert gather(short).left_out == {
        "most callbacks of the firm lie after the day to which its jobs were followed": 300,
        "the firm has handed in no callbacks": 150,
    }


def test_a_firm_that_follows_its_jobs_for_most_of_the_year_is_heard(pool: PracticeFrames) -> None:
    assert len(gather(cut_to(pool, "talks", 250)).days) == 300
    assert len(gather(cut_to(pool, "talks", 365)).days) == 300
