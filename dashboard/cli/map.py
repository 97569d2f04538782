"""`sludgebook map`: propose how a firm's own headings become the job log, as a file to read through and edit."""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dashboard.cli import printing as text
from pipeline.contract.findings import BadInput
from pipeline.contract.new_files import check_is_new

if TYPE_CHECKING:
    from pipeline.mapping.proposal import NotTaken, Proposal


def map_command(paths: list[Path], out: Path | None, *, as_json: bool = False, heading_line: int = 0) -> None:
    """Write the proposal for the tables at `paths` to `out`, or print it. A file that is there is not overwritten.

    `as_json` prints what is taken, what is asked and the list of headings that are not taken as JSON. `heading_line`
    is the line that the headings stand on, 0 to find it.
    """
    from pipeline.mapping.mapping_file import mapping_text, write_mapping
    from pipeline.mapping.propose import propose
    from pipeline.readers.files import find_in

    if out is not None:
        check_is_new(out)
    found = find_in(paths)
    if not found.tables:
        raise BadInput("There is no table here; CSV, TSV, XLSX, ODS, Parquet, JSON lines and ZIP are read.")
    proposal = propose(replace(table, heading_line=heading_line) for table in found.tables)
    if out is None:
        if as_json:
            text.json_out(_as_json(proposal))
        else:
            text.say(mapping_text(proposal.mapping, proposal))
        return
    for finding in (*found.findings, *proposal.findings):
        text.say_error(finding.in_full)
    if not proposal.tables:
        text.say("Every table that was recognised has the job log's own headings; no mapping is needed.")
        return
    write_mapping(out, proposal.mapping, proposal)
    if as_json:
        text.json_out(_as_json(proposal))
        return
    columns = sum(len(table.mapped.columns) for table in proposal.tables)
    text.say(f"Wrote {out}: {_counted(columns, 'column')} of {_counted(len(proposal.tables), 'table')} proposed.")
    _say_not_taken(proposal.not_taken)
    if proposal.questions:
        asked = _counted(len(proposal.questions), "question")
        text.say(f"Still open: {asked}; answer each `# ask:` in it and take the line away, then load.")


def _say_not_taken(not_taken: tuple[NotTaken, ...]) -> None:
    """The list of everything that the mapping does not hold, with its first values."""
    if not_taken:
        text.say(f"Not taken: {_counted(len(not_taken), 'heading')}.")
    for each in not_taken:
        text.say(f"  {each.file}: {each.sentence}")


def _as_json(proposal: Proposal) -> dict[str, Any]:
    return {
        "tables": [asdict(table) for table in proposal.mapping.tables],
        "questions": [asdict(question) for question in proposal.questions],
        "not_taken": [asdict(each) for each in proposal.not_taken],
        "remarks": list(proposal.remarks()),
    }


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
