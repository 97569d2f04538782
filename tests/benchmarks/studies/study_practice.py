"""Study of the practice audit in worlds with known effects: does it find them, and how often is it wrong.

    python -m tests.benchmarks.studies.study_practice OUT [draws] [jobs] [scenario ...]

Draws the quick world of `practice_world.py` anew for every draw (200 of 2,000 jobs unless told: some 15 minutes of one
processor), with effects, without any, and with a care that nobody writes down; writes `study.md` and `study.svg` into
the folder OUT, and a row a draw and practice into `draws-SCENARIO.csv` as it goes: begun again, it goes on.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd

from models.practice.cohort.audited_jobs import gather
from models.practice.cohort.contrasts import BY_NAME
from models.practice.effects.effect import judge, practice_effect
from models.practice.effects.shrinkage import shrunk
from models.practice.effects.verdicts import Z
from models.practice.results.audit_result import PracticeEffect
from tests.benchmarks.studies.practice_world import EFFECTS, World, draw_world

SCENARIOS = {"known": {}, "no_effects": {"effect": 0.0}, "hidden_skill": {"hidden": 1.0}}
SCENARIOS["trend"] = {"effect": 0.0, "trend": 0.4}
"""The last: no effects, but practices are taken up and callbacks fall, each by 0.4 a year on its scale."""
WAYS = {"year": "The first year", "every": "All follow-up", "estimate": "As told"}
_ERROR = {"year": "year_error", "every": "every_error", "estimate": "error"}


def one_draw(scenario: str, seed: int, jobs: int) -> list[dict[str, object]]:
    """One row a practice: truth among the jobs compared, estimate, interval, raw difference, verdict."""
    world: World = draw_world(seed, jobs, **SCENARIOS[scenario])
    records = gather(world.frames)
    pairs = [practice_effect(records, BY_NAME[name]) for name in EFFECTS]
    number = records.frame["job_id"].str[1:].to_numpy(dtype=int)
    rows = []
    for effect, (_, adjusted) in zip(judge([each for each, _ in pairs], 0.1), pairs, strict=True):
        true = world.risks[effect.contrast][:, 0] - world.risks[effect.contrast][:, 1]
        kept = slice(None) if adjusted.kept is None else adjusted.kept
        among, done = number[adjusted.compared.rows[kept]], adjusted.compared.a[kept]
        rows.append(
            {
                "scenario": scenario,
                "seed": seed,
                "contrast": effect.contrast,
                "truth": true[among].mean(),
                "truth_all": true.mean(),
                "estimate": effect.difference,
                "low": effect.low,
                "high": effect.high,
                "error": effect.standard_error,
                "raw": effect.raw.difference,
                "raw_low": effect.raw.low,
                "raw_high": effect.raw.high,
                "verdict": effect.verdict,
                "e_value": effect.e_value,
                "e_limit": effect.e_value_limit,
                "luck": world.luck(effect.contrast, among, done),
                "trimmed": effect.trimmed_share,
                **_beside(effect),
            }
        )
    return rows


def _beside(effect: PracticeEffect) -> dict[str, object]:
    """The two estimates that the told one is picked from."""
    year, every = effect.first_year, effect.all_follow_up
    if year is None or every is None:
        return dict.fromkeys(("year", "year_error", "every", "every_error", "is_wide"))
    wide = every.by[0]
    return {
        "year": year.difference,
        "year_error": year.standard_error,
        "every": wide.difference,
        "every_error": wide.standard_error,
        "is_wide": every.is_told,
    }


def summary(rows: pd.DataFrame) -> pd.DataFrame:
    """One row a scenario and practice; differences in points of 100 jobs."""
    told = rows.dropna(subset=["estimate"]).assign(
        off=lambda f: 100 * (f["estimate"] - f["truth"]),
        raw_off=lambda f: 100 * (f["raw"] - f["truth_all"]),
        holds=lambda f: f["truth"].between(f["low"], f["high"]),
        raw_holds=lambda f: f["truth_all"].between(f["raw_low"], f["raw_high"]),
        says=lambda f: f["verdict"].isin(["cuts callbacks", "raises callbacks"]),
        wrong=lambda f: _wrong(f),
    )
    told["free"], told["raw_free"] = _without_luck(told, "off"), _without_luck(told, "raw_off")
    by = told.groupby(["scenario", "contrast"], sort=False)
    return pd.DataFrame(
        {
            "draws": by.size(),
            "truth": 100 * by["truth"].mean(),
            "raw_bias": by["raw_free"].mean(),
            "bias": by["free"].mean(),
            "bias_error": by["free"].std() / np.sqrt(by.size()),
            "spread": by["off"].std(),
            "error": 100 * by["error"].mean(),
            "coverage": by["holds"].mean(),
            "raw_coverage": by["raw_holds"].mean(),
            "says": by["says"].mean(),
            "wrong": by["wrong"].mean(),
            "e_value": by["e_value"].median(),
            "e_limit": by["e_limit"].median(),
        }
    ).reset_index()


def _without_luck(rows: pd.DataFrame, column: str) -> pd.Series:
    """The column less what it owes to `luck`, which is 0 on average: the same mean, much less noise about it.

    A control variate (Hammersley & Handscomb 1964), its slope by least squares within scenario and practice.
    """
    centred = rows[[column, "luck"]] - rows.groupby(["scenario", "contrast"])[[column, "luck"]].transform("mean")
    both = (centred[column] * centred["luck"]).groupby([rows["scenario"], rows["contrast"]]).transform("sum")
    own = (centred["luck"] ** 2).groupby([rows["scenario"], rows["contrast"]]).transform("sum")
    return rows[column] - both / own * rows["luck"]


def _wrong(rows: pd.DataFrame) -> pd.Series:
    """A verdict where there is no effect, or in the wrong direction."""
    sign = np.where(rows["truth"].abs() < 1e-9, 0, np.sign(rows["truth"]))
    said = rows["verdict"].map({"cuts callbacks": -1, "raises callbacks": 1}).fillna(0)
    return (said != 0) & (said != sign)


def write_table(table: pd.DataFrame, rows: pd.DataFrame, out: Path) -> None:
    """The table, and the figures that the audit is held to, as Markdown."""
    lines = ["| " + " | ".join(table.columns) + " |", "|" + "---|" * len(table.columns)]
    for row in table.itertuples(index=False):
        lines.append(
            "| " + " | ".join(f"{v:.3g}" if isinstance(v, float) else str(v).replace("|", "\\|") for v in row) + " |"
        )
    for scenario, part in table.groupby("scenario", sort=False):
        own = rows[rows["scenario"] == scenario].dropna(subset=["estimate"])
        any_wrong = _wrong(own).groupby(own["seed"]).any().mean()
        lines.append(
            f"\n{scenario}: coverage {part['coverage'].mean():.3f} ({part['coverage'].min():.3f} to "
            f"{part['coverage'].max():.3f}); mean |bias| {part['bias'].abs().mean():.3f} of mean |raw bias| "
            f"{part['raw_bias'].abs().mean():.3f} points; wrong verdicts {part['wrong'].mean():.4f} of practices, "
            f"{any_wrong:.3f} of worlds have one."
        )
        lines.append(_picked(own))
        lines += [_one_way(own, name, told) for name, told in WAYS.items()]
    (out / "study.md").write_text("\n".join(lines) + "\n", encoding="utf-8")


def _picked(rows: pd.DataFrame) -> str:
    """Of the effects with a verdict: how much too large they are, as estimated and as prices count them."""
    by_draw = [
        (part, *shrunk(part["estimate"].to_numpy(), part["error"].to_numpy())) for _, part in rows.groupby("seed")
    ]
    every = pd.concat([part.assign(mean=mean, spread=spread) for part, mean, spread in by_draw])
    picked = every[every["verdict"].isin(["cuts callbacks", "raises callbacks"])]
    held = (picked["mean"] - picked["truth"]).abs() < Z * picked["spread"]
    plain, counted, true = (100 * picked[name].abs().mean() for name in ("estimate", "mean", "truth"))
    before = picked["truth"].between(picked["low"], picked["high"]).mean()
    return (
        f"{len(picked)} with a verdict: true {true:.2f} points on average, estimated {plain:.2f} (intervals hold "
        f"{before:.3f}), shrunk {counted:.2f} ({held.mean():.3f})."
    )


def _one_way(rows: pd.DataFrame, name: str, told: str) -> str:
    """How one of the estimates does by itself, whichever is told."""
    off, error = rows[name] - rows["truth"], rows[_ERROR[name]]
    is_seen, is_true = rows[name].abs() > Z * error, rows["truth"].abs() > 1e-9
    wrong = is_seen & is_true & (np.sign(rows[name]) != np.sign(rows["truth"]))
    held = (off.abs() < Z * error).groupby(rows["contrast"]).mean()
    seen = f"{is_seen[is_true].mean():.3f}" if is_true.any() else "–"
    return (
        f"{told}: intervals hold {held.mean():.3f} ({held.min():.3f} to {held.max():.3f}), error "
        f"{100 * np.sqrt((off**2).mean()):.2f} points, clear of none in {seen} of true effects and "
        f"{is_seen[~is_true].mean():.3f} of none, wrong signs {int(wrong.sum())}."
    )


def write_picture(table: pd.DataFrame, out: Path) -> None:
    """Bias of the raw and of the adjusted difference, a row a practice and scenario."""
    height, zero, scale = 40 + 22 * len(table), 560, 70
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="900" height="{height}" font-family="sans-serif" '
        'font-size="13"><rect width="100%" height="100%" fill="white"/>'
        '<text x="10" y="18">Bias in points of 100 jobs: raw (ring), adjusted (disc)</text>'
        f'<line x1="{zero}" x2="{zero}" y1="26" y2="{height}" stroke="gray"/>'
    ]
    for at, row in enumerate(table.itertuples(index=False)):
        y = 46 + 22 * at
        parts.append(
            f'<text x="10" y="{y}">{row.scenario}: {row.contrast}</text>'
            f'<circle cx="{zero + scale * row.raw_bias:.1f}" cy="{y - 4}" r="5" fill="none" stroke="#a33"/>'
            f'<circle cx="{zero + scale * row.bias:.1f}" cy="{y - 4}" r="4" fill="#246"/>'
        )
    (out / "study.svg").write_text("\n".join([*parts, "</svg>\n"]), encoding="utf-8")


def run_scenario(scenario: str, draws: int, jobs: int, out: Path) -> None:
    """The draws that are not in the file yet, each written at once."""
    path = out / f"draws-{scenario}.csv"
    there = set(pd.read_csv(path)["seed"]) if path.is_file() else set()
    for seed in sorted(set(range(draws)) - there):
        pd.DataFrame(one_draw(scenario, seed, jobs)).to_csv(path, mode="a", header=not path.is_file(), index=False)
        sys.stderr.write(f"\r{scenario} {seed + 1}/{draws} ")


def main(folder: str, draws: int = 200, jobs: int = 2000, *scenarios: str) -> None:
    """Run the scenarios and write what came of all that are in the folder."""
    out = Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    for scenario in scenarios or SCENARIOS:
        run_scenario(scenario, draws, jobs, out)
    paths = [out / f"draws-{scenario}.csv" for scenario in SCENARIOS]
    every = pd.concat([pd.read_csv(path) for path in paths if path.is_file()], ignore_index=True)
    table = summary(every)
    write_table(table, every, out)
    write_picture(table, out)
    sys.stdout.write((out / "study.md").read_text(encoding="utf-8"))


if __name__ == "__main__":
    main(sys.argv[1], *(int(arg) if arg.isdigit() else arg for arg in sys.argv[2:]))  # type: ignore[arg-type]
