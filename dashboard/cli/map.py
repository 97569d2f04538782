"""`sludgebook map`: propose how a firm's own headings become the job log, as a file to read through and edit."""

from __future__ import annotations

from pathlib import Path

from dashboard.cli import printing as text
from pipeline.contract.findings import BadInput


def map_command(paths: list[Path], out: Path | None) -> None:
    """Write the proposal for the tables at `paths` to `out`, or print it. A file that is there is not overwritten."""
    from pipeline.mapping.mapping_file import mapping_text, write_mapping
    from pipeline.mapping.propose import propose
    from pipeline.readers.files import find_in

    if out is not None and out.exists():
        raise BadInput(f"{out} is there already and is not overwritten; name another file.")
    found = find_in(paths)
    if not found.tables:
        raise BadInput("There is no table here; CSV, TSV, XLSX, ODS, Parquet, JSON lines and ZIP are read.")
    proposal = propose(found.tables)
    if out is None:
        text.say(mapping_text(proposal.mapping, proposal))
        return
    for finding in (*found.findings, *proposal.findings):
        text.say_error(finding.in_full)
    if not proposal.tables:
        text.say("Every table that was recognised has the job log's own headings; no mapping is needed.")
        return
    write_mapping(out, proposal.mapping, proposal)
    columns = sum(len(table.mapped.columns) for table in proposal.tables)
    text.say(f"Wrote {out}: {_counted(columns, 'column')} of {_counted(len(proposal.tables), 'table')} proposed.")
    if proposal.questions:
        text.say(f"Still open: {_counted(len(proposal.questions), 'question')}; look for `# ask:` in it.")


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
