"""True effects of practices in a world, as the simulator's document lists them: half a minute a thousand jobs.

python -m tests.benchmarks.bench_effects [scenario] [jobs] [seed]
"""

from __future__ import annotations

import sys

from synthetic_data.effects import Effects, risks
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_chunks

BAR = "\\|"
"""A bar inside a cell of a table."""


def main(scenario: str = "usual", jobs: int = 1000, seed: int = 1) -> None:
    """Print a row for each contrast: risks, true difference by population, raw difference, residues."""
    effects = Effects()
    for chunk in simulate_chunks(SCENARIOS[scenario], jobs=jobs, seed=seed):
        effects.add(risks(chunk))
    table = effects.table()
    for (contrast,), rows in table.group_by("contrast", maintain_order=True):
        by = {row["population"]: row for row in rows.iter_rows(named=True)}
        every, name = by["all"], str(contrast).replace("|", BAR)
        points = [100 * by[population]["difference"] for population in ("all", "treated", "overlap")]
        sys.stdout.write(
            f"| `{name}` | {every['jobs']} | {100 * every['risk_with']:.1f} | {100 * every['risk_without']:.1f} | "
            + " | ".join(f"{value:+.1f}" for value in points)
            + f" | {100 * every['raw_difference']:+.1f} | {every['residual_with_kg']:.2f} | "
            f"{every['residual_without_kg']:.2f} |\n"
        )


if __name__ == "__main__":
    main(*(int(arg) if arg.isdigit() else arg for arg in sys.argv[1:]))  # type: ignore[arg-type]
