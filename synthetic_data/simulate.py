"""START HERE: from a scenario and a seed to a job-log folder and files of truth beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from pipeline.contract.findings import BadInput
from synthetic_data import chunk as world
from synthetic_data.chunk import Chunk, simulate_chunk
from synthetic_data.crew import crew
from synthetic_data.crew.diary import make_diary
from synthetic_data.crew.practices import CONTRASTS
from synthetic_data.effects import Effects, risks
from synthetic_data.logbook.jobs_table import write_tables
from synthetic_data.logbook.slips import slip
from synthetic_data.logbook.truth import truth_rows
from synthetic_data.logbook.writing import FORMATS, FolderWriter, Format, ParquetStream, Writer, WrittenTogether
from synthetic_data.scenarios import SCENARIOS, Scenario
from synthetic_data.streams import stream

MOST_JOBS = 1_000_000


@dataclass(frozen=True, slots=True)
class Written:
    """What was written where: folder, truth file, firm, and rows by table.

    `firm_id` is the first firm's where there are several. The rest is None or empty where it was not asked
    for or the world has none: `later` (a folder to load after `out`), `slips` (the list of slips), `risks`
    (both potential risks of each job and practice) and `effects` (their averages).
    """

    out: Path
    truth: Path
    firm_id: str
    scenario: str
    seed: int
    jobs: int
    format: str
    rows: dict[str, int]
    firms: int = 1
    later: Path | None = None
    slips: Path | None = None
    risks: Path | None = None
    effects: Path | None = None

    def as_dict(self) -> dict[str, object]:
        """As plain data, for JSON; what there is not is left out."""
        data = {name: str(value) if isinstance(value, Path) else value for name, value in asdict(self).items()}
        return {name: value for name, value in data.items() if value is not None}


def beside(out: Path, name: str) -> Path:
    """A file or folder that belongs to `out`: beside it, never inside."""
    return out.with_name(f"{out.name}-{name}")


def truth_path(out: Path) -> Path:
    """The truth file that belongs to a folder."""
    return beside(out, "truth.parquet")


def simulate_chunks(scenario: Scenario, *, jobs: int, seed: int) -> Iterator[Chunk]:
    """The chunks of a world in order, simulated one at a time."""
    p = scenario.parameters
    diary = make_diary(jobs, seed, p, scenario.firms)
    staff = crew.hire(
        stream(seed, "engineers"), diary.firm_of_engineer, p.crew, p.flush.magnet_capacity_kg, p.log.five_minute_share
    )
    for number, first in enumerate(range(0, jobs, world.CHUNK_JOBS)):
        rows = slice(first, min(first + world.CHUNK_JOBS, jobs))
        yield simulate_chunk(scenario, seed, diary, staff, number, rows)


def _checked(out: Path, jobs: int | None, scenario: str, form: str) -> tuple[Scenario, int]:
    """The scenario and the number of jobs; BadInput in one sentence where something cannot be."""
    if scenario not in SCENARIOS:
        raise BadInput(f"There is no scenario {scenario!r}; choose one of {', '.join(SCENARIOS)}.")
    if form not in FORMATS:
        raise BadInput(f"There is no format {form!r}; choose one of {', '.join(FORMATS)}.")
    number = SCENARIOS[scenario].default_jobs if jobs is None else jobs
    if not 1 <= number <= MOST_JOBS:
        raise BadInput(f"The number of jobs must lie between 1 and {MOST_JOBS}; {number} was asked for.")
    for folder in (out, beside(out, "later")) if SCENARIOS[scenario].has_slips else (out,):
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BadInput(f"{folder} exists already and is not an empty folder: name another, or remove it first.")
    return SCENARIOS[scenario], number


def _writers(out: Path, scenario: Scenario, form: Format, effects: bool) -> dict[str, Writer]:
    """What this run writes, by name."""
    writers: dict[str, Writer] = {"out": FolderWriter(out, form), "truth": ParquetStream(truth_path(out))}
    if scenario.has_slips:
        writers["later"] = FolderWriter(beside(out, "later"), form)
        writers["slips"] = ParquetStream(beside(out, "truth-slips.parquet"))
    if effects:
        writers["risks"] = ParquetStream(beside(out, "truth-risks.parquet"))
        writers["effects"] = ParquetStream(beside(out, "truth-effects.parquet"))
    return writers


class _Counter:
    """Turns small steps into `progress(jobs done, jobs in all)`."""

    def __init__(self, jobs: int, steps_a_job: int, progress: Callable[[int, int], None] | None) -> None:
        self.jobs, self.steps, self.progress, self.done = jobs, steps_a_job, progress, 0

    def add(self, jobs: int) -> None:
        """One step of so many jobs is done."""
        self.done += jobs
        if self.progress is not None:
            self.progress(self.done // self.steps, self.jobs)


def _write_logs(files: WrittenTogether, chunk: Chunk) -> None:
    """Log and truth of a chunk; where its crews slip, the list of slips and what comes later."""
    tables = write_tables(chunk.setting.random("gaps"), chunk.setting.random("readings"), chunk)
    if chunk.setting.scenario.has_slips:
        slipped = slip(chunk, tables)
        tables = slipped.tables
        files["later"].add(slipped.later)
        files["slips"].add(slipped.slips)
    files["out"].add(tables)
    files["truth"].add(truth_rows(chunk))


def simulate_to_folder(
    out: Path,
    *,
    jobs: int | None = None,
    seed: int,
    scenario: str = "usual",
    format: Format = "csv",
    progress: Callable[[int, int], None] | None = None,
    effects: bool = False,
) -> Written:
    """Write the job log of a simulated firm to the new folder `out`, and the truth beside it.

    The same `jobs`, `seed` and `scenario` give the same bytes. `jobs` left out: the scenario's usual
    number. `progress(done, total)` is called after every chunk. `effects`: run every world again with and
    without each practice and write what it would have changed; some fifteen times the work. BadInput where
    `out` holds anything.
    """
    chosen, number = _checked(out, jobs, scenario, format)
    out = out.absolute()
    count = _Counter(number, 1 + (len(CONTRASTS) if effects else 0), progress)
    totals = Effects()
    writers = _writers(out, chosen, format, effects)
    with WrittenTogether(**writers) as files:
        for chunk in simulate_chunks(chosen, jobs=number, seed=seed):
            _write_logs(files, chunk)
            count.add(chunk.jobs)
            if effects:
                rows = risks(chunk, progress=lambda done=chunk.jobs: count.add(done))  # type: ignore[misc]
                totals.add(rows)
                files["risks"].add(rows)
        if effects:
            files["effects"].add(totals.table())
    paths = {
        name: writers[name].out if name == "later" else writers[name].path  # type: ignore[union-attr]
        for name in ("later", "slips", "risks", "effects")
        if name in writers
    }
    rows_written: dict[str, int] = files["out"].rows
    return Written(
        out,
        truth_path(out),
        chosen.firm_ids[0],
        scenario,
        seed,
        number,
        format,
        dict(rows_written),
        firms=chosen.firms,
        **paths,
    )
