"""A mapping at its edges: every unit by its definition, hours of the day, numbers of a file, what a sheet leaves
open."""

from __future__ import annotations

import json
from pathlib import Path

import polars as pl
import pytest

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput
from pipeline.mapping.confirmed_mapping import ColumnMap, Mapping, TableMap, mapping_faults, open_questions
from pipeline.mapping.foreign_units import UNITS, units_of
from pipeline.mapping.mapped_cells import cells, clock_text, date_text
from pipeline.mapping.mapping_editor import NONE, Asked, MappingSheet, SheetTable
from pipeline.mapping.mapping_file import read_mapping

# one of each unit in the unit of the job log; exact by definition, but for psi and BTU (NIST SP 811, from memory)
ONE_OF = {
    "mass_g": {"g": 1, "kg": 1000, "lb": 453.59237, "oz": 28.349523125},
    "flow_l_min": {
        "L/min": 1,
        "L/s": 60,
        "L/h": 1 / 60,
        "m³/h": 1000 / 60,
        "gal US/min": 3.785411784,
        "gal UK/min": 4.54609,
    },
    "flow_temp_c": {"°C": 1, "°F": -31 / 1.8},
    "height_mm": {"mm": 1, "cm": 10, "m": 1000, "inch": 25.4, "ft": 304.8},
    "hose_length_m": {"m": 1, "mm": 0.001, "cm": 0.01, "ft": 0.3048, "inch": 0.0254},
    "pressure_bar": {"bar": 1, "kPa": 0.01, "psi": 0.0689475729},
    "boiler_output_kw": {"kW": 1, "W": 0.001, "BTU/h": 0.00029307107},
    "conductivity_us_cm": {"µS/cm": 1, "mS/cm": 1000},
    "quoted_minutes": {"min": 1, "h": 60},
    "final_iron_mg_l": {"mg/L": 1, "µg/L": 0.001},
}
TABLE_OF = {name: table.name for table in reversed(JOB_LOG.values()) for name in table.names}


@pytest.mark.parametrize("name", ONE_OF)
def test_one_of_each_unit_in_the_unit_of_the_job_log(name: str) -> None:
    column = JOB_LOG[TABLE_OF[name]].column(name)
    assert set(units_of(column)) == set(ONE_OF[name])
    made = {unit: cells(column, ColumnMap(name, "x", unit=unit), "x", "").text for unit in ONE_OF[name]}
    found = pl.DataFrame({"x": ["1"]}).select(**made).row(0, named=True)

    assert {unit: float(cell) for unit, cell in found.items()} == pytest.approx(ONE_OF[name], rel=1e-8)


def test_every_unit_is_one_of_these_or_a_size_of_tube() -> None:
    listed = {unit for units in ONE_OF.values() for unit in units}

    assert {unit.name for unit in UNITS} - listed == {"inch copper US", "inch copper UK", "inch steel"}
    assert set(units_of(JOB_LOG["jobs"].column("main_bore_mm"))) - set(ONE_OF["height_mm"]) == {
        unit.name for unit in UNITS if unit.sizes
    }


CLOCKS = {
    "0:00": "00:00:00",
    "23:59": "23:59:00",
    "24:00": None,
    "9:59:59": "09:59:59",
    "9:60": None,
    "9:59:60": None,
    "12:00 am": "00:00:00",
    "12:59 pm": "12:59:00",
    "1:00 pm": "13:00:00",
    "11:59 PM": "23:59:00",
    "0:30 am": None,
    "13:00 pm": None,
    "9h15": "09:15:00",
}


def test_hours_of_the_day_to_their_ends() -> None:
    found = pl.DataFrame({"x": list(CLOCKS)}).select(clock_text(pl.col("x"))).to_series()

    assert dict(zip(CLOCKS, found.to_list(), strict=True)) == CLOCKS


def test_years_of_two_figures_turn_at_80_and_days_of_two_orders_or_numbers_are_read_as_said() -> None:
    given = ["31/12/79", "1/1/80", "1/2/2025", "45720"]
    orders = {order: date_text(pl.col("x"), order) for order in ("dmy", "mdy", "dmy serial", "mdy serial1904")}
    found = pl.DataFrame({"x": given}).select(**orders)

    assert found["dmy"].to_list() == ["2079-12-31", "1980-01-01", "2025-02-01", None]
    assert found["mdy"].to_list() == [None, "1980-01-01", "2025-01-02", None]
    assert found["dmy serial"].to_list() == ["2079-12-31", "1980-01-01", "2025-02-01", "2025-03-04"]
    assert found["mdy serial1904"].to_list() == [None, "1980-01-01", "2025-01-02", "2029-03-05"]  # 1,462 days on


def mapping_of(folder: Path, *lines: str) -> Mapping:
    columns = '[[tables.columns]]\ncolumn = "weighed"\nheading = "  Our   Notes {N} "\nvalues = {" Wet " = "wet"}\n'
    text = "\n".join(["[[tables]]", 'source = "s"', 'table = "catches"', *lines, columns])
    (folder / "m.toml").write_text(text.replace("{N}", "{n}"), encoding="utf-8")
    return read_mapping(folder / "m.toml")


