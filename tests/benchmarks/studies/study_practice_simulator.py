"""The practice audit in draws of the full simulator, held against its true effects.

    python -m tests.benchmarks.studies.study_practice_simulator OUT [scenario] [draws] [jobs]

Every draw knows the risk of each job with a practice and without it (half a minute a thousand jobs), so that the truth
is the mean over the very jobs that the audit compares. Coverage and verdicts are those of the audit as it stands. Bias
is told twice: `off` of its estimates, and `steady` with each job's true risk in the place of its callback or none, by
the same fits: most of the noise is gone, what confounds stays. `seen` is the same again with how bad the system looked
to the crew among the confounders, part of which no log holds: the distance between the two is hidden confounding.
Writes a row a draw and practice into `OUT/SCENARIO.csv` as it goes, begun again it goes on, and prints the table.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.practice.cohort.audited_jobs import PracticeFrames, Records, gather
from models.practice.cohort.confounders import MAIN, SURVEY, Known
from models.practice.cohort.contrasts import BY_NAME
from models.practice.effects.doubly_robust import Adjusted
from models.practice.effects.effect import judge, practice_effect
from models.practice.effects.estimators import Estimate, doubly_robust
from models.practice.nuisance.nuisance_fits import chances, expected, known_design
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from synthetic_data.crew.practices import CONTRASTS
from synthetic_data.simulate import simulate_to_folder

Floats = NDArray[np.float64]
TABLES = ("jobs", "ftr_quote", "ftr_outcome", "ftr_callback")
NAMES = tuple(each.name for each in CONTRASTS)
KEY = ["firm_id", "job_id"]


def one_draw(scenario: str, seed: int, jobs: int) -> pd.DataFrame:
    """Simulate, load, and weigh up the practices whose true effects are known."""
    with tempfile.TemporaryDirectory() as folder:
        written = simulate_to_folder(
            Path(folder) / "logs", jobs=jobs, seed=seed, scenario=scenario, format="parquet", effects=True
        )
        assert written.risks is not None
        risks, truth = pd.read_parquet(written.risks), pd.read_parquet(written.truth)
        book = Book(Path(folder) / "book")
        load([Path(folder) / "logs"], book)
        records = gather(PracticeFrames(*(read_table(book.current(), name) for name in TABLES)))
    looks = _beside(records, truth.drop_duplicates(KEY))["job_looks_bad"].to_numpy(dtype=float)
    pairs = [practice_effect(records, BY_NAME[name]) for name in NAMES]
    rows = []
    for each, (_, adjusted) in zip(judge([effect for effect, _ in pairs], 0.08), pairs, strict=True):
        if adjusted.kept is None or each.raw is None or each.difference is None:
            continue
        true = _beside(records, risks[risks["contrast"] == each.contrast]).iloc[adjusted.compared.rows]
        rows.append(
            {
                "seed": seed,
                "contrast": each.contrast,
                "estimate": each.difference,
                "low": each.low,
                "high": each.high,
                "error": each.standard_error,
                "verdict": each.verdict,
                "e_value": each.e_value,
                **_steady(records, adjusted, true, looks),
            }
        )
    return pd.DataFrame(rows)


def _beside(records: Records, table: pd.DataFrame) -> pd.DataFrame:
    return records.frame[KEY].merge(table, on=KEY, how="left")


def _steady(records: Records, adjusted: Adjusted, true: pd.DataFrame, looks: Floats) -> dict[str, float]:
    """Truth among the jobs compared; estimates from true risks, without and with what the crew saw; and the raw one."""
    assert adjusted.kept is not None
    kept, a = adjusted.kept, adjusted.compared.a
    risk = true["risk"].to_numpy(dtype=float)
    gain = (true["risk_with"] - true["risk_without"]).to_numpy(dtype=float)
    known = records.known.beside(adjusted.compared.contrast.column)
    return {
        "truth": float(gain[kept].mean()),
        "steady": _from_risk(records, adjusted, known, risk).difference,
        "seen": _from_risk(records, adjusted, _with_looks(known, looks), risk).difference,
        "raw_steady": float(risk[kept & a].mean() - risk[kept & ~a].mean()),
    }


def _with_looks(known: Known, looks: Floats) -> Known:
    more = np.column_stack([looks, (looks - looks.mean()) ** 2])
    more = (more - more.mean(axis=0)) / more.std(axis=0)
    names = [tuple([*each, "", ""]) for each in (known.label, known.known_as, known.practice)]
    return replace(
        known,
        x=np.column_stack([known.x, more]),
        block=np.r_[known.block, MAIN, MAIN],
        label=names[0],
        known_as=names[1],
        practice=names[2],
        stage=np.r_[known.stage, SURVEY, SURVEY],
    )


def _from_risk(records: Records, adjusted: Adjusted, known: Known, risk: Floats) -> Estimate:
    assert adjusted.kept is not None
    assert adjusted.fold is not None
    kept, a, fold = adjusted.kept, adjusted.compared.a, adjusted.fold
    design = known_design(known, adjusted.compared.rows, records.engineer)
    chance = np.clip(chances(design, a, fold)[kept], 0.02, 0.98)
    means = expected(design.rows(kept), a[kept], risk[kept], "logistic", fold[kept])
    return doubly_robust(risk[kept], a[kept], chance, *means)


def table(rows: pd.DataFrame) -> pd.DataFrame:
    """One row a practice, in points of 100 jobs; `steady_error` is that of the mean over draws."""
    told = rows.assign(
        holds=rows["truth"].between(rows["low"], rows["high"]),
        cuts=rows["verdict"] == "cuts callbacks",
        raises=rows["verdict"] == "raises callbacks",
        **{f"{name}_off": 100 * (rows[name] - rows["truth"]) for name in ("estimate", "steady", "seen", "raw_steady")},
    )
    by = told.groupby("contrast", sort=False)
    made = by[["estimate_off", "steady_off", "seen_off", "raw_steady_off", "holds", "cuts", "raises"]].mean()
    made.insert(0, "truth", 100 * by["truth"].mean())
    made.insert(0, "draws", by.size())
    made.insert(4, "steady_error", by["steady_off"].std() / np.sqrt(by.size()))
    made["spread"], made["error"], made["e_value"] = (
        by["estimate_off"].std(),
        100 * by["error"].mean(),
        by["e_value"].median(),
    )
    return made


def main(folder: str, scenario: str = "usual", draws: int = 10, jobs: int = 3000) -> None:
    """Run the draws that are not there yet and print the table."""
    out = Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    path = out / f"{scenario}.csv"
    for seed in range(1000, 1000 + draws):
        if path.is_file() and (pd.read_csv(path)["seed"] == seed).any():
            continue
        one_draw(scenario, seed, jobs).to_csv(path, mode="a", header=not path.is_file(), index=False)
        sys.stderr.write(f"\r{scenario} {seed - 999}/{draws} ")
    made = table(pd.read_csv(path))
    sys.stdout.write(made.round(3).to_string() + "\n")
    means = made[["estimate_off", "steady_off", "seen_off", "raw_steady_off"]].abs().mean().round(3)
    sys.stdout.write(f"mean of absolute values: {means.to_dict()}; coverage {made['holds'].mean():.3f}\n")


if __name__ == "__main__":
    main(*(int(arg) if arg.isdigit() else arg for arg in sys.argv[1:]))  # type: ignore[arg-type]
