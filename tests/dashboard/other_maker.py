"""Job logs made by something other than the project's simulator: plain chance, other habits, other spellings."""

from __future__ import annotations

import csv
import random
from datetime import datetime, timedelta
from pathlib import Path

KINDS = ("panel_10", "panel_11", "panel_21", "column", "towel_rail")


def write_other_jobs(folder: Path, jobs: int, seed: int = 3) -> None:
    """Write `jobs`, `emitters` and `catches` of a firm that logs little; headings in capitals, order its own."""
    chance = random.Random(seed)
    tables: dict[str, list[dict[str, object]]] = {"jobs": [], "emitters": [], "catches": []}
    for index in range(jobs):
        job = f"OM{index:03d}"
        start = datetime(2024, 1, 8, 9, 30) + timedelta(days=2 * index)
        count, minutes = chance.randint(3, 16), chance.randint(90, 400)
        tables["jobs"].append(
            {
                "VISIT_DATE": start.date(),
                "JOB_ID": job,
                "SYSTEM_TYPE": chance.choice(("SEALED", "Open_Vented")),
                "FLUSH_STARTED_AT": f"{start:%Y-%m-%d %H:%M}",
                "INSTALL_YEAR": chance.randint(1965, 2020),
                "FLUSH_ENDED_AT": f"{start + timedelta(minutes=minutes):%Y-%m-%d %H:%M}",
                "FILTER_AT_SURVEY": chance.choice(("Y", "N", "")),
                "TOPUPS_PER_YEAR": chance.choice((0, 1, 4, 12, "")),
            }
        )
        for number in range(1, count + 1):
            kind, cold = chance.choice(KINDS), chance.choice(("true", "false", ""))
            emitter = {"EMITTER_NO": number, "JOB_ID": job, "EMITTER_KIND": kind, "COLD_AT_SURVEY": cold}
            tables["emitters"].append(emitter)
        for number in range(1, 6):
            at = f"{start + timedelta(minutes=minutes * number / 6):%Y-%m-%d %H:%M}"
            grams = round(chance.uniform(20, 160) * count / number)
            tables["catches"].append(
                {"MASS_G": grams, "TRAP": "magnet", "JOB_ID": job, "CATCH_NO": number, "CAUGHT_AT": at}
            )
    folder.mkdir(parents=True)
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
