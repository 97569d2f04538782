"""Quote requests: survey and plan of jobs not done yet, through the same checks and SQL as history.

A request is one JSON file or a job-log folder. JSON may hold one job (its columns, with `emitters` and
`pipe_runs` as lists), a list of such jobs, or tables: `{"jobs": […], "emitters": […], "pipe_runs": […]}`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.checks.check_rows import check_table
from pipeline.contract import DEFAULT_FIRM_ID, JOB_LOG, SIMULATED_PREFIX
from pipeline.contract.findings import BadInput, Finding
from pipeline.contract.firm import Firm
from pipeline.contract.job_cautions import cautions, stops
from pipeline.contract.measured import MAX_REQUEST_BYTES, parsed_json, read_measured
from pipeline.quotes.request_features import request_tables
from pipeline.readers.text_tables import LINE, TextTable

TABLES = ("jobs", "emitters", "pipe_runs")
DEFAULT_JOB_ID = "request"
Rows = Sequence[Mapping[str, Any]]

_TIE = ["firm_id", "job_id"]
_LATER = ("during", "after")
"""What is known only later is not read from a request, even where a finished job's log holds it."""


@dataclass(frozen=True, slots=True)
class RefusedRequest:
    """A job of a batch of requests that cannot be quoted, and every reason why."""

    firm_id: str
    job_id: str
    reason: str


@dataclass(frozen=True, slots=True)
class Requests:
    """Typed core tables of the requests, and what a person should know about them."""

    jobs: pl.DataFrame
    emitters: pl.DataFrame
    pipe_runs: pl.DataFrame
    findings: tuple[Finding, ...] = ()
    refused: tuple[RefusedRequest, ...] = ()


@dataclass(frozen=True, slots=True)
class QuoteInputs:
    """Features as `ftr_quote` and volumes as `ftr_volume`, one row a request; `cautions` by firm and job."""

    features: pl.DataFrame
    volumes: pl.DataFrame
    findings: tuple[Finding, ...] = ()
    cautions: Mapping[tuple[str, str], tuple[Finding, ...]] = field(default_factory=dict)

    def of_job(self, firm_id: str, job_id: str) -> tuple[Finding, ...]:
        """What can hurt someone on that job."""
        return self.cautions.get((firm_id, job_id), ())


def read_requests(path: Path) -> Requests:
    """Read a JSON file or a job-log folder; BadInput in one sentence when no job of it can be quoted."""
    try:
        if not path.exists():
            raise BadInput(f"{path} is not there; name a JSON file or a job-log folder.")
    except OSError as error:
        raise BadInput(f"{path} cannot be read: {error.strerror or error}.") from error
    if path.is_dir():
        return _requests(_folder_tables(path))
    if path.suffix.lower() == ".json":
        return requests_from_tables(**_json_tables(path))
    from pipeline.readers.files import read_text_table, tables_in  # not needed for JSON, and slow to import

    if not tables_in(path):
        raise BadInput(f"{path.name} is no request: name a JSON file or a job-log folder.")
    return _requests({table: read_text_table(path, table) for table in tables_in(path) if table in TABLES})


def requests_from_tables(jobs: Rows, emitters: Rows = (), pipe_runs: Rows = ()) -> Requests:
    """Requests from plain rows, as a form or a JSON file gives them; BadInput names every fault.

    A job without `job_id` is called `request`; a row of another table without one belongs to the only job.
    """
    jobs = [{"job_id": DEFAULT_JOB_ID, **{k: v for k, v in job.items() if v not in (None, "")}} for job in jobs]
    only = jobs[0]["job_id"] if len(jobs) == 1 else None
    tables: dict[str, Rows] = {
        "jobs": jobs,
        "emitters": _numbered(emitters, "emitter_no", only),
        "pipe_runs": _numbered(pipe_runs, "run_no", only),
    }
    return _requests({name: _text_rows(rows) for name, rows in tables.items()})


