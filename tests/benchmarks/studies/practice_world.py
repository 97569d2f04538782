"""A small, quick world with known effects of practices, for studying the audit: tables of a build, and the truth.

Not the simulator: no flow, no debris, no flush; numbers of its own. Every confounder is on record (in part with empty
cells, and the crews then went without it too), hazards bend and interact, engineers differ in skill and habit,
follow-up ends by the calendar and by tenants leaving, other causes compete. All effects can be switched off, and a
care that nobody writes down switched on. Numbers are made up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.practice.cohort.audited_jobs import PracticeFrames

Floats = NDArray[np.float64]
YEAR = 365.25
EFFECTS = {  # log hazard ratios
    "filter_fitted:on_return|none": -0.65,
    "inhibitor_dosed:yes|no": -0.3,
    "predose_days:7|0": -0.35,
    "isolation:one_at_a_time|all_open": -0.5,
    "heat_source:boiler|none": 0.0,
    "agitation:vibration|none": 0.45,
    "flow_reversed:yes|no": 0.0,
    "strainer_checked:yes|no": -0.2,
}
PUSH = dict.fromkeys(EFFECTS, 1.4)
"""How far the choice follows the looks of a system, on the logit scale."""
COLUMNS = {name: name.split(":")[0] for name in EFFECTS}


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """Tables as a build has them; by contrast the true risk of every job with and without it (jobs, 2), and its true
    chance of being done (jobs,) given all that moves the choice; `in_year`: had all been followed, who called back."""

    frames: PracticeFrames
    risks: dict[str, Floats]
    chances: dict[str, Floats]
    in_year: NDArray[np.bool_]

    def luck(self, contrast: str, rows: NDArray[np.int64], done: NDArray[np.bool_]) -> float:
        """How far chance alone moves an effect among `rows` (n,), `done` (n,) with the practice: expected to be 0.

        What weighting by the true chance says of the callbacks of the whole year, less the true effect.
        """
        chance, risk = self.chances[contrast][rows], self.risks[contrast][rows]
        off = self.in_year[rows] - np.where(done, risk[:, 0], risk[:, 1])
        return float(np.mean(np.where(done, off / chance, -off / (1 - chance))))


def draw_world(seed: int, jobs: int = 2000, *, effect: float = 1.0, hidden: float = 0.0, trend: float = 0.0) -> World:
    """One firm. `effect` scales every effect (0: none); `hidden` moves choices and callbacks by care on no record;
    `trend`: practices are taken up, and callbacks fall, by this much a year on logit and log scale."""
    rng = np.random.default_rng([seed, 77])
    engineers = max(jobs // 100, 4)
    who = rng.integers(engineers, size=jobs)
    skill, habit = rng.standard_normal(engineers), 0.7 * rng.standard_normal((len(EFFECTS), engineers))
    years = rng.uniform(0.02, 5.0, jobs)  # before the last day of all
    quote, looks, log_hazard = _houses(rng, jobs, years)
    care, late = rng.standard_normal(jobs), trend * (2.5 - years)
    did, chances = np.zeros((len(EFFECTS), jobs), dtype=bool), {}
    for at, name in enumerate(EFFECTS):
        logit = PUSH[name] * looks + habit[at, who] + 0.2 * skill[who] + hidden * care + late
        chances[name] = 1 / (1 + np.exp(-logit))
        did[at] = rng.random(jobs) < chances[name]
    vented = (quote["system_type"] == "open_vented").to_numpy(dtype=bool)
    gains = np.array([[effect * size] * jobs for size in EFFECTS.values()])
    gains[0] *= np.where(vented, 1.3, 0.85)  # the filter does more where air gets in
    total = log_hazard - 0.15 * skill[who] - hidden * 0.6 * care - late + (gains * did).sum(axis=0)
    risks = {
        name: np.column_stack([_risk(total + gains[at] * (way - did[at])) for way in (1, 0)])
        for at, name in enumerate(EFFECTS)
    }
    outcome, callback, in_year = _follow(rng, np.exp(total), quote, years, did)
    plan = _plan(quote, did, who)
    quote["predose_days"] = np.where(did[2], 7.0, 0.0)
    for name in ("isolation", "heat_source", "agitation"):
        quote[name] = plan.pop(name)
    return World(PracticeFrames(plan, quote, outcome, callback), risks, chances, in_year)


def _risk(log_hazard: Floats) -> Floats:
    return np.asarray(-np.expm1(-np.exp(log_hazard) * 365 / YEAR))


def _houses(rng: np.random.Generator, jobs: int, years: Floats) -> tuple[pd.DataFrame, Floats, Floats]:
    """Survey answers; how bad each looks to the crew (about −1.5..1.5); log hazard a year without any practice."""
    z = rng.standard_normal((6, jobs))
    emitters = np.clip(np.round(10 + 3.5 * z[0]), 3, 26)
    age, vented = rng.uniform(2, 45, jobs), rng.random(jobs) < 0.4
    topups = rng.poisson(np.where(vented, 1.0, 3.0)).astype(float)
    dirt = 0.04 * (age - 20) + 0.15 * topups + 0.5 * vented + 0.6 * z[1]
    cold = np.clip(0.25 + 0.18 * dirt + 0.12 * z[2], 0, 1)
    turbidity = np.where(rng.random(jobs) < 0.65, np.exp(4.6 + 0.6 * dirt + 0.5 * z[3]), np.nan)
    cloudy = np.where(np.isnan(turbidity), 0.0, (np.log(np.nan_to_num(turbidity, nan=100.0)) - 4.7) / 0.9)
    looks = 2.4 * (cold - 0.3) + 0.45 * cloudy + 0.02 * (age - 23) + 0.25 * z[4]
    micro = rng.random(jobs) < 0.15
    log_hazard = -2.35 + 0.45 * dirt + 0.6 * micro + 0.5 * np.maximum(cold - 0.4, 0) / 0.2 + 0.03 * (emitters - 10)
    log_hazard = log_hazard - 0.3 * (vented & (age > 30))
    kinds = np.array(["house", "bungalow", "flat", "terrace"])[rng.choice(4, jobs, p=(0.5, 0.1, 0.2, 0.2))]
    frame = pd.DataFrame(
        {
            "firm_id": "own",
            "job_id": [f"J{at:06d}" for at in range(jobs)],
            "visit_date": pd.Timestamp("2031-01-01") - pd.to_timedelta((years * YEAR).astype(int), "D"),
            "is_simulated": True,
            "system_volume_l": np.exp(4.6 + 0.08 * (emitters - 10) + 0.2 * z[5]),
            "emitter_count": emitters,
            "mean_emitter_length_mm": 900 + 100 * rng.standard_normal(jobs),
            "panel_share": rng.uniform(0.6, 1, jobs),
            "cold_share": cold,
            "cold_count": np.round(cold * emitters),
            "floor_count": rng.integers(1, 4, jobs).astype(float),
            "property_kind": kinds,
            "system_type": np.where(vented, "open_vented", "sealed"),
            "pipe_layout": np.where(micro, "microbore_manifold", "two_pipe"),
            "main_bore_mm": 22.0,
            "min_tail_bore_mm": np.where(micro, 8.0, 15.0),
            "boiler_kind": rng.choice(["system", "combi"], jobs),
            "age_years": age,
            "years_since_clean": age,
            "was_cleaned_before": False,
            "inhibitor_at_survey": rng.random(jobs) < 0.5,
            "filter_at_survey": False,
            "known_building_debris": rng.random(jobs) < 0.1,
            "topups_per_year": topups,
            "survey_ph": np.nan,
            "survey_turbidity_ntu": turbidity,
            "survey_iron_mg_l": np.nan,
            "conductivity_excess_us_cm": np.nan,
            "water_known": ~np.isnan(turbidity),
            "crew_size": 1.0,
            "connection": None,
        }
    )
    return frame, looks, log_hazard


def _plan(quote: pd.DataFrame, did: NDArray[np.bool_], who: NDArray[np.int64]) -> pd.DataFrame:
    filters, inhibitor, _, isolation, heat, agitation, turned, strainer = did
    return pd.DataFrame(
        {
            "firm_id": quote["firm_id"],
            "job_id": quote["job_id"],
            "engineer_id": [f"E{at:03d}" for at in who],
            "filter_fitted": np.where(filters, "on_return", "none"),
            "inhibitor_dosed": inhibitor,
            "flow_reversed": turned,
            "half_drained_emitters": np.nan,
            "strainer_checked": strainer,
            "final_turbidity_ntu": np.nan,
            "final_iron_mg_l": np.nan,
            "isolation": np.where(isolation, "one_at_a_time", "all_open"),
            "heat_source": np.where(heat, "boiler", "none"),
            "agitation": np.where(agitation, "vibration", "none"),
        }
    )


def _follow(
    rng: np.random.Generator, hazard: Floats, quote: pd.DataFrame, years: Floats, did: NDArray[np.bool_]
) -> tuple[pd.DataFrame, pd.DataFrame, NDArray[np.bool_]]:
    jobs = len(hazard)
    lost = rng.standard_exponential(jobs) / np.where(quote["property_kind"] == "flat", 0.15, 0.05)
    followed = np.floor(np.minimum(years, lost) * YEAR)
    first, other = (np.ceil(rng.standard_exponential(jobs) / rate * YEAR) for rate in (hazard, 0.1))
    key = quote[["firm_id", "job_id"]]
    minutes = 300 + 12 * quote["emitter_count"].to_numpy() + 45 * did[3] + 40 * rng.standard_normal(jobs)
    callback = key.assign(
        followed_days=followed,
        first_debris_day=np.where(first <= followed, first, np.nan),
        first_other_day=np.where(other <= followed, other, np.nan),
        first_unknown_day=np.nan,
    )
    return key.assign(site_minutes=minutes, magnetite_kg=np.nan, non_magnetic_kg=np.nan), callback, first <= 365
