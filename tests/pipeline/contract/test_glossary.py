"""The glossary holds the whole contract, and renewing a document changes its blocks only."""

from __future__ import annotations

from pipeline.contract import BUILT, JOB_LOG
from pipeline.contract.columns import Column, Table
from pipeline.contract.glossary import built_markdown, job_log_markdown, table_markdown, with_generated


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


def test_renewing_a_document_changes_what_is_between_the_marks_only() -> None:
    text = "before\n<!-- built: begin -->\nstale\n<!-- built: end -->\nafter\n"

    renewed = with_generated(text)

    assert renewed.startswith("before\n<!-- built: begin -->\n\n**jobs**")
    assert renewed.endswith("|\n\n<!-- built: end -->\nafter\n")
    assert with_generated(renewed) == renewed


def test_a_document_without_marks_is_left_as_it_is() -> None:
    assert with_generated("nothing generated here\n") == "nothing generated here\n"
