"""Job logs of a world made of plain statistical laws: it shares nothing with the simulator or the models' physics.

Debris is log-normal in the number of emitters with heavy-tailed noise whose width differs by kind of system; a hidden
trait of the house multiplies one kind of emitter's share and stands nowhere in the log; some jobs have no magnetite at
all, many no other debris; one job in ten takes much longer for no reason written down. Answers are missing as each
engineer is careless. Masses come as weighings in parts, wet by a ratio that varies or dry. None of it is meant to be
true of any house.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl

_FIRST = np.datetime64("2019-01-07")
_DAYS = 2000
_CARELESS = np.array([0.05, 0.15, 0.3, 0.6])
"""Share of survey answers that each of four engineers leaves out."""

Columns = dict[str, np.ndarray]


def write_logs(folder: Path, jobs: int, seed: int = 0) -> None:
    """Job-log tables as CSV files of one firm, `folder` made if needed."""
    rng = np.random.default_rng(seed)
    houses = _houses(rng, jobs)
    amounts = _amounts(rng, houses)
    folder.mkdir(parents=True, exist_ok=True)
    pl.DataFrame(_jobs(rng, houses, amounts)).write_csv(folder / "jobs.csv")
    pl.DataFrame(_emitters(rng, houses)).write_csv(folder / "emitters.csv")
    pl.DataFrame(_catches(rng, houses, amounts)).write_csv(folder / "catches.csv")
    pl.DataFrame(_readings(houses)).write_csv(folder / "readings.csv")


def _houses(rng: np.random.Generator, n: int) -> Columns:
    emitters = 3 + rng.negative_binomial(4, 0.35, n)
    age = np.minimum(1 + rng.gamma(1.6, 11, n), 70).round()
    return {
        "day": np.sort(_FIRST + rng.integers(0, _DAYS, n)),
        "emitters": emitters,
        "columns": rng.binomial(emitters, rng.beta(0.4, 1.2, n)),
        "cold": rng.binomial(emitters, rng.beta(1.2, 5, n)),
        "age": age,
        "vented": rng.random(n) < 0.45,
        "topups": rng.poisson(rng.gamma(1.0, 1.8, n)),
        "inhibitor": rng.random(n) < 0.4,
        "hidden": rng.normal(0, 1, n),
        "engineer": rng.integers(0, 4, n),
    }


def _amounts(rng: np.random.Generator, h: Columns) -> Columns:
    n, share = len(h["age"]), h["columns"] / h["emitters"]
    centre = -2.6 + 0.85 * np.log(h["emitters"]) + 0.45 * np.log(h["age"]) + 1.2 * h["cold"] / h["emitters"]
    centre = centre - 0.35 * h["inhibitor"] + 0.7 * (h["vented"] & (h["topups"] >= 3)) + 0.4 * share * h["hidden"]
    noise = rng.standard_t(4, n) * (0.22 + 0.3 * h["vented"])
    magnetite = np.where(rng.random(n) < 0.04, 0.0, np.exp(np.clip(centre + noise, -5, 3.2)))
    other = np.exp(-2.2 + 0.5 * np.log(h["emitters"]) + 0.8 * rng.standard_t(5, n))
    flush = (45 + 9 * h["emitters"] ** 1.05 + 25 * np.sqrt(magnetite)) * rng.gamma(30, 1 / 30, n)
    flush = flush * np.where(rng.random(n) < 0.1, rng.uniform(1.3, 2, n), 1)
    flush = flush * np.array([1, 1.15, 0.9, 1.0])[h["engineer"]]
    return {
        "magnetite_kg": magnetite,
        "other_kg": np.where(rng.random(n) < 0.4, 0.0, np.minimum(other, 8)),
        "flush": np.clip(flush, 30, 600).round(),
        "before": (20 + rng.gamma(4, 6, n)).round(),
        "after": (15 + rng.gamma(3, 7, n)).round(),
    }


def _jobs(rng: np.random.Generator, h: Columns, amounts: Columns) -> dict[str, list[object]]:
    start = h["day"].astype("datetime64[m]") + np.timedelta64(9 * 60, "m")
    ended = start + amounts["flush"].astype("timedelta64[m]")
    surveyed: dict[str, np.ndarray] = {
        "install_year": h["day"].astype("datetime64[Y]").astype(int) + 1970 - h["age"].astype(int),
        "topups_per_year": h["topups"],
        "inhibitor_at_survey": np.where(h["inhibitor"], "yes", "no"),
        "floor_count": rng.integers(1, 4, len(start)),
        "property_kind": rng.choice(["house", "flat", "terrace"], len(start)),
        "survey_ph": rng.normal(7.8, 0.5, len(start)).round(1),
        "survey_iron_mg_l": np.exp(rng.normal(2 + 0.2 * h["hidden"], 1)).round(1),
        "boiler_output_kw": (1.8 * h["emitters"] * np.exp(rng.normal(0, 0.2, len(start)))).round() + 4,
    }
    careless = _CARELESS[h["engineer"]]
    return {
        "job_id": _ids(len(start)),
        "engineer_id": [f"E{i}" for i in h["engineer"]],
        "crew_size": list(1 + (rng.random(len(start)) < 0.3)),
        "system_type": list(np.where(h["vented"], "open_vented", "sealed")),
        "visit_date": list(h["day"].astype(str)),
        "arrived_at": _times(start - amounts["before"].astype("timedelta64[m]")),
        "flush_started_at": _times(start),
        "flush_ended_at": _times(ended),
        "left_at": _times(ended + amounts["after"].astype("timedelta64[m]")),
        "isolation": list(rng.choice(["one_at_a_time", "all_open"], len(start))),
        **{name: _forgotten(rng, values, careless) for name, values in surveyed.items()},
    }


def _forgotten(rng: np.random.Generator, values: np.ndarray, careless: np.ndarray) -> list[object]:
    gone = rng.random(len(values)) < careless
    return [None if miss else value for miss, value in zip(gone, values.tolist(), strict=True)]


def _emitters(rng: np.random.Generator, h: Columns) -> dict[str, list[object]]:
    job = np.repeat(np.arange(len(h["age"])), h["emitters"])
    number = np.concatenate([np.arange(1, count + 1) for count in h["emitters"]])
    return {
        "job_id": [f"W{i:05d}" for i in job],
        "emitter_no": number.tolist(),
        "emitter_kind": np.where(number <= h["columns"][job], "column", "panel_21").tolist(),
        "height_mm": rng.choice([450, 600], len(job)).tolist(),
        "length_mm": (100 * rng.integers(4, 20, len(job))).tolist(),
        "cold_at_survey": np.where(number <= h["cold"][job], "yes", "no").tolist(),
    }


def _catches(rng: np.random.Generator, h: Columns, amounts: Columns) -> dict[str, list[object]]:
    names = ("job_id", "catch_no", "caught_at", "trap", "mass_g", "weighed")
    rows: dict[str, list[object]] = {name: [] for name in names}
    for i, minutes in enumerate(amounts["flush"]):
        parts = [("magnet", part) for part in rng.dirichlet(np.ones(4)) * amounts["magnetite_kg"][i]]
        parts.append(("strainer", amounts["other_kg"][i]))
        for number, (trap, dry_kg) in enumerate(parts, start=1):
            is_dry = rng.random() < 0.25
            grams = round(1000 * dry_kg * (1 if is_dry else rng.uniform(1.6, 2.4)), 1)
            at = h["day"][i].astype("datetime64[m]") + np.timedelta64(int(540 + minutes * number / len(parts)), "m")
            when, weighed = str(at).replace("T", " "), "dry" if is_dry else "wet"
            values = (f"W{i:05d}", number, when, trap, grams, weighed)
            for name, value in zip(rows, values, strict=True):
                rows[name].append(value)
    return rows


def _readings(h: Columns) -> dict[str, list[object]]:
    start = h["day"].astype("datetime64[m]") + np.timedelta64(9 * 60 + 15, "m")
    return {"job_id": _ids(len(start)), "read_at": _times(start), "flow_l_min": [18.0] * len(start)}


def _ids(n: int) -> list[object]:
    return [f"W{i:05d}" for i in range(n)]


def _times(values: np.ndarray) -> list[object]:
    return [str(value).replace("T", " ") for value in values.astype("datetime64[m]")]