def request_features(requests: Requests, firm: Firm) -> QuoteInputs:
    """Features and volumes of the requests, in the order of the requests."""
    tables = {"jobs": requests.jobs, "emitters": requests.emitters, "pipe_runs": requests.pipe_runs}
    return QuoteInputs(*request_tables(firm, tables), requests.findings, _cautions(requests.jobs))


def _cautions(jobs: pl.DataFrame) -> dict[tuple[str, str], tuple[Finding, ...]]:
    """What can hurt someone, by firm and job; jobs without any are left out."""
    found = {(row["firm_id"], row["job_id"]): cautions(row) for row in jobs.iter_rows(named=True)}
    return {key: each for key, each in found.items() if each}


def _stopped(jobs: pl.DataFrame) -> list[RefusedRequest]:
    """Jobs whose plan must not be carried out as it stands."""
    return [
        RefusedRequest(row["firm_id"], row["job_id"], found[0].sentence.rstrip("."))
        for row in jobs.iter_rows(named=True)
        if (found := stops(row))
    ]


def _numbered(rows: Rows, number: str, only_job: Any) -> list[dict[str, Any]]:
    defaults = {} if only_job is None else {"job_id": only_job}
    return [{**defaults, number: index, **dict(row)} for index, row in enumerate(rows, start=1)]


def _json_tables(path: Path) -> dict[str, list[dict[str, Any]]]:
    content = parsed_json(read_measured(path, MAX_REQUEST_BYTES, path.name), path.name)
    jobs = content if isinstance(content, list) else [content]
    if isinstance(content, dict) and isinstance(content.get("jobs"), list):
        tables = {name: content.get(name) or [] for name in TABLES}
        if all(isinstance(rows, list) and all(isinstance(r, dict) for r in rows) for rows in tables.values()):
            return tables
        jobs = [None]
    tables = {name: [] for name in TABLES}
    for index, job in enumerate(jobs, start=1):
        if not isinstance(job, dict):
            raise BadInput(f"{path.name} must hold a job, a list of jobs, or the tables {', '.join(TABLES)}.")
        _split_job(job, index if len(jobs) > 1 else None, tables)
    return tables


def _split_job(job: dict[str, Any], number: int | None, tables: dict[str, list[dict[str, Any]]]) -> None:
    """One nested job → rows of the three tables, tied by firm and job."""
    facts = {**job, **(job["job"] if isinstance(job.get("job"), dict) else {})}
    children = {name: facts.pop(name, None) or [] for name in TABLES[1:]}
    facts.pop("job", None)
    facts.setdefault("job_id", DEFAULT_JOB_ID if number is None else f"{DEFAULT_JOB_ID}-{number}")
    tables["jobs"].append(facts)
    tie = {"job_id": facts["job_id"]} | ({"firm_id": facts["firm_id"]} if facts.get("firm_id") else {})
    for name, key in zip(TABLES[1:], ("emitter_no", "run_no"), strict=True):
        rows = children[name]
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise BadInput(f"`{name}` of job {facts['job_id']!r} must be a list of rows.")
        tables[name] += [{key: index, **tie, **row} for index, row in enumerate(rows, start=1)]


def _text_rows(rows: Rows) -> TextTable:
    """Plain values → the text that a file would hold, so that one set of checks serves both."""
    names = list(dict.fromkeys(str(name).strip().lower() for row in rows for name in row))
    lines = [[index, *(_cell(row, name) for name in names)] for index, row in enumerate(rows, start=1)]
    schema = {LINE: pl.Int64, **dict.fromkeys(names, pl.String)}
    return TextTable(pl.DataFrame(lines, schema=schema, orient="row"))


def _cell(row: Mapping[str, Any], name: str) -> str | None:
    value = next((v for key, v in row.items() if str(key).strip().lower() == name), None)
    if value is None or value == "" or (isinstance(value, float) and value != value):
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


