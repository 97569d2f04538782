"""The simple peers, by hand, and calibrated like the model they are held against."""

from __future__ import annotations

import numpy as np
import pytest

from models.quote.base.targets import SPECS, Placement
from models.quote.estimator import peers
from models.quote.estimator.groups import SIZE_BANDS, size_band
from models.quote.estimator.peers import PEERS, calibrated_peer
from models.survey_features import FEATURES, POSITION

SPEC = SPECS["magnetite_kg"]


def _x(emitters: list[float], vented: list[float]) -> np.ndarray:
    x = np.full((len(emitters), len(FEATURES)), np.nan)
    x[:, POSITION["emitter_count"]] = emitters
    x[:, POSITION["system_type=open_vented"]] = vented
    x[:, POSITION["system_type=sealed"]] = 1 - np.array(vented)
    return x


@pytest.mark.parametrize("emitters", range(3, 20))
def test_size_bands_are_those_of_their_names(emitters: int) -> None:
    name, low, high = SIZE_BANDS[size_band(_x([emitters], [0]))[0]]

    assert low <= emitters <= high
    assert str(int(low) or int(high)) in name


def test_per_emitter_peer_by_hand() -> None:
    peer = PEERS["per_emitter"](SPEC, _x([5, 10, 20], [0, 0, 0]), np.array([1.0, 3.0, 2.0]))

    # kilograms per emitter 0.2, 0.3, 0.1: median 0.2
    assert np.exp(peer.place(_x([8], [0])).centre) - 0.02 == pytest.approx([1.6])


def test_group_median_peer_by_hand() -> None:
    x = _x([5] * 5 + [10] * 6, [0] * 5 + [1] * 6)
    y = np.array([1.0, 2, 3, 4, 5, 10, 11, 12, 13, 14, 15])

    peer = PEERS["group_median"](SPEC, x, y)

    found = np.exp(peer.place(_x([6, 12, 12], [0, 1, 0])).centre) - 0.02
    # small sealed: median 3; middling open-vented: between 12 and 13 on the log scale; unseen cell: overall
    assert found == pytest.approx([3.0, np.sqrt(12.02 * 13.02) - 0.02, 10.0])


def test_linear_peer_follows_a_power_of_the_count_roughly() -> None:
    emitters = np.random.default_rng(0).integers(4, 20, 300).astype(float)
    x = _x(list(emitters), [0.0] * 300)

    peer = PEERS["linear"](SPEC, x, np.exp(0.1 * emitters) - 0.02)

    assert peer.place(_x([6, 16], [0, 0])).centre == pytest.approx([0.6, 1.6], abs=0.02)


def test_a_peer_has_the_median_and_spread_of_its_calibration_jobs() -> None:
    rng = np.random.default_rng(1)
    x = _x([10.0] * 400, [0.0] * 400)
    y = np.exp(rng.normal(1, 0.3, 400))

    peer = calibrated_peer(SPEC, "per_emitter", x, y, np.arange(400) % 5)

    found = peer.quantiles(x[:1], [0.1, 0.5, 0.9])[0]
    assert found == pytest.approx(np.quantile(y, [0.1, 0.5, 0.9]), rel=0.03)


def test_a_peer_that_learns_by_heart_gains_nothing_by_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """It tells every job it was fitted on to the gram, and 1 kg of all others."""

    class ByHeart:
        def __init__(self, x: np.ndarray, y: np.ndarray) -> None:
            self.seen = dict(zip(x[:, POSITION["age_years"]], np.log(y + SPEC.offset), strict=True))

        def place(self, x: np.ndarray) -> Placement:
            centre = [self.seen.get(age, np.log(1 + SPEC.offset)) for age in x[:, POSITION["age_years"]]]
            return Placement(np.array(centre), np.ones(len(x)))

    monkeypatch.setattr(peers, "PEERS", {"by_heart": lambda spec, x, y: ByHeart(x, y)})
    x, y = _x([10.0] * 200, [0.0] * 200), np.exp(np.random.default_rng(1).normal(0, 0.5, 200))
    x[:, POSITION["age_years"]] = np.arange(200)

    low, high = calibrated_peer(SPEC, "by_heart", x, y, np.arange(200) % 5).ladder.quantiles([0.1, 0.9])

    # it tells 1 kg of each, so the errors are what the jobs gave
    assert high - low == pytest.approx(np.diff(np.quantile(np.log(y + SPEC.offset), [0.1, 0.9]))[0], rel=0.03)
