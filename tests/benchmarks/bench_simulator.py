"""How fast the simulator is: jobs a second, writing CSV included. Run it by hand; no test asserts a speed.

    python tests/benchmarks/bench_simulator.py [jobs] [csv|parquet|xlsx]
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

from synthetic_data.simulate import simulate_to_folder


def main(jobs: int = 2000, form: str = "csv") -> None:
    """Simulate into a temporary folder and say how long it took."""
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        written = simulate_to_folder(Path(folder) / "logs", jobs=jobs, seed=1, format=form)  # type: ignore[arg-type]
        seconds = time.perf_counter() - began
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    rows = sum(written.rows.values())
    sys.stdout.write(f"{jobs} jobs as {form}: {seconds:.1f} s, {jobs / seconds:.0f} jobs/s, ")
    sys.stdout.write(f"{rows} rows, peak {peak_mb:.0f} MB\n")


if __name__ == "__main__":
    main(*(int(arg) if arg.isdigit() else arg for arg in sys.argv[1:]))  # type: ignore[arg-type]
