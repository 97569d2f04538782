"""A confirmed mapping: its file, the conversion of cells, unfolding, and what it refuses."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput
from pipeline.contract.units import COPPER_US_OUTSIDE_MM, MM_PER_INCH
from pipeline.mapping.apply_mapping import MappedTable, apply_mapping
from pipeline.mapping.confirmed_mapping import ColumnMap, Mapping, TableMap, mapping_faults, open_questions
from pipeline.mapping.foreign_units import UNITS, unit_named, units_of
from pipeline.mapping.mapped_cells import cells, clock_text, date_text, moment_text
from pipeline.mapping.mapping_file import mapping_text, read_mapping, write_mapping
from pipeline.privacy.private_columns import private_heading
from pipeline.readers.files import find_tables

C = ColumnMap
TABLE_OF = {
    "mass_g": "catches",
    "flow_l_min": "readings",
    "flow_temp_c": "readings",
    "pressure_bar": "readings",
    "hose_length_m": "jobs",
    "height_mm": "emitters",
    "main_bore_mm": "jobs",
    "quoted_minutes": "jobs",
    "boiler_output_kw": "jobs",
    "conductivity_us_cm": "readings",
    "crew_size": "jobs",
}


def converted(name: str, cell: str, **said: str) -> tuple[str | None, bool]:
    column = JOB_LOG[TABLE_OF[name]].column(name)
    made = cells(column, C(name, "x", **said), "x", "")
    text, misread = pl.DataFrame({"x": [cell]}).select(made.text.alias("t"), made.misread.alias("m")).row(0)
    return text, misread


@pytest.mark.parametrize(
    ("name", "cell", "unit", "value"),
    [
        ("mass_g", "1", "lb", 453.59237),  # exact: international yard and pound agreement, 1959
        ("mass_g", "16", "oz", 453.59237),
        ("mass_g", "0.42", "kg", 420.0),
        ("flow_l_min", "1", "gal US/min", 3.785411784),  # exact: 231 cubic inches
        ("flow_l_min", "1", "gal UK/min", 4.54609),  # exact: Weights and Measures Act 1985
        ("flow_l_min", "0.25", "L/s", 15.0),
        ("flow_l_min", "1.2", "m³/h", 20.0),
        ("flow_temp_c", "212", "°F", 100.0),
        ("flow_temp_c", "-40", "°F", -40.0),
        ("pressure_bar", "14.5037738", "psi", 1.0),  # from memory
        ("pressure_bar", "150", "kPa", 1.5),
        ("hose_length_m", "10", "ft", 3.048),
        ("height_mm", "24", "inch", 609.6),
        ("height_mm", '23 5/8"', "inch", 600.075),
        ("boiler_output_kw", "100000", "BTU/h", 29.307107),  # from memory
        ("quoted_minutes", "6.5", "h", 390.0),
        ("conductivity_us_cm", "1.4", "mS/cm", 1400.0),
    ],
)
def test_units_become_those_of_the_contract(name: str, cell: str, unit: str, value: float) -> None:
    text, misread = converted(name, cell, unit=unit)

    assert not misread
    assert float(text or "nan") == pytest.approx(value, rel=1e-8)


@pytest.mark.parametrize(
    ("cell", "unit", "outside_mm"),
    [
        ("3/4", "inch copper US", 22.225),
        ("1 1/4", "inch copper US", 34.925),
        ("0.5", "inch copper UK", 15.0),
        ('3/4"', "inch steel", 26.9),
        ("3/4 in", "inch", 19.05),
        ("22", "mm", 22.0),
        ("22 mm", "inch steel", 22.0),
    ],
)
def test_nominal_tube_sizes_become_outside_diameters(cell: str, unit: str, outside_mm: float) -> None:
    assert float(converted("main_bore_mm", cell, unit=unit)[0] or "nan") == pytest.approx(outside_mm)


def test_copper_tube_in_inches_is_an_eighth_larger_than_its_name() -> None:
    """ASTM B88, from memory: outside diameter = nominal size + 1/8 inch."""
    for nominal, outside_mm in COPPER_US_OUTSIDE_MM.items():
        assert outside_mm == pytest.approx((nominal + 0.125) * MM_PER_INCH)


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("1.5", {"unit": "kg", "decimal": ","}),  # a point where the firm writes a comma
        ("1.23.4", {"unit": "kg", "decimal": ",", "thousands": "."}),
        ("12", {"unit": "each cell"}),
        ("0.75 in", {"unit": "g"}),
        ("< 5", {"unit": "g"}),
        ("½", {"unit": "g"}),
        ("nan", {"unit": "kg"}),
    ],
)
def test_what_is_not_a_number_as_agreed_is_never_taken_for_one(cell: str, said: dict[str, str]) -> None:
    text, misread = converted("mass_g", cell, **said)

    assert text == cell
    plain = pl.Series([cell]).cast(pl.Float64, strict=False)
    assert misread == plain.is_not_null().item()


@pytest.mark.parametrize(("cell", "unit"), [("0.75 in", "mm"), ("7/8", "inch steel"), ("0.8", "inch copper UK")])
def test_a_tube_of_no_listed_size_stays_as_it_came(cell: str, unit: str) -> None:
    assert converted("main_bore_mm", cell, unit=unit)[0] == cell


@pytest.mark.parametrize(
    ("cell", "order", "day", "moment"),
    [
        ("4/3/25", "dmy", "2025-03-04", None),
        ("4/3/25", "mdy", "2025-04-03", None),
        ("4/3/25", "", None, None),
        ("30.2.2025", "dmy", None, None),
        ("31.12.99 23:59", "dmy", "1999-12-31", "1999-12-31T23:59:00"),
        ("3 Mar 2031 4:05 pm", "", "2031-03-03", "2031-03-03T16:05:00"),
        ("12-DEC-24 12:00 AM", "mdy", "2024-12-12", "2024-12-12T00:00:00"),
        ("2031/3/4 9.15", "", "2031-03-04", "2031-03-04T09:15:00"),
        ("04/03/2025 09:15:30.25", "dmy", "2025-03-04", "2025-03-04T09:15:30.25"),
        ("45720.385416667", "serial", "2025-03-04", "2025-03-04T09:15:00"),
        ("44258.385416667", "serial1904", "2025-03-04", "2025-03-04T09:15:00"),
        ("soon", "dmy", None, None),
    ],
)
def test_days_and_moments_are_read_as_agreed(cell: str, order: str, day: str | None, moment: str | None) -> None:
    found = pl.DataFrame({"x": [cell]}).select(d=date_text(pl.col("x"), order), m=moment_text(pl.col("x"), order))

    assert found.row(0) == (day, moment)


@pytest.mark.parametrize(
    ("cell", "clock"), [("9:15", "09:15:00"), ("12.05am", "00:05:00"), ("24:00", None), ("13:00 pm", None)]
)
def test_clock_times_are_read(cell: str, clock: str | None) -> None:
    assert pl.DataFrame({"x": [cell]}).select(clock_text(pl.col("x"))).item() == clock


STYLES = [(".", ""), (".", ","), (".", "'"), (",", ""), (",", "."), (",", " ")]


@settings(max_examples=150, deadline=None)
@given(grams=st.integers(0, 20_000_000).map(lambda n: n / 1000), style=st.sampled_from(STYLES))
def test_a_number_in_any_agreed_style_is_the_same_number(grams: float, style: tuple[str, str]) -> None:
    decimal, thousands = style
    shown = f"{grams:,.3f}".translate(str.maketrans({",": thousands, ".": decimal}))

    text, misread = converted("mass_g", shown, unit="g", decimal=decimal, thousands=thousands)
    assert (float(text or "nan"), misread) == (grams, False)
    other = converted("mass_g", shown, unit="g", decimal="," if decimal == "." else ".")
    assert other[1] or pl.Series([other[0]]).cast(pl.Float64, strict=False).is_null().all()


@settings(max_examples=150, deadline=None)
@given(
    moment=st.datetimes(datetime(1980, 1, 1), datetime(2079, 12, 31)),
    style=st.sampled_from(
        ["dmy %d/%m/%Y", "mdy %m/%d/%Y", "dmy %d.%m.%y", "mdy %m-%d-%y", "ymd %Y/%m/%d", " %d %b %y"]
    ),
    clock=st.sampled_from(["%H:%M:%S", "%I:%M:%S %p", "%H.%M.%S"]),
)
def test_a_moment_in_any_agreed_style_is_the_same_moment(moment: datetime, style: str, clock: str) -> None:
    order, _, form = style.partition(" ")
    shown = moment.strftime(f"{form} {clock}")

    found = pl.DataFrame({"x": [shown]}).select(moment_text(pl.col("x"), order)).item()
    assert found == moment.strftime("%Y-%m-%dT%H:%M:%S")


def test_each_unit_has_spellings_of_its_own() -> None:
    mass = JOB_LOG["catches"].column("mass_g")

    assert unit_named("LBS.", mass) == ("lb",)
    assert unit_named("gpm", JOB_LOG["readings"].column("flow_l_min")) == ("gal US/min", "gal UK/min")
    assert unit_named("in", JOB_LOG["jobs"].column("main_bore_mm"))[-1] == "inch"
    assert unit_named("kg", JOB_LOG["readings"].column("ph")) == ()
    assert all(unit.factor > 0 for unit in UNITS)


WIDE = """ref;day;catch 1 kg;time 1;catch 2 kg;time 2;phone
A;13/3/2025;0,5;9:00;0,25;10:00;x
B;14/3/2025;1.5;9:00;;;x
C;15/3/2025
D;16/3/2025;;;0,1;11:30;x
"""
CATCHES = TableMap(
    "wide",
    "catches",
    (
        C("job_id", "ref"),
        C("catch_no", constant="{n}"),
        C("caught_at", "time {n}", dates="dmy", date_heading="day"),
        C("mass_g", "catch {n} kg", unit="kg", decimal=","),
        C("trap", constant="magnet"),
    ),
    (1, 2),
)


def applied(folder: Path, text: str, *tables: TableMap) -> list[MappedTable]:
    (folder / "wide.csv").write_text(text, encoding="utf-8")
    return apply_mapping(Mapping(tables), find_tables(folder / "wide.csv"))


def test_a_wide_sheet_unfolds_and_every_record_is_accounted_for(tmp_path: Path) -> None:
    ((table, file, text),) = applied(tmp_path, WIDE, CATCHES)

    assert (table, file) == ("catches", "wide.csv")
    assert text.frame.rows() == [
        ("A", "1", "2025-03-13T09:00:00", "500.0", "magnet", 2),
        ("A", "2", "2025-03-13T10:00:00", "250.0", "magnet", 2),
        ("D", "2", "2025-03-16T11:30:00", "100.0", "magnet", 5),
    ]
    assert [(row.line, row.reason[:12]) for row in text.broken] == [(3, "not a number"), (4, "the line has")]
    assert text.rows == 5
    assert [(f.code, f.facts["column"]) for f in text.findings] == [("private_column", "phone")]


def test_a_mapping_of_another_month_applies_to_a_file_of_another_name(tmp_path: Path) -> None:
    other = TableMap("march", CATCHES.table, CATCHES.columns, CATCHES.numbers)

    assert applied(tmp_path, WIDE, other)[0].text.rows == 5


def test_open_questions_are_all_asked_at_once_and_nothing_is_read(tmp_path: Path) -> None:
    jobs = TableMap("wide", "jobs", (C("job_id", "ref"), C("visit_date", "day"), C("boiler_output_kw", "catch 1 kg")))

    with pytest.raises(BadInput) as refused:
        applied(tmp_path, WIDE.replace("15/3", "12/3"), jobs)
    for asked in ("5 questions", "which unit", "'system_type'", "'flush_started_at'", "day or the month first"):
        assert asked in str(refused.value)


def test_a_required_heading_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"no column 'time 1', 'catch 1 kg'"):
        applied(tmp_path, "ref;day\nA;1.3.2025\n", CATCHES)


def test_values_that_look_private_are_left_out_even_when_mapped(tmp_path: Path) -> None:
    table = TableMap(
        "wide",
        "callbacks",
        (C("job_id", "ref"), C("called_back_on", "day", dates="dmy"), C("cause", constant="leak"), C("firm_id", "who")),
    )
    text = applied(tmp_path, "ref;day;who\nA;1.3.2025;07700 900123\nB;2.3.2025;07700 900124\n", table)[0].text

    assert text.headings == ("job_id", "called_back_on", "cause")
    assert [finding.code for finding in text.findings] == ["private_column"]


def test_people_are_not_taken_for_the_ids_of_jobs(tmp_path: Path) -> None:
    table = TableMap(
        "wide", "callbacks", (C("job_id", "who"), C("called_back_on", "day", dates="dmy"), C("cause", constant="leak"))
    )
    with pytest.raises(BadInput, match="people's names, which are never loaded"):
        applied(tmp_path, "who;day\nAnn Archer;1.3.2025\nBob Baker;1.3.2025\nCy Cole;1.3.2025\n", table)


FAULTY = """
version = 2
colour = 1
[[tables]]
source = "a"
table = "catches"
numbers = [1]
[[tables.columns]]
column = "mass"
heading = "a"
[[tables.columns]]
column = "mass_g"
heading = "b"
unit = "miles"
decimal = ";"
[[tables.columns]]
column = "note"
heading = "customer name"
[[tables.columns]]
column = "trap"
constant = 3
"""


def test_every_fault_of_a_file_is_told_at_once(tmp_path: Path) -> None:
    (tmp_path / "m.toml").write_text(FAULTY, encoding="utf-8")
    with pytest.raises(BadInput) as refused:
        read_mapping(tmp_path / "m.toml")

    for fault in (
        "version 2",
        "'colour'",
        "{n} and numbers",
        "'mass' is no column",
        "'miles'",
        "';'",
        "private",
        "constant must be a text",
    ):
        assert fault in str(refused.value)


@pytest.mark.parametrize(("decimal", "thousands", "is_fault"), [(",", ",", True), (".", ".", True), (",", ".", False)])
def test_one_mark_cannot_stand_for_decimals_and_for_thousands(decimal: str, thousands: str, is_fault: bool) -> None:
    mass = C("mass_g", heading="mass", decimal=decimal, thousands=thousands)
    faults = mapping_faults(Mapping((TableMap("catches.csv", "catches", (mass,)),)))
    assert [fault for fault in faults if "cannot be a mark between thousands" in fault] == list(faults)
    assert len(faults) == is_fault


@pytest.mark.parametrize(
    "text", ["tables = 3", "[tables]", "x = [", "numbers = 1", "[[tables]]\ncolumns = 'x'", "\x00"]
)
def test_a_file_that_is_no_mapping_is_refused_in_a_sentence(text: str, tmp_path: Path) -> None:
    (tmp_path / "m.toml").write_text(text, encoding="utf-8")
    with pytest.raises(BadInput):
        read_mapping(tmp_path / "m.toml")


WORDS = st.text(alphabet=st.characters(exclude_categories=("Cs",)), max_size=12)
HEADINGS = WORDS.map(lambda word: " ".join(word.split()).lower()).filter(lambda word: word and "{n}" not in word)


@st.composite
def sound_columns(draw: st.DrawFn) -> ColumnMap:
    column = draw(st.sampled_from(JOB_LOG["jobs"].columns))
    heading = draw(HEADINGS.filter(lambda word: not private_heading(word)))
    words = column.choices or (("yes", "no") if column.kind == "yes_no" else ())
    values = draw(st.dictionaries(HEADINGS, st.sampled_from(words), max_size=3)) if words else {}
    return ColumnMap(
        column.name,
        heading,
        unit=draw(st.sampled_from(["", *units_of(column)])),
        decimal=draw(st.sampled_from([".", ","])),
        thousands=draw(st.sampled_from(["", " ", "'"])),
        dates=draw(st.sampled_from(["", "dmy", "serial"])),
        date_heading=draw(HEADINGS) if column.kind == "time" else "",
        values=tuple(values.items()),
    )


@settings(max_examples=100, deadline=None)
@given(columns=st.lists(sound_columns(), max_size=4, unique_by=lambda each: each.column), source=HEADINGS)
def test_a_mapping_written_is_read_back(columns: list[ColumnMap], source: str, tmp_path_factory) -> None:
    mapping = Mapping((TableMap(source, "jobs", tuple(columns)),))
    path = tmp_path_factory.mktemp("mapping") / "m.toml"
    write_mapping(path, mapping)

    assert read_mapping(path) == mapping


def test_a_sound_mapping_written_is_read_back_and_asks_nothing(tmp_path: Path) -> None:
    mapping = Mapping((CATCHES,))
    write_mapping(tmp_path / "m.toml", mapping)

    assert read_mapping(tmp_path / "m.toml") == mapping
    assert (open_questions(mapping), mapping_faults(mapping)) == ((), ())
    assert "# ask" not in mapping_text(mapping)[600:]
