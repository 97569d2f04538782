"""The practice audit in draws of the full simulator, held against its true effects.

    python tests/benchmarks/study_practice_simulator.py OUT [scenario] [draws] [jobs] [truth jobs]

The true effects come from one run with `--effects` (half a minute a thousand jobs; 3,000 unless told): the mean over
the jobs that did the one or the other and whose chance of either lies within the limits of the audit. The draws are of
other seeds, 3,000 jobs each. Writes a row a draw and practice into `OUT/SCENARIO.csv` as it goes, and prints the table.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import pandas as pd

from models.practice.contrasts import BY_NAME
from models.practice.effect import judge, practice_effect
from models.practice.overlap import HIGHEST_CHANCE, LOWEST_CHANCE
from models.practice.records import PracticeFrames, gather
from pipeline.book import Book, read_table
from pipeline.load import load
from synthetic_data.practices import CONTRASTS
from synthetic_data.simulate import simulate_to_folder

TABLES = ("jobs", "ftr_quote", "ftr_outcome", "ftr_callback")
NAMES = tuple(each.name for each in CONTRASTS)


def true_effects(scenario: str, jobs: int, out: Path) -> pd.Series:
    """Mean difference of the two true risks by practice, among jobs that could well have gone either way."""
    path = out / f"truth-{scenario}.parquet"
    if not path.is_file():
        with tempfile.TemporaryDirectory() as folder:
            written = simulate_to_folder(Path(folder) / "logs", jobs=jobs, seed=901, scenario=scenario,
                                         format="parquet", effects=True)  # fmt: skip
            assert written.risks is not None
            path.write_bytes(written.risks.read_bytes())
    risks = pd.read_parquet(path)
    risks = risks[risks["is_open"] & risks["done"].notna() & risks["chance"].between(LOWEST_CHANCE, HIGHEST_CHANCE)]
    return (risks["risk_with"] - risks["risk_without"]).groupby(risks["contrast"]).mean()


def one_draw(scenario: str, seed: int, jobs: int) -> pd.DataFrame:
    """Simulate, load, and weigh up the practices whose true effects are known."""
    with tempfile.TemporaryDirectory() as folder:
        simulate_to_folder(Path(folder) / "logs", jobs=jobs, seed=seed, scenario=scenario, format="parquet")
        book = Book(Path(folder) / "book")
        load([Path(folder) / "logs"], book)
        records = gather(PracticeFrames(*(read_table(book.current(), name) for name in TABLES)))
    effects = judge([practice_effect(records, BY_NAME[name])[0] for name in NAMES], 0.08)
    return pd.DataFrame([
        {"seed": seed, "contrast": each.contrast, "estimate": each.difference, "low": each.low, "high": each.high,
         "error": each.standard_error, "raw": each.raw.difference if each.raw else None, "verdict": each.verdict,
         "e_value": each.e_value}
        for each in effects
    ])  # fmt: skip


def table(rows: pd.DataFrame, truth: pd.Series) -> pd.DataFrame:
    """One row a practice, in points of 100 jobs."""
    told = rows.dropna(subset=["estimate"])
    told = told.assign(truth=told["contrast"].map(truth))
    told["holds"] = told["truth"].between(told["low"], told["high"])
    told["off"], told["raw_off"] = 100 * (told["estimate"] - told["truth"]), 100 * (told["raw"] - told["truth"])
    told["cuts"], told["raises"] = told["verdict"] == "cuts callbacks", told["verdict"] == "raises callbacks"
    by = told.groupby("contrast", sort=False)
    made = by[["off", "raw_off", "holds", "cuts", "raises"]].mean()
    made.insert(0, "truth", 100 * by["truth"].mean())
    made.insert(0, "draws", by.size())
    made["spread"], made["error"], made["e_value"] = by["off"].std(), 100 * by["error"].mean(), by["e_value"].median()
    return made


def main(folder: str, scenario: str = "usual", draws: int = 20, jobs: int = 3000, truth_jobs: int = 3000) -> None:
    """Run the draws that are not there yet and print the table."""
    out = Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    path = out / f"{scenario}.csv"
    for seed in range(1000, 1000 + draws):
        if path.is_file() and (pd.read_csv(path)["seed"] == seed).any():
            continue
        one_draw(scenario, seed, jobs).to_csv(path, mode="a", header=not path.is_file(), index=False)
        sys.stderr.write(f"\r{scenario} {seed - 999}/{draws} ")
    sys.stdout.write(table(pd.read_csv(path), true_effects(scenario, truth_jobs, out)).round(3).to_string() + "\n")


if __name__ == "__main__":
    main(*(int(arg) if arg.isdigit() else arg for arg in sys.argv[1:]))  # type: ignore[arg-type]
