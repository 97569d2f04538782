"""What the water lifts and drops in each configuration: grain classes, stress along the bottom header, tables.

Four classes of debris: fine, medium and flake magnetite, and what is not magnetic (sand, cement, scale).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from models.physics import sediment
from models.physics.emitters import bottom_header_velocity_m_s
from models.physics.release import burst_rate_per_min
from models.physics.water import density_kg_m3
from pipeline.contract.job_log import CONNECTIONS
from pipeline.contract.units import MM_PER_M
from synthetic_data.crew.crew import Plans
from synthetic_data.flush.network import BAND_C, STATION, Flows, half_drained_mask
from synthetic_data.house.fouling import HEADER_BORE_MM
from synthetic_data.house.house import PANEL_COUNT, Floats, Houses, Ints
from synthetic_data.parameters import ReleaseParameters

FINE, MEDIUM, FLAKE, OTHER = range(4)
CLASSES = 4
PLACES = np.array([0.04, 0.2, 0.5])
PLACE_WEIGHT = np.array([0.2, 0.4, 0.4])
"""Where along the bottom header stress is taken, both halves alike, and how much of its length each stands for."""

_BOTH_AGITATIONS = 1.6
THROUGH_VALVES = CONNECTIONS.index("emitter_valves")
NULL_STRESS_PA, NULL_LOOSEN = 1.5, 0.3
"""Stress, and share of the loosening rate, of every emitter where practices do nothing (assumption)."""


@dataclass(frozen=True, slots=True)
class Tables:
    """Rates by band, configuration (station 0, all 1), row and emitter; see `network.Flows` for rows.

    `lift` (band, 2, rows, 4, emitters) [1/min]; `drop` (the same) share of the carried grains that settles there
    in one turn of the circuit at full flow; `loosen` (band, 2, rows, emitters) at 50 °C and label dose [1/min];
    `loosen_shut` the same where no water flows.
    """

    lift: Floats
    drop: Floats
    loosen: Floats
    loosen_shut: float


def sizes_mm(p: ReleaseParameters) -> Floats:
    """Grain size of each class [mm]."""
    return np.array([p.fine_um, p.medium_um, p.flake_um, p.sand_um]) / MM_PER_M


def clouding(p: ReleaseParameters) -> Floats:
    """How far a gram of each class clouds the water against a gram of fines, shape (4,): 1 / (density × diameter).

    Sand of 0.3 mm: 0.13 of magnetite of 20 µm.
    """
    grain = np.array([sediment.DENSITY_KG_M3[name] for name in ("magnetite", "magnetite", "magnetite", "sand")])
    per_gram = 1.0 / (grain * sizes_mm(p))
    return np.asarray(per_gram / per_gram[FINE])


def class_shares(p: ReleaseParameters) -> Floats:
    """Shares of loose magnetite by class, shape (4,), the last 0; what lies sheltered counts as flakes."""
    flake = max(1.0 - p.fine_share - p.medium_share, 0.0)
    usual = np.array([p.fine_share, p.medium_share, flake, 0.0]) / (p.fine_share + p.medium_share + flake)
    return np.asarray((1.0 - p.two_speeds) * usual + p.two_speeds * (np.arange(CLASSES) == FLAKE))


def thresholds_pa(temp_c: float, p: ReleaseParameters) -> Floats:
    """Stress at which a settled bed of each class begins to move [Pa]: Soulsby's for clean grains times cohesion."""
    grain = np.array([sediment.DENSITY_KG_M3[name] for name in ("magnetite", "magnetite", "magnetite", "sand")])
    clean = sediment.critical_shear_pa(sizes_mm(p), grain, density_kg_m3(temp_c), sediment.water_m2_s(temp_c))
    return np.asarray(clean * p.cohesion)


def fall_m_s(temp_c: float, p: ReleaseParameters) -> Floats:
    """Velocity at which grains of each class fall [m/s]; Soulsby."""
    grain = np.array([sediment.DENSITY_KG_M3[name] for name in ("magnetite", "magnetite", "magnetite", "sand")])
    return sediment.settling_velocity_m_s(sizes_mm(p), grain, density_kg_m3(temp_c), sediment.water_m2_s(temp_c))


def moving_share(stress_pa: Floats, threshold_pa: Floats, sd_log: float) -> Floats:
    """Share of a class that a stress (..., n) keeps moving, by threshold (4,): lognormal spread; shape (..., n, 4)."""
    ratio = np.maximum(stress_pa, 1e-12)[..., None] / threshold_pa
    return np.asarray(ndtr(np.log(ratio) / sd_log))