def _folder_tables(folder: Path) -> dict[str, TextTable]:
    from pipeline.readers.files import SUFFIXES, read_text_table, tables_in

    found: dict[str, TextTable] = {}
    for path in sorted(p for p in folder.iterdir() if p.is_file() and p.suffix.lower() in SUFFIXES):
        for table in tables_in(path):
            if table in TABLES:
                found[table] = read_text_table(path, table)
    return found


def _requests(texts: Mapping[str, TextTable]) -> Requests:
    if "jobs" not in texts or not texts["jobs"].rows:
        raise BadInput("The request holds no job: it needs a table `jobs` with at least `system_type`.")
    today = date.today()
    frames, faults, findings = {}, [], []
    for name in TABLES:
        text = _only_survey_and_plan(name, texts.get(name) or TextTable(pl.DataFrame(schema={LINE: pl.Int64})))
        checked = check_table(name, name, text, today, is_request=True)
        faults.append(_with_job(checked.rejects, text.frame))
        findings += _unknown(name, text)
        frames[name] = checked.accepted.drop(LINE).unique(maintain_order=True)
        findings += [_warning(row) for row in checked.warnings.iter_rows(named=True)]
    refused = (*_refused(pl.concat(faults)), *_stopped(frames["jobs"]))
    bad = pl.DataFrame([(r.firm_id, r.job_id) for r in refused], schema=dict.fromkeys(_TIE, pl.String), orient="row")
    good = {name: frame.join(bad, on=_TIE, how="anti", maintain_order="left") for name, frame in frames.items()}
    if not good["jobs"].height:
        raise BadInput(f"The request cannot be quoted: {'; '.join(r.reason for r in refused[:8])}.")
    good["jobs"] = good["jobs"].with_columns(
        pl.col("visit_date").fill_null(today),
        pl.lit(today).alias("loaded_on"),
        pl.col("firm_id").str.starts_with(SIMULATED_PREFIX).alias("is_simulated"),
    )
    return Requests(good["jobs"], good["emitters"], good["pipe_runs"], tuple(findings), refused)


def _with_job(rejects: pl.DataFrame, text: pl.DataFrame) -> pl.DataFrame:
    """Give each fault the job of its line, so that one bad job does not stop the others."""
    ids = [
        (pl.col(name) if name in text.columns else pl.lit(None, pl.String)).str.strip_chars().alias(name)
        for name in _TIE
    ]
    tied = rejects.drop(_TIE).join(text.select(LINE, *ids), on=LINE, how="left", maintain_order="left")
    return tied.with_columns(pl.col("firm_id").fill_null(DEFAULT_FIRM_ID), pl.col("job_id").fill_null(""))


def _refused(faults: pl.DataFrame) -> tuple[RefusedRequest, ...]:
    reasons: dict[tuple[str, str], list[str]] = {}
    for row in faults.iter_rows(named=True):
        where = f"{row['table_name']} row {row['line']}"
        text = f"{where}: {row['column_name'] or 'the row'} {row['value'] or ''} {row['reason']}"
        reasons.setdefault((row["firm_id"], row["job_id"]), []).append(" ".join(text.split()))
    return tuple(RefusedRequest(*tie, "; ".join(texts)) for tie, texts in reasons.items())


def _unknown(name: str, text: TextTable) -> list[Finding]:
    names = [heading for heading in text.headings if heading not in JOB_LOG[name].names]
    return [
        Finding("unknown_column", f"`{heading}` is not in the format and was not used.", {"column": heading})
        for heading in names
    ]


def _only_survey_and_plan(name: str, text: TextTable) -> TextTable:
    later = [c.name for c in JOB_LOG[name].columns if c.known_by in _LATER and c.name in text.frame.columns]
    return TextTable(text.frame.drop(later), text.broken)


def _warning(row: Mapping[str, Any]) -> Finding:
    sentence = f"{row['column_name']} = {row['value']} is {row['reason'].removeprefix('unusual: ')}: check it."
    return Finding("unusual_value", sentence, {"column": row["column_name"], "value": row["value"]})
