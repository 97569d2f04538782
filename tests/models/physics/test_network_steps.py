"""With losses that are lines, one step is the answer: held against dense linear algebra."""

import numpy as np
import pytest

from models.physics.network_steps import Linear, Losses, ladder_step, loop_step

BRANCH, BESIDE, INNER, SHUTOFF = np.array([3.0, 5.0, 2.0, 4.0]), np.array([0.5, 0.8, 0.3, 0.9]), 1.5, 100.0
OPENED = np.array([True, True, False, True])


def column(values: np.ndarray) -> np.ndarray:
    return np.asarray(values, dtype=float)[:, None]


def test_one_step_solves_a_ladder_of_straight_lines():
    flow = column([1.0, 2.0, 0.0, 3.0])
    through = np.cumsum(flow[::-1], axis=0)[::-1]
    source = Linear(SHUTOFF - INNER * through[0], np.array([-INNER]))
    mains, branch = Losses(column(BESIDE) * through, column(BESIDE)), Losses(column(BRANCH) * flow, column(BRANCH))

    new, total = ladder_step(source, mains, branch, flow, through, column(OPENED) > 0)

    # SHUTOFF = INNER Q + Σ up to k (BESIDE_j · flow beyond j) + BRANCH_k q_k, for every open k
    before = np.minimum.outer(np.arange(4), np.arange(4))
    matrix = INNER + np.cumsum(BESIDE)[before] + np.diag(BRANCH)
    exact = np.linalg.solve(matrix[np.ix_(OPENED, OPENED)], np.full(3, SHUTOFF))
    assert new[OPENED, 0] == pytest.approx(exact, rel=1e-12)
    assert new[2, 0] == 0
    assert total[0] == pytest.approx(exact.sum(), rel=1e-12)


def test_one_step_solves_a_loop_of_straight_lines():
    flow, total = column([1.0, 4.0, 0.0, 2.0]), np.array([20.0])
    source = Linear(SHUTOFF - INNER * total, np.array([-INNER]))
    bypass = Losses(column(BESIDE) * (total - flow), column(BESIDE))
    branch = Losses(column(BRANCH) * flow, column(BRANCH))
    uneven = np.where(column(OPENED) > 0, branch.loss - bypass.loss, 0.0)

    step, total_step = loop_step(source, bypass, branch, uneven, column(OPENED) > 0)

    # an open emitter and its stretch of loop are two resistances side by side
    pairs = np.where(OPENED, BRANCH * BESIDE / (BRANCH + BESIDE), BESIDE)
    exact = SHUTOFF / (INNER + pairs.sum())
    assert (total + total_step)[0] == pytest.approx(exact, rel=1e-12)
    assert (flow + step)[:, 0] == pytest.approx(np.where(OPENED, exact * BESIDE / (BRANCH + BESIDE), 0.0), rel=1e-12)
