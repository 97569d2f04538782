"""The glossary: every table and column of the contract as Markdown, and the blocks of documents made from it.

`python -m pipeline.contract.glossary DEVELOPERS.md` writes the generated blocks of that file anew. A block
stands between `<!-- NAME: begin -->` and `<!-- NAME: end -->`; what is between them is never edited.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable
from pathlib import Path

from pipeline.contract import BUILT, JOB_LOG
from pipeline.contract.columns import Column, Table
from pipeline.contract.core_tables import CORE
from pipeline.contract.firm import reference_table

_HEAD = ("| column | type | unit | known | allowed | meaning |", "|---|---|---|---|---|---|")


def table_markdown(table: Table, columns: Iterable[Column] | None = None) -> str:
    """One table as Markdown: name, grain, key, then a row a column (all of them unless `columns` is given).

    A `*` after a name marks a column that may not be empty; below stand the rules that no single column tells.
    """
    rows = [_row(column) for column in (table.columns if columns is None else columns)]
    title = f"**{table.name}**: {table.grain}; key `{', '.join(table.key)}`"
    rules = ["", *(f"- {rule}" for rule in table.rules)] if table.rules else []
    return "\n".join([title, "", *_HEAD, *rows, *rules])


def job_log_markdown() -> str:
    """The job log: what a firm hands in."""
    return "\n\n".join(table_markdown(table) for table in JOB_LOG.values())


def built_markdown() -> str:
    """What a build adds to the job log: feature tables, bookkeeping, extra columns of core tables."""
    logged = {table.name: JOB_LOG[table.name].names for table in CORE}
    parts = []
    for table in BUILT.values():
        extra = [column for column in table.columns if column.name not in logged.get(table.name, ())]
        if extra:
            parts.append(table_markdown(table, extra))
    return "\n\n".join(parts)


def with_generated(text: str) -> str:
    """The document with its generated blocks as they should be; a name without a block changes nothing."""
    for name, content in _blocks().items():
        begin, end = f"<!-- {name}: begin -->", f"<!-- {name}: end -->"
        pattern = rf"(?<={re.escape(begin)}\n).*?(?={re.escape(end)})"
        text = re.sub(pattern, f"\n{content}\n\n".replace("\\", r"\\"), text, flags=re.DOTALL)
    return text


def _blocks() -> dict[str, str]:
    return {"job log": job_log_markdown(), "built": built_markdown(), "firm.toml": reference_table()}


def _row(column: Column) -> str:
    star = "\\*" if column.required else ""
    cells = (column.kind.replace("_", "/"), column.unit, column.known_by, column.allowed, column.meaning)
    return f"| `{column.name}`{star} | {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |"


if __name__ == "__main__":
    for _name in sys.argv[1:]:
        _path = Path(_name)
        _path.write_text(with_generated(_path.read_text(encoding="utf-8")), encoding="utf-8")