def test_headings_and_words_of_a_mapping_file_are_compared_in_small_letters(tmp_path: Path) -> None:
    (table,) = mapping_of(tmp_path, "numbers = [0, 10000]", "heading_line = 10000").tables

    assert (table.numbers, table.heading_line) == ((0, 10_000), 10_000)
    assert table.columns == (ColumnMap("weighed", "our notes {n}", values=(("wet", "wet"),)),)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("numbers = [1, 10001]", "numbers must be a list of whole numbers from 0 to 10000"),
        ("numbers = [-1]", "numbers must be a list"),
        ("numbers = [true]", "numbers must be a list"),
        ("numbers = 1", "numbers must be a list"),
        ("numbers = [2, 2]", "a number stands twice in numbers"),
        ("numbers = [1]\nheading_line = 1.5", "heading_line must be a whole number"),
        ("", "numbers go together: one of them is missing"),
    ],
)
def test_numbers_of_a_mapping_file_that_are_none(line: str, told: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput) as refused:
        mapping_of(tmp_path, line)
    assert told in str(refused.value)


def test_faults_of_a_table_each_once() -> None:
    both = ColumnMap("trap", "c", constant="magnet")
    twice = (ColumnMap("note", "a"), ColumnMap("note", "b"), both, ColumnMap("trap"))

    assert mapping_faults(Mapping((TableMap(" ", "catches", twice),))) == (
        "[  to catches] names no source",
        "[  to catches] 'note' is mapped more than once",
        "[  to catches] 'trap' is mapped more than once",
        "[  to catches] trap: it needs a heading or a constant, and not both",
        "[  to catches] trap: it needs a heading or a constant, and not both",
    )
    assert mapping_faults(Mapping((TableMap("a", "catches", (ColumnMap("note", "b"),)),))) == ()
    assert "there is no table 'sites'" in mapping_faults(Mapping((TableMap("a", "sites", ()),)))[0]


def test_a_unit_is_asked_of_a_firms_heading_and_not_of_the_contracts_own() -> None:
    given = ("job_id", "catch_no", "caught_at", "trap")
    rest = tuple(ColumnMap(name, name) for name in given)

    def asked(mapped: ColumnMap) -> tuple[str, ...]:
        return open_questions(Mapping((TableMap("s", "catches", (*rest, mapped)),)))

    assert asked(ColumnMap("mass_g", "weight")) == ("which unit has 'weight' of s (g, kg, lb, oz, each cell)?",)
    assert asked(ColumnMap("mass_g", "weight", unit="kg")) == ()
    assert asked(ColumnMap("mass_g", "mass_g")) == ()
    assert asked(ColumnMap("note", "note")) == ("where does 'mass_g' of catches come from in s?",)


ROW = {"heading": "a", "column": "note", "unit": "", "dates": "", "constant": ""}


def sheet_with(*asked: Asked) -> MappingSheet:
    table = TableMap("s", "catches", (ColumnMap("note", "a"),))
    return MappingSheet((SheetTable("s", table, (ROW,), (), (), (ColumnMap("mass_g", "b", unit="kg"),)),), asked, ())


WHICH = Asked(
    "column",
    "What is b?",
    (("mass_g", ""), ("note", "")),
    ((0, ""),),
    "b",
    (ColumnMap("mass_g", "b", unit="kg"), ColumnMap("note", "b")),
)


@pytest.mark.parametrize(
    ("answer", "columns", "is_open"),
    [
        ("mass_g", ["note", "mass_g"], False),
        ("note", ["note"], False),  # another heading is the note already
        (NONE, ["note"], False),
        (None, ["note"], True),
    ],
)
def test_a_heading_that_was_asked_about_is_taken_once_answered_unless_its_column_is_given(
    answer: str | None, columns: list[str], is_open: bool
) -> None:
    found = sheet_with(WHICH).confirmed([[ROW]], [answer])

    assert sorted(each.column for each in found.tables[0].columns) == sorted(columns)
    assert found.open == (("What is b?",) if is_open else ())


def test_a_row_written_by_hand_for_a_heading_that_was_asked_about_closes_the_question_with_its_unit() -> None:
    by_hand = {**ROW, "heading": "b", "column": "mass_g"}
    found = sheet_with(WHICH).confirmed([[ROW, by_hand]], [None])

    assert found.open == ()
    assert {each.column: each.unit for each in found.tables[0].columns} == {"note": "", "mass_g": "kg"}
    assert sheet_with(WHICH).confirmed([None], [None]) == Mapping(())


def test_words_and_marks_stay_open_until_answered_and_units_and_days_are_found_later() -> None:
    kinds = [Asked(what, what, (), ((0, "note"),), "w") for what in ("word", "mark", "unit", "dates")]  # type: ignore[arg-type]
    elsewhere = Asked("word", "elsewhere", (), ((0, "trap"),), "w")

    assert sheet_with(*kinds, elsewhere).confirmed([[ROW]], [None] * 5).open == ("word", "mark")
    answered = sheet_with(*kinds).confirmed([[ROW]], ["wet", "thousands .", "kg", "dmy"]).tables[0].columns[0]
    assert answered == ColumnMap("note", "a", "", "kg", ",", ".", "dmy", "", (("w", "wet"),))


def test_a_mapping_with_quotes_and_odd_signs_is_written_as_toml_reads_it(tmp_path: Path) -> None:
    odd = 'a "quoted" \\ heading\t\x7f é'
    text = f'[[tables]]\nsource = {json.dumps(odd, ensure_ascii=False)}\ntable = "catches"\n'.replace("\x7f", "\\u007f")
    (tmp_path / "m.toml").write_text(text, encoding="utf-8")

    assert read_mapping(tmp_path / "m.toml").tables[0].source == odd
