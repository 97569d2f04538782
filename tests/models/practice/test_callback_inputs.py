"""What a book tells of return visits: learnt, kept, a firm's own or all firms'."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from models.practice.cohort.audited_jobs import PracticeFrames, Records, gather
from models.practice.results.audit_result import Audit
from models.quote.base.callback_cost import callback_rate
from models.quote.model.callback_inputs import (
    FOLDER,
    PLANNED,
    Returns,
    learn_and_store,
    learn_returns,
    load_returns,
    verdicts,
)
from models.store import load_model, save_model
from pipeline.contract.findings import SludgebookError
from tests.benchmarks.studies.practice_world import World, draw_world


@pytest.fixture(scope="module")
def frames() -> PracticeFrames:
    """A large firm and a small one."""
    drawn = [(draw_world(5, 1500), "large"), (draw_world(6, 80), "small")]
    tables = ("jobs", "quote", "outcome", "callback")
    parts = {name: [getattr(world.frames, name).assign(firm_id=firm) for world, firm in drawn] for name in tables}
    import pandas as pd

    return PracticeFrames(*(pd.concat(parts[name], ignore_index=True) for name in tables))


@pytest.fixture(scope="module")
def learnt(frames: PracticeFrames, tmp_path_factory: pytest.TempPathFactory) -> tuple[Returns, Path]:
    folder = tmp_path_factory.mktemp("models")
    return learn_and_store(frames, folder), folder


def test_prices_count_what_the_audit_has_a_verdict_on_shrunk_towards_none(records: Records, audited: Audit) -> None:
    counted = {each.contrast: each for each in verdicts(records)}

    shown = {
        each.contrast: each for each in audited.practices if each.verdict in ("cuts callbacks", "raises callbacks")
    }
    assert set(counted) == set(shown) != set()
    for name, each in shown.items():
        assert each.difference is not None
        assert 0 < counted[name].difference / each.difference < 1
        middle = (counted[name].low + counted[name].high) / 2
        assert counted[name].difference == pytest.approx(middle)


def test_only_what_a_quote_can_plan_is_kept_with_its_share(
    frames: PracticeFrames, learnt: tuple[Returns, Path]
) -> None:
    returns, _ = learnt

    assert {each.column for each in returns.shown} <= set(PLANNED)
    for each in returns.shown:
        frame = frames.jobs if each.column == "filter_fitted" else frames.quote
        values = frame[each.column]
        value = 7.0 if each.column == "predose_days" else each.with_value
        assert returns.usual.shares[each.contrast] == pytest.approx((values == value).sum() / values.notna().sum())


def test_a_firm_with_enough_jobs_has_its_own_rate_and_a_small_one_that_of_all(
    frames: PracticeFrames, learnt: tuple[Returns, Path]
) -> None:
    returns, _ = learnt
    large, small = returns.of_firm("large"), returns.of_firm("small")

    assert large.usual.rate == callback_rate(frames.callback, "large")
    assert large.usual.rate.risk is not None
    assert large.usual.rate.firm_id == "large"
    assert small.usual.rate == returns.usual.rate == callback_rate(frames.callback)
    assert small.why_not_own.startswith("of this firm's own, 80 followed jobs")
    assert returns.of_firm("nobody").why_not_own == "this firm has no job on record"


def test_it_is_kept_beside_the_forecasts_and_comes_back_whole(learnt: tuple[Returns, Path], tmp_path: Path) -> None:
    returns, folder = learnt

    again = load_returns(folder)

    assert again is not None
    assert (again.usual.rate, again.per_kg, again.shown) == (returns.usual.rate, returns.per_kg, returns.shown)
    assert {firm: each.rate for firm, each in again.own.items()} == {f: each.rate for f, each in returns.own.items()}
    for kept, learned in zip((again.usual, *again.own.values()), (returns.usual, *returns.own.values()), strict=True):
        assert np.array_equal(kept.ways, learned.ways, equal_nan=True)
        assert kept.shares == learned.shares
    assert load_returns(tmp_path) is None


def test_what_was_learnt_by_other_questions_is_refused_in_a_sentence(
    learnt: tuple[Returns, Path], tmp_path: Path
) -> None:
    stored = load_model(learnt[1] / FOLDER)
    assert stored.facts["ways"][0] == "predose_days"
    others = replace(stored, facts={**stored.facts, "ways": stored.facts["ways"][::-1]})
    save_model(tmp_path / FOLDER, others, {"model": FOLDER})

    with pytest.raises(SludgebookError, match="run `sludgebook train`"):
        load_returns(tmp_path)


def test_one_firm_has_no_rates_by_firm_and_nothing_weighed_no_slope(world: World) -> None:
    returns = learn_returns(world.frames)

    assert returns.own == {}
    assert returns.of_firm("own") is returns
    assert returns.per_kg is not None
    assert "weighed jobs" in returns.per_kg.refused


def test_a_book_with_hardly_a_job_is_refused_and_not_raised(world: World) -> None:
    for jobs in (0, 3):
        few = PracticeFrames(
            *(getattr(world.frames, name).iloc[:jobs] for name in ("jobs", "quote", "outcome", "callback"))
        )

        returns = learn_returns(few)

        assert returns.shown == ()
        assert returns.usual.rate.risk is None


def test_verdicts_hold_their_number_whatever_is_planned(world: World) -> None:
    """Without a job followed there is nothing to have a verdict on."""
    callback = world.frames.callback.assign(followed_days=0.0, first_debris_day=np.nan)

    assert len(gather(replace(world.frames, callback=callback)).days) == 0
    assert learn_returns(replace(world.frames, callback=callback)).shown == ()
