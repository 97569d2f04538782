"""Foreign headings: what is proposed, what is asked, what is never proposed. Three firms from proposal to rows."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest
import xlsxwriter

from pipeline.checks.row_rules import typed
from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Column, Table
from pipeline.mapping.apply_mapping import MappedTable, apply_mapping
from pipeline.mapping.mapping_file import mapping_text, read_mapping, write_mapping
from pipeline.mapping.propose import Proposal, propose
from pipeline.readers.files import find_tables
from pipeline.readers.text_tables import LINE

FOREIGN = Path(__file__).parents[2] / "data" / "foreign"
HAND_WRITTEN = Path(__file__).parents[2] / "data" / "hand_written"


def column(name: str, **lines: str) -> tuple[str, str]:
    """An edit of the file: the line of a column → the same line with what a person adds below it."""
    head = f'column = "{name}"\n'
    return head, head + "".join(f'{key} = "{value}"\n' for key, value in lines.items())


def added(name: str, **lines: str) -> str:
    return "\n[[tables.columns]]\n" + column(name, **lines)[1]


ANSWERS = {
    "comma_firm": [
        ('"regular" = "heat_only"\n', '"regular" = "heat_only"\n"kombi" = "combi"\n'),
        (
            'table = "jobs"\n',
            'table = "jobs"\n'
            + added("filter_fitted", heading="filter eingebaut")
            + '[tables.columns.values]\n"ja" = "on_return"\n"nein" = "none"\n'
            + added("flush_started_at", heading="beginn", dates="dmy", date_heading="datum")
            + added("flush_ended_at", heading="ende", dates="dmy", date_heading="datum")
            + added("survey_ph", heading="ph", decimal=",")
            + added("install_year", heading="baujahr")
            + added("quoted_price", heading="preis", decimal=",", thousands="."),
        ),
    ],
    "wide_firm": [
        *(column(name, dates="dmy") for name in ("visit_date", "caught_at")),
        (
            'table = "jobs"\n',
            'table = "jobs"\n'
            + added("flush_started_at", heading="start", dates="dmy", date_heading="date")
            + added("flush_ended_at", heading="finish", dates="dmy", date_heading="date"),
        ),
        *(column(name, unit="mm") for name in ("height_mm", "length_mm")),
        ('"vented" = "open_vented"\n', '"vented" = "open_vented"\n"y-plan" = "open_vented"\n'),
        ('"double panel" = "panel_20"', '"double panel" = "panel_22"'),
        ('unit = "g"\n', 'unit = "g"\n' + added("trap", constant="magnet")),
    ],
    "us_firm": [
        column("main_bore_mm", unit="inch copper US"),
        column("machine_max_flow_l_min", unit="gal US/min"),
        column("boiler_output_kw", thousands=","),
    ],
}


def proposal(firm: str) -> Proposal:
    return propose(table for table in find_tables(FOREIGN / firm) if "expected/" not in table.name)


def confirmed(firm: str, folder: Path) -> list[MappedTable]:
    """Write the proposal, give the answers a person would give, read it back, apply it."""
    made = proposal(firm)
    path = folder / "mapping.toml"
    write_mapping(path, made.mapping, made)
    text = path.read_text(encoding="utf-8")
    for before, after in ANSWERS[firm]:
        assert before in text, before
        text = text.replace(before, after)
    lines = text.splitlines(keepends=True)
    path.write_text("".join(line for line in lines if not line.startswith("# ask:")), encoding="utf-8")
    sources = [table for table in find_tables(FOREIGN / firm) if "expected/" not in table.name]
    return apply_mapping(read_mapping(path), sources)


def as_typed(frame: pl.DataFrame, columns: list[Column]) -> list[dict[str, object]]:
    return frame.select(typed(column).alias(column.name) for column in columns).to_dicts()


@pytest.mark.parametrize("firm", ANSWERS)
def test_a_confirmed_proposal_gives_exactly_the_rows_expected(firm: str, tmp_path: Path) -> None:
    mapped = {each.table: each.text for each in confirmed(firm, tmp_path)}
    expected = {found.stem: found.read().frame for found in find_tables(FOREIGN / firm / "expected")}

    assert set(mapped) == set(expected)
    for table, text in mapped.items():
        columns = [column for column in JOB_LOG[table].columns if column.name in expected[table].columns]
        assert set(text.headings) == {column.name for column in columns}
        assert text.broken == ()
        rows, wanted = as_typed(text.frame, columns), as_typed(expected[table], columns)
        assert len(rows) == len(wanted)
        for row, want in zip(rows, wanted, strict=True):
            numbers = {name: pytest.approx(value, rel=1e-9) for name, value in want.items() if isinstance(value, float)}
            assert row == want | numbers


@pytest.mark.parametrize(
    ("firm", "asked"),
    [
        ("comma_firm", ["", "", "", "", "", "", "boiler_kind"]),
        ("wide_firm", ["system_type", "visit_date", "", "", "", "caught_at", "height_mm", "length_mm"]),
        ("us_firm", ["main_bore_mm", "boiler_output_kw", "machine_max_flow_l_min"]),
    ],
)
def test_what_cannot_be_told_is_asked_and_nothing_else(firm: str, asked: list[str]) -> None:
    made = proposal(firm)
    column_of = {
        (table.mapped.source, table.mapped.table, each.heading): each.column
        for table in made.tables
        for each in table.columns
    }
    found = [column_of.get((q.source, q.table, q.heading), "") for q in made.questions]

    assert sorted(found) == sorted(asked)


def test_private_columns_are_reported_and_their_values_shown_nowhere() -> None:
    made = proposal("comma_firm")
    reported = [str(finding.facts["column"]) for finding in made.findings if finding.code == "private_column"]

    assert reported == ["kundenname", "telefon"]
    text = mapping_text(made.mapping, made)
    assert not any(secret in text for secret in ("Muster", "5550"))


def test_every_question_stands_in_the_file_as_a_comment() -> None:
    made = proposal("wide_firm")
    asked = [line for line in mapping_text(made.mapping, made).splitlines() if line.startswith("# ask: ")]

    assert len(asked) == len(made.questions) == 8


@pytest.mark.parametrize("table", JOB_LOG.values(), ids=JOB_LOG)
def test_the_contracts_own_columns_written_as_words_are_found(table: Table, tmp_path: Path) -> None:
    headings = [name.replace("_", " ").title() for name in table.names if name != "postcode_district"]
    made = one(tmp_path, ",".join(headings) + "\n", f"{table.name} of 2025.csv")

    (proposed,) = made.tables
    assert proposed.mapped.table == table.name
    assert {each.column: each.heading for each in proposed.columns} == {
        heading.lower().replace(" ", "_"): heading.lower() for heading in headings
    }


def test_tables_with_the_contracts_headings_need_no_mapping() -> None:
    made = propose(find_tables(HAND_WRITTEN))

    assert (made.tables, made.mapping.tables, made.findings) == ((), (), ())


def one(tmp_path: Path, text: str, name: str = "catches.csv") -> Proposal:
    (tmp_path / name).write_text(text, encoding="utf-8")
    return propose(find_tables(tmp_path / name))


@pytest.mark.parametrize(
    ("days", "order"),
    [
        (["13/01/2025", "02/03/2025"], "dmy"),
        (["01/13/2025", "02/03/2025"], "mdy"),
        (["2025-01-13"], ""),
        (["01/02/2025", "02/03/2025"], ""),
        (["13/01/2025", "01/13/2025"], ""),
        (["5 Mar 2025"], ""),
    ],
)
def test_day_and_month_are_told_from_the_whole_column_or_asked(days: list[str], order: str, tmp_path: Path) -> None:
    lines = [f"J{i},{day},leak" for i, day in enumerate(days)]
    made = one(tmp_path, "\n".join(["job,date of callback,cause", *lines]), "callbacks.csv")
    (mapped,) = [c for c in made.mapping.tables[0].columns if c.column == "called_back_on"]

    assert mapped.dates == order
    is_open = not order and days[0][2] == "/"
    assert [q.heading for q in made.questions] == (["date of callback"] if is_open else [])


@pytest.mark.parametrize(
    ("unit", "cells", "decimal", "thousands", "is_asked"),
    [
        ("kg", ["1.5", "2"], ".", "", False),
        ("kg", ["1,5", "2"], ",", "", False),
        ("g", ["1.234,5", "12"], ",", ".", False),
        ("g", ["1,234.5"], ".", ",", False),
        ("kg", ["0,125"], ",", "", False),
        ("g", ["1,234"], ".", "", True),  # either; as set it is rejected
        ("g", ["1.234"], ",", "", True),
        ("g", ["1 234,5"], ",", " ", False),
    ],
)
def test_decimal_marks_are_told_from_the_whole_column_or_asked(
    unit: str, cells: list[str], decimal: str, thousands: str, is_asked: bool, tmp_path: Path
) -> None:
    made = one(tmp_path, f"job;time;where;weight ({unit})\n" + "".join(f"J;9:00;magnet;{cell}\n" for cell in cells))
    (mapped,) = [c for c in made.mapping.tables[0].columns if c.column == "mass_g"]

    assert (mapped.decimal, mapped.thousands) == (decimal, thousands)
    assert any("decimals" in q.sentence for q in made.questions) == is_asked


@pytest.mark.parametrize(
    ("heading", "unit", "first"),
    [
        ("weight (lb)", "lb", 3),
        ("weight kg", "kg", 0.4),
        ("mass [g]", "g", 400),
        ("debris weight, oz", "oz", 9),
        ("weight", "", 400),
    ],
)
def test_the_unit_in_a_heading_is_found_and_asked_when_there_is_none(
    heading: str, unit: str, first: float, tmp_path: Path
) -> None:
    made = one(tmp_path, f'job,no,where,"{heading}"\nJ,1,magnet,{first}\nJ,2,magnet,{first}\n')
    (mapped,) = [c for c in made.mapping.tables[0].columns if c.column == "mass_g"]

    assert mapped.unit == unit
    assert any("which unit" in q.sentence for q in made.questions) == (not unit)


@pytest.mark.parametrize(
    ("heading", "values", "what"),
    [
        ("who", ["Ann Archer", "Bob Baker", "Cy Cole"], "people's names"),
        ("fitter", ["07700 900123", "07700 900124", ""], "phone numbers"),
        ("where to", ["12 Mill Lane", "3 High Street", "x"], "street addresses"),
        ("area", ["AB1 2CD", "AB1 3CD", "AB2 4EF"], "full postcodes"),
        ("remark", ["a@example.org", "ring b@example.org", ""], "e-mail addresses"),
        ("site contact", ["x", "y", "z"], "by its heading"),
    ],
)
def test_private_columns_are_told_by_heading_or_by_values(
    heading: str, values: list[str], what: str, tmp_path: Path
) -> None:
    lines = [f"J{i},{value},leak,2025-01-13" for i, value in enumerate(values)]
    made = one(tmp_path, "\n".join([f"job,{heading},cause,date", *lines]), "callbacks.csv")

    assert [f.facts["column"] for f in made.findings] == [heading]
    assert what in made.findings[0].sentence
    assert heading not in made.mapping.tables[0].headings


@pytest.mark.parametrize(("code", "is_mapped"), [("AB1", True), ("AB1 2CD", False)])
def test_only_the_outward_part_of_a_postcode_is_proposed(code: str, is_mapped: bool, tmp_path: Path) -> None:
    made = one(tmp_path, f"job,date,system,postcode\nA,2025-03-04,sealed,{code}\n", "jobs.csv")

    assert ("postcode" in made.mapping.tables[0].headings) == is_mapped


def test_engineers_known_by_email_are_proposed_because_ids_are_hidden(tmp_path: Path) -> None:
    made = one(tmp_path, "job,date,system,engineer\nA,2025-03-04,sealed,a@example.org\n", "jobs.csv")

    assert "engineer" in made.mapping.tables[0].headings


@pytest.mark.parametrize(("from_1904", "dates"), [(False, "serial"), (True, "serial1904")])
def test_day_numbers_of_a_workbook_are_told_by_the_day_it_counts_from(
    from_1904: bool, dates: str, tmp_path: Path
) -> None:
    with xlsxwriter.Workbook(str(tmp_path / "log.xlsx"), {"date_1904": from_1904}) as book:
        sheet = book.add_worksheet("recalls")
        for i, row in enumerate([["job", "date of callback", "cause"], ["A", 44300, "leak"], ["B", 44301.0, "noise"]]):
            sheet.write_row(i, 0, row)
    found = find_tables(tmp_path / "log.xlsx")
    made = propose(found)

    assert made.mapping.tables[0].columns[1].dates == dates
    (text,) = [each.text for each in apply_mapping(made.mapping, found)]
    assert text.frame["called_back_on"][0] == ("2025-04-15" if from_1904 else "2021-04-14")


def test_day_numbers_of_a_text_file_are_asked(tmp_path: Path) -> None:
    made = one(tmp_path, "job,callback date,cause\nA,45720,leak\n", "callbacks.csv")

    assert ["1904" in question.sentence for question in made.questions] == [True]


def test_a_sheet_of_something_else_is_said_to_be_unknown(tmp_path: Path) -> None:
    made = one(tmp_path, "invoice,vat,paid\n1,2,3\n", "invoices.csv")

    assert [finding.code for finding in made.findings] == ["table_not_recognised"]


def test_contract_tables_pass_through_an_empty_mapping() -> None:
    from pipeline.mapping.confirmed_mapping import Mapping

    mapped = apply_mapping(Mapping(()), find_tables(HAND_WRITTEN))
    untouched = {found.table: found.read().frame for found in find_tables(HAND_WRITTEN)}

    assert {each.table: each.text.frame.drop(LINE).rows() for each in mapped} == {
        table: frame.drop(LINE).rows() for table, frame in untouched.items()
    }
