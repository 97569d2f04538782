"""The generated documents hold the whole contract and every setting, and are written anew as a whole."""

from __future__ import annotations

from pathlib import Path

from pipeline.contract import BUILT, JOB_LOG
from pipeline.contract.columns import Column, Table
from pipeline.contract.firm import SETTINGS
from pipeline.contract.glossary import (
    built_markdown,
    data_dictionary,
    documents,
    firm_settings,
    job_log_markdown,
    table_markdown,
    write_documents,
)


def test_a_table_becomes_a_title_and_a_row_a_column() -> None:
    mass = Column("mass_g", "number", "Mass | weighed", "g", "during", required=True, low=0, high=20)
    table = Table("catches", "one row a weighing", ("catch_no",), (mass,))

    assert table_markdown(table).splitlines() == [
        "**catches**: one row a weighing; key `catch_no`",
        "",
        "| column | type | unit | known | allowed | meaning |",
        "|---|---|---|---|---|---|",
        "| `mass_g`\\* | number | g | during | 0..20 | Mass \\| weighed |",
    ]


def test_every_column_of_the_contract_is_in_the_glossary() -> None:
    text = job_log_markdown() + built_markdown()
    columns = [column.name for table in (*JOB_LOG.values(), *BUILT.values()) for column in table.columns]

    assert [name for name in columns if f"| `{name}`" not in text] == []
    assert [table for table in (*JOB_LOG, *BUILT) if f"**{table}**" not in text] == []


def test_the_dictionary_holds_the_job_log_before_what_a_build_adds() -> None:
    text = data_dictionary()

    assert text.index("## The job log") < text.index(job_log_markdown()) < text.index("## What a build adds")
    assert text.index("## What a build adds") < text.index(built_markdown())


def test_the_settings_document_has_a_row_for_each_setting() -> None:
    rows = [line.split("|")[1].strip() for line in firm_settings().splitlines() if line.startswith("| `")]

    assert rows == [f"`{setting.name}`" for setting in SETTINGS]


def test_writing_the_documents_replaces_what_stood_there(tmp_path: Path) -> None:
    (tmp_path / "FIRM_SETTINGS.md").write_text("stale")

    write_documents(tmp_path)

    assert {path.name: path.read_text(encoding="utf-8") for path in tmp_path.iterdir()} == documents()