def burst_share(agitation: Ints, p: ReleaseParameters) -> Floats:
    """Part of each minute in which agitation bursts, by index into `job_log.AGITATIONS`."""
    return np.asarray(p.burst_share * np.array([0.0, 1.0, 1.0, _BOTH_AGITATIONS]))[agitation]


def _null_tables(flows: Flows, p: ReleaseParameters) -> Tables:
    """Where practices do nothing: the same rates whatever was done; lift is shared by the open emitters."""
    opened = flows.branch[0] > 0.0
    share = np.where(opened, 1.0 / np.maximum(opened.sum(axis=2), 1)[..., None], 0.0)
    calm = moving_share(np.array([NULL_STRESS_PA]), thresholds_pa(BAND_C[1], p), p.threshold_sd_log)[0]
    lift = p.lift_per_min * share[:, :, None, :] * calm[:, None]
    bands = len(BAND_C)
    still = np.zeros((bands, *lift.shape))
    loosen = NULL_LOOSEN * p.loosen_per_min
    return Tables(still + lift, still, np.full((bands, *share.shape), loosen), loosen)


def build_tables(
    houses: Houses, plans: Plans, flows: Flows, station_of: Ints, practice_effect: float, p: ReleaseParameters
) -> Tables:
    """Rates of every configuration that was solved."""
    if practice_effect < 1.0:
        return _null_tables(flows, p)
    shape = flows.branch.shape
    by_class = (*shape[:3], CLASSES, shape[3])
    tables = Tables(np.zeros(by_class), np.zeros(by_class), np.zeros(shape), p.loosen_per_min * p.loosen_floor)
    drained = half_drained_mask(houses, plans)
    for band, temp_c in enumerate(BAND_C.tolist()):
        which, row, emitter = np.nonzero(flows.branch[band] > 0.0)
        j = flows.job[row]
        flow, length_mm = flows.branch[band, which, row, emitter], houses.length_mm[j, emitter]
        speed = bottom_header_velocity_m_s(
            flow[:, None],
            PANEL_COUNT[houses.kind[j, emitter]][:, None],
            length_mm[:, None],
            PLACES,
            drained[j, emitter][:, None],
        )
        calm, lifted = _lifted(speed, temp_c, plans, j, p)
        mean_m_s = speed @ PLACE_WEIGHT
        through = flow / flows.total[band, row, np.where(which == STATION, station_of[j, emitter], -1)]
        seconds = length_mm / MM_PER_M / np.maximum(mean_m_s, 1e-6)
        reach = -np.expm1(-fall_m_s(temp_c, p) * seconds[:, None] / (HEADER_BORE_MM / MM_PER_M))
        pace = np.minimum(mean_m_s / p.reference_m_s, 1.5)
        at = (band, which, row)
        tables.lift[(*at, slice(None), emitter)] = lifted
        drop = p.resettle * (1.0 - calm) * reach
        # what a joint through valves holds back lies before them until it is bumped: in the beds that are open
        strained = p.valve_strain * (plans.connection[j] == THROUGH_VALVES)
        drop[:, [FLAKE, OTHER]] = 1.0 - (1.0 - drop[:, [FLAKE, OTHER]]) * (1.0 - strained[:, None])
        tables.drop[(*at, slice(None), emitter)] = drop * through[:, None]
        tables.loosen[(*at, emitter)] = p.loosen_per_min * (p.loosen_floor + (1.0 - p.loosen_floor) * pace)
    return tables


def _lifted(speed: Floats, temp_c: float, plans: Plans, job: Ints, p: ReleaseParameters) -> tuple[Floats, Floats]:
    """Share of each class that keeps moving without bursts, and the rate of lift [1/min]; shape (n, 4).

    `speed` (n, 3) along the bottom header [m/s].
    """
    stress, threshold = sediment.wall_shear_pa(speed, HEADER_BORE_MM, temp_c), thresholds_pa(temp_c, p)
    calm, burst = (
        np.einsum("npk,p->nk", moving_share(factor * stress, threshold, p.threshold_sd_log), PLACE_WEIGHT)
        for factor in (1.0, p.burst_factor)
    )
    mean = burst_rate_per_min(calm, burst, burst_share(plans.agitation, p)[job][:, None])
    slow = np.array([1.0, 1.0, p.sheltered_factor if p.two_speeds > 0.0 else 1.0, 1.0])
    gain = (1.0 + p.reversal_gain * plans.reversed)[job][:, None]
    return calm, np.asarray(p.lift_per_min * slow * gain * mean)
