"""A forecast of a job in progress bears what goes wrong in a log: lost weighings, wrong trap, kilograms for grams."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from models.catch.records.job import Catch, JobCatch
from models.catch.stopping.predict_stopping import expect
from models.catch.stopping.train_stopping import Learnt, learn
from tests.models.catch import planted

Spoil = Callable[[Catch], Catch | None]


@pytest.fixture(scope="module")
def past() -> list[JobCatch]:
    return planted.firm(160, seed=21)


@pytest.fixture(scope="module")
def learnt(past: list[JobCatch]) -> Learnt:
    return learn(past[:120])


def moved(past: list[JobCatch], learnt: Learnt, spoil: Spoil) -> float:
    """Middle of how far, as a share, one spoilt weighing moves the forecast half way through later jobs."""
    found = []
    for job in past[120:]:
        half = 0.5 * job.catches[-1].minutes
        known = [at for at, catch in enumerate(job.catches) if catch.minutes <= half]
        place = known[len(known) // 2]
        spoilt = spoil(job.catches[place])
        catches = (*job.catches[:place], *((spoilt,) if spoilt else ()), *job.catches[place + 1 :])
        before, after = expect(learnt, job, half), expect(learnt, replace(job, catches=catches), half)
        assert before is not None
        assert after is not None
        found.append(abs(np.log(after.kg.p50 / before.kg.p50)))
    return float(np.median(found))


# one of some 25 weighings known then; a tenth is what one weighing in ten may rightly carry
@pytest.mark.parametrize(
    ("fault", "spoil"),
    [
        ("lost", lambda catch: None),
        ("logged as from the strainer", lambda catch: replace(catch, trap="strainer")),
        ("nothing weighed: trap left full", lambda catch: replace(catch, dry_g=0.0)),
        ("kilograms for grams", lambda catch: replace(catch, dry_g=catch.dry_g / 1000.0)),
        ("wet for dry", lambda catch: replace(catch, dry_g=2.0 * catch.dry_g)),
    ],
)
def test_one_spoilt_weighing_moves_the_forecast_by_less_than_a_tenth(
    past: list[JobCatch], learnt: Learnt, fault: str, spoil: Spoil
) -> None:
    assert moved(past, learnt, spoil) < 0.10, fault


def test_an_emitter_that_only_ever_gave_nothing_leaves_a_finite_forecast(past: list[JobCatch], learnt: Learnt) -> None:
    job = past[130]
    first = job.catches[0].emitter_no
    dry = replace(job, catches=tuple(replace(c, dry_g=0.0) if c.emitter_no == first else c for c in job.catches))

    seen = expect(learnt, dry, 0.5 * job.catches[-1].minutes)

    assert seen is not None
    assert np.isfinite(list(seen.kg.as_dict().values())).all()
