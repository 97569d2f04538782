"""Stretches by group: a planted one is found where jobs tell, and a thin group stays near the rest."""

from __future__ import annotations

import numpy as np
import pytest

from models.quote.features import FEATURE_NAMES, POSITION
from models.quote.groups import GROUPS, fit_stretch, groups_of, membership


def rows(n: int, chance: np.random.Generator, *, large: float = 0.3) -> np.ndarray:
    x = np.full((n, len(FEATURE_NAMES)), np.nan)
    x[:, POSITION["emitter_count"]] = np.where(chance.random(n) < large, 18, 9)
    vented = chance.random(n) < 0.5
    x[:, POSITION["system_type=open_vented"]] = vented
    x[:, POSITION["system_type=sealed"]] = ~vented
    x[:, POSITION["water_known"]] = chance.random(n) < 0.5
    return x


def test_each_job_is_in_one_group_of_each_kind() -> None:
    member = membership(rows(50, np.random.default_rng(1)))

    assert member.shape == (50, GROUPS)
    assert (member[:, :2].sum(axis=1) == 1).all()
    assert (member[:, 2:5].sum(axis=1) == 1).all()
    assert (member[:, 5:].sum(axis=1) == 1).all()


def test_a_planted_stretch_is_found() -> None:
    chance = np.random.default_rng(2)
    x = rows(8000, chance)
    large = groups_of(x)["15 or more emitters"]

    stretch = fit_stretch(x, chance.normal(0, 1, 8000) * np.where(large, 1.5, 1.0))

    by_job = membership(x) @ stretch
    assert np.exp(by_job[large].mean() - by_job[~large].mean()) == pytest.approx(1.5, rel=0.06)


def test_a_thin_group_stays_near_the_rest() -> None:
    chance = np.random.default_rng(3)
    x = rows(300, chance, large=0.02)
    large = groups_of(x)["15 or more emitters"]

    stretch = fit_stretch(x, chance.normal(0, 1, 300) * np.where(large, 3.0, 1.0))

    by_job = membership(x) @ stretch
    assert 1 <= large.sum() < 12
    assert np.exp(by_job[large].mean() - by_job[~large].mean()) < 1.3


def test_without_differences_groups_are_left_as_they_are() -> None:
    chance = np.random.default_rng(4)
    x = rows(500, chance)

    assert np.abs(membership(x) @ fit_stretch(x, chance.normal(0, 2, 500))).max() < 0.2
