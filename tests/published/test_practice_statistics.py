"""Published values for survival curves, funnel limits, pooling, E-values and the control of chance findings."""

from __future__ import annotations

import numpy as np
import pytest
from lifelines.datasets import load_leukemia

from models.practice.effects.verdicts import e_value, q_values
from models.practice.engineers.funnel import over_dispersion, poisson_limit
from models.practice.pool.pooled_effects import random_effects
from models.practice.survival import kaplan_meier

P_95, P_998 = (0.025, 0.975), (0.001, 0.999)


def freireich(rx: int) -> tuple[np.ndarray, np.ndarray]:
    """Remission times of Freireich et al. 1963 (Gehan's data): weeks and relapse; rx 0 is 6-MP, 1 placebo."""
    data = load_leukemia()
    part = data[data["Rx"] == rx]
    return part["t"].to_numpy(float), part["status"].to_numpy() == 1


def test_kaplan_meier_of_freireich_with_greenwood_errors() -> None:
    """Kleinbaum & Klein, Survival Analysis, chapter 2, to the digits printed."""
    curve = kaplan_meier(*freireich(0))

    assert curve.days.tolist() == [6, 7, 10, 13, 16, 22, 23]
    assert curve.at_risk.tolist() == [21, 17, 15, 12, 11, 7, 6]
    assert curve.events.tolist() == [3, 1, 1, 1, 1, 1, 1]
    assert curve.estimate == pytest.approx([0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482], abs=5e-5)
    assert curve.standard_error == pytest.approx([0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346], abs=5e-5)


def test_kaplan_meier_of_the_placebo_group_falls_to_nothing() -> None:
    curve = kaplan_meier(*freireich(1))
    printed = [0.9048, 0.8095, 0.7619, 0.6667, 0.5714, 0.3810, 0.2857, 0.1905, 0.1429, 0.0952, 0.0476, 0.0]

    assert curve.days.tolist() == [1, 2, 3, 4, 5, 8, 11, 12, 15, 17, 22, 23]
    assert curve.estimate == pytest.approx(printed, abs=5e-5)


@pytest.mark.parametrize(
    ("expected", "inner", "outer"),
    [(10.0, (0.3775, 1.6160), (0.1221, 2.0662)), (20.0, (0.5603, 1.4373), (0.3585, 1.7357))],
)
def test_poisson_funnel_limits(expected: float, inner: tuple[float, float], outer: tuple[float, float]) -> None:
    """Spiegelhalter 2005, Stat. Med. 24:1185, appendix (interpolated), for a ratio of observed to expected; values
    computed with another program."""
    assert [float(poisson_limit(expected, p)) for p in P_95] == pytest.approx(inner, abs=1e-4)
    assert [float(poisson_limit(expected, p)) for p in P_998] == pytest.approx(outer, abs=2e-4)


def test_over_dispersion_of_five_units_by_hand() -> None:
    """Shares 14/50, 4/80, 18/100, 6/120, 9/150: θ 0.102, φ 6.5461, τ² 0.0067755 (by hand, none drawn in)."""
    n, y = np.array([50, 80, 100, 120, 150]), np.array([14, 4, 18, 6, 9])
    target = y.sum() / n.sum()
    error = np.sqrt(target * (1 - target) / n)

    phi, tau2 = over_dispersion((y / n - target) / error, error, winsor=0.0)

    assert phi == pytest.approx(6.5461, abs=5e-5)
    assert tau2 == pytest.approx(0.0067755, abs=5e-8)


BCG = np.array(
    [
        (4, 119, 11, 128),
        (6, 300, 29, 274),
        (3, 228, 11, 209),
        (62, 13536, 248, 12619),
        (33, 5036, 47, 5761),
        (180, 1361, 372, 1079),
        (8, 2537, 10, 619),
        (505, 87886, 499, 87892),
        (29, 7470, 45, 7232),
        (17, 1699, 65, 1600),
        (186, 50448, 141, 27197),
        (5, 2493, 3, 2338),
        (27, 16886, 29, 17825),
    ]
)


def test_random_effects_of_the_bcg_trials() -> None:
    """Colditz et al. 1994, 13 trials, log risk ratios; DerSimonian-Laird figures of the common R package (from memory):
    Q 152.2330, I² 92.12 %, τ² 0.3088, mean −0.7141."""
    a, b, c, d = BCG.T
    effect = np.log(a / (a + b)) - np.log(c / (c + d))
    error = np.sqrt(1 / a - 1 / (a + b) + 1 / c - 1 / (c + d))

    pooled = random_effects(effect, error)

    assert pooled.q == pytest.approx(152.2330, abs=5e-5)
    assert pooled.i_squared == pytest.approx(0.9212, abs=5e-5)
    assert pooled.tau**2 == pytest.approx(0.3088, abs=5e-5)
    assert pooled.mean == pytest.approx(-0.7141, abs=5e-5)
    assert pooled.prediction_low < pooled.low < pooled.high < 0 < pooled.prediction_high


def test_e_values_of_the_paper() -> None:
    """VanderWeele & Ding 2017, Ann. Intern. Med. 167:268: risk ratio 3.9 (1.8 to 8.7) has 7.26 and 3.0."""
    assert e_value(3.9) == pytest.approx(7.26, abs=0.005)
    assert e_value(1.8) == pytest.approx(3.0, abs=0.005)
    assert e_value(1 / 3.9) == pytest.approx(e_value(3.9))


THROMBOLYSIS = np.array(
    [
        0.0001,
        0.0004,
        0.0019,
        0.0095,
        0.0201,
        0.0278,
        0.0298,
        0.0344,
        0.0459,
        0.3240,
        0.4262,
        0.5719,
        0.6528,
        0.7590,
        1.0,
    ]
)
"""Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57:289, section 3.2: fifteen comparisons."""


def test_four_of_fifteen_are_kept_in_the_example_of_benjamini_and_hochberg() -> None:
    """At level 0.05, as printed. At 0.065 the step up matters: the seventh and eighth (0.0298 x 15/7 = 0.06386,
    0.0344 x 15/8 = 0.06450) bring the sixth with them, which by itself stands at 0.0278 x 15/6 = 0.0695."""
    q = q_values(THROMBOLYSIS)

    assert (q <= 0.05).tolist() == [True] * 4 + [False] * 11
    assert (q <= 0.065).tolist() == [True] * 8 + [False] * 7
    assert q[4:8] == pytest.approx([0.0603, 0.06385714, 0.06385714, 0.0645], abs=1e-8)


def test_q_values_stand_in_the_order_asked_and_what_is_not_known_does_not_count() -> None:
    """0.04 and 0.03 of two: 0.03 x 2/1 = 0.06, 0.04 x 2/2 = 0.04, so both 0.04; with a third that is not known too."""
    assert q_values(np.array([0.04, np.nan, 0.03])) == pytest.approx([0.04, np.nan, 0.04], nan_ok=True)
    assert np.isnan(q_values(np.array([np.nan, np.nan]))).all()
    assert q_values(np.zeros(0)).shape == (0,)
