"""Ablation of the boosted forecast: what each candidate feature, and who leads, takes off the pinball loss.

    python -m tests.benchmarks.studies.study_features [JOBS] [SEED] [WORLD...]

Candidates are worked out from `ftr_quote` with the formulae of `models.physics` and rough constants of this file,
not the simulator's. Every variant is back-tested by rolling origins on the same jobs, its loss averaged over seeds of
the forest (one more column reshuffles the forest, which alone moves a loss by some 2 %). Prints how much lower the loss
is than the shipped model's, in per cent with one paired standard error, by world and over all worlds.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from models.physics.corrosion import magnetite_from_oxygen_g
from models.physics.oxygen import oxygen_solubility_mg_l
from models.physics.pipes import copper_bore_mm, square_law_resistance, velocity_m_s
from models.physics.water import density_kg_m3
from models.quantiles import LEVELS
from models.quote.base.past_jobs import History
from models.quote.base.quote_result import Target
from models.quote.base.targets import SPECS
from models.quote.estimator import boosted, ridge_on_log
from models.quote.estimator.engineer_effects import ENGINEER
from models.quote.estimator.fit_target import known_rows, learn_boosted
from models.scores import pinball
from models.splits import rolling_folds
from models.survey_features import FEATURE_NAMES, POSITION
from tests.benchmarks.bench_forecasts import past_of

Floats = NDArray[np.float64]
Columns = dict[str, Floats]

STUDIED: tuple[Target, ...] = ("magnetite_kg", "non_magnetic_kg", "flush_minutes")
SEEDS = (0, 1)
HEATING_DAYS = 200.0
PANEL_M2_PER_M = 2.0 * 1.7 * 0.6
"""Wetted steel of a metre of emitter: two faces of 1.7 panels 0.6 m high (assumption)."""
SHUTOFF_PA, MACHINE_SHARE, TAIL_M = 150e3, 0.8, 5.0
"""Rough machine: head without flow, part of it lost inside and in hoses, length of tails (assumption)."""


def candidates(past: History) -> dict[str, Columns]:
    """Features by the name of what they say, each a column (n,) or two, NaN where the survey leaves it open."""
    known = {name: past.x[:, at] for name, at in POSITION.items()}
    volume, top_ups, vented = (known[n] for n in ("system_volume_l", "topups_per_year", "system_type=open_vented"))
    steel = PANEL_M2_PER_M * known["emitter_count"] * known["mean_emitter_length_mm"] / 1000
    swelling = 1 - float(density_kg_m3(70.0) / density_kg_m3(20.0))
    cold, tank = (float(oxygen_solubility_mg_l(t)) / 1000 for t in (10.0, 20.0))
    # each top-up makes good what a cold system lacks; the tank of an open-vented one breathes twice a heating day
    oxygen = volume * swelling * (top_ups * cold + np.nan_to_num(vented) * 2 * HEATING_DAYS * tank)
    years = np.where(np.isfinite(known["years_since_clean"]), known["years_since_clean"], known["age_years"])
    most = np.nanmax(np.where(np.isfinite(steel), steel, 0.0)) * 0.2
    corrosion = np.minimum(magnetite_from_oxygen_g(oxygen * years, 0.5) / 1000 + 0.01 * steel * np.sqrt(years), most)
    return {
        "wetted steel": {"steel_m2": steel},
        "oxygen a year": {"oxygen_g_year": oxygen},
        "magnetite from oxygen": {"corrosion_kg": corrosion},
        "open to the tank": {"vented_volume_l": volume * vented},
        "debris in the water": {"water_g": volume * known["survey_turbidity_ntu"]},
        "flow at an emitter": _flow(known),
    }


def _flow(known: Columns) -> Columns:
    """Flow [L/min] and velocity [m/s] in the smallest tail: machine against tails, losses square in the flow."""
    bore = copper_bore_mm(np.clip(known["min_tail_bore_mm"], 8, 28))
    inside = MACHINE_SHARE * SHUTOFF_PA / known["machine_max_flow_l_min"] ** 2
    flow = np.sqrt(SHUTOFF_PA / (inside + square_law_resistance(TAIL_M, bore)))
    return {"reachable_l_min": flow, "tail_m_s": velocity_m_s(flow, bore)}


@contextmanager
def told(names: tuple[str, ...]) -> Iterator[None]:
    """More features at the end of every row, all of them amounts on the log scale."""
    everything, logs = (*FEATURE_NAMES, *names), np.append(ridge_on_log._LOG, [True] * len(names))
    with (
        patch.object(ridge_on_log, "FEATURE_NAMES", everything),
        patch.object(boosted, "FEATURE_NAMES", everything),
        patch.object(ridge_on_log, "_LOG", logs),
    ):
        yield


def losses(past: History, target: Target) -> Floats:
    """Pinball loss of every tested job (n,), the mean over `SEEDS`."""
    y, levels, found = past.targets[target], list(LEVELS.values()), []
    for fold in rolling_folds(past.days):
        before, test = known_rows(y, fold.before), known_rows(y, fold.test)
        runs = []
        for seed in SEEDS:
            model = learn_boosted(SPECS[target], past.x, y, past.days, before, seed=seed).model
            runs.append(pinball(y[test], model.quantiles(past.x[test], levels), levels))
        found.append(np.mean(runs, axis=0))
    return np.concatenate(found)


def variants(past: History) -> Iterator[tuple[str, History, tuple[str, ...]]]:
    """Name, jobs as that variant sees them, and the names of columns added."""
    nameless = past.x.copy()
    nameless[:, ENGINEER] = np.nan
    yield "without who leads", replace(past, x=nameless), ()
    for name, columns in candidates(past).items():
        yield f"with {name}", replace(past, x=np.column_stack([past.x, *columns.values()])), tuple(columns)


def line(label: str, gains: dict[Target, Floats]) -> str:
    told = [f"{t} {100 * g.mean():+6.2f} ± {100 * g.std() / np.sqrt(len(g)):.2f}" for t, g in gains.items()]
    return f"{label:<44}{'   '.join(told)}\n"


def main(jobs: int, seed: int, worlds: tuple[str, ...]) -> None:
    sys.stdout.write(f"{jobs} jobs, seed {seed}: per cent less loss than the shipped model\n")
    over_all: dict[str, dict[Target, list[Floats]]] = {}
    for world in worlds:
        with TemporaryDirectory() as folder:
            past = past_of(world, jobs, seed, Path(folder))
        shipped = {target: losses(past, target) for target in STUDIED}
        for name, seen, added in variants(past):
            with told(added):
                gains = {t: (shipped[t] - losses(seen, t)) / shipped[t].mean() for t in STUDIED}
            for target, gain in gains.items():
                over_all.setdefault(name, {}).setdefault(target, []).append(gain)
            sys.stdout.write(line(f"{world}: {name}", gains))
            sys.stdout.flush()
    for name, by_target in over_all.items():
        sys.stdout.write(line(f"all worlds: {name}", {t: np.concatenate(g) for t, g in by_target.items()}))


if __name__ == "__main__":
    warnings.filterwarnings("ignore")
    asked = sys.argv[1:]
    main(
        int(asked[0]) if asked else 1500,
        int(asked[1]) if len(asked) > 1 else 3,
        tuple(asked[2:]) or ("usual", "neglected_stock", "lazy_loggers"),
    )
