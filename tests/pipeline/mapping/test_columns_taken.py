"""What of a firm's own headings is taken unasked: only what words and values leave no doubt of. The labelled set."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import xlsxwriter

from pipeline.checks.batch_sources import batch_sources
from pipeline.contract.findings import BadInput
from pipeline.intake.load import load
from pipeline.mapping.apply_mapping import apply_mapping
from pipeline.mapping.confirmed_mapping import Mapping
from pipeline.mapping.mapping_editor import sheet_of
from pipeline.mapping.mapping_file import mapping_text, write_mapping
from pipeline.mapping.propose import Proposal, propose
from pipeline.readers.files import find_tables
from pipeline.store.book import Book, read_table
from pipeline.store.received import batches
from tests.benchmarks.score_headings import scored

SHEET = {
    "jobs": {"Job": ["A1", "A2", "A3"], "Visit date": ["2025-03-14", "2025-03-18", "2025-03-28"]},
    "catches": {"Job": ["A1", "A1", "A2"], "Catch no": ["1", "2", "1"], "Where": ["magnet", "magnet", "base"]},
    "readings": {"Job": ["A1"] * 3, "Read at": ["2025-03-14 10:00", "2025-03-14 10:05", "2025-03-14 10:10"]},
    "emitters": {"Job": ["A1"] * 3, "Rad no": ["1", "2", "3"]},
    "pipe_runs": {"Job": ["A1"] * 3, "Run": ["1", "2", "3"]},
    "callbacks": {"Job": ["A1", "A2", "A3"], "Cause": ["leak", "noise", "pump"]},
}
"""A few headings of every table that nobody doubts, for one more to stand beside."""


def proposal(folder: Path, table: str, more: dict[str, list[str]]) -> Proposal:
    columns = SHEET[table] | more
    lines = [";".join(columns), *(";".join(row) for row in zip(*columns.values(), strict=True))]
    (folder / f"{table}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return propose(find_tables(folder / f"{table}.csv"))


def taken(made: Proposal) -> dict[str, str]:
    return {mapped.heading: mapped.column for table in made.mapping.tables for mapped in table.columns}


TRAPS = [
    # heading, values, the column it must never be taken for
    ("jobs", "hours since visit", ["6.5", "7", "4"]),
    ("jobs", "hours on site", ["390", "420", "240"]),  # minutes
    ("jobs", "time taken min", ["400", "510", "620"]),  # quoted_minutes
    ("jobs", "tds after ppm", ["210", "180", "260"]),  # final_iron_mg_l
    ("jobs", "ph mains", ["7.4", "7.5", "7.4"]),  # survey_ph
    ("jobs", "dose (litres)", ["1", "1", "2"]),  # predose_label_ratio
    ("readings", "pressure drop bar", ["0.3", "0.3", "0.4"]),
    ("readings", "pressure drop (kPa)", ["31", "30", "29"]),
    ("catches", "rads", ["3", "4", "2"]),
    ("catches", "flow on", ["18", "19", "17"]),
    ("catches", "next rad", ["2", "3", "4"]),  # focus_emitter_no
    ("jobs", "boiler age", ["12", "15", "30"]),  # emitter_age_years
    ("jobs", "office", ["640", "720", "555"]),
    ("jobs", "branch", ["640.50", "720", "555"]),  # firm_id
    ("jobs", "crew", ["400", "380", "210"]),
    ("jobs", "men", ["1.5", "2", "1"]),  # values that no crew has
    ("jobs", "fitters", ["2", "1", "2"]),
    ("jobs", "engineer", ["2", "1", "2"]),
    ("jobs", "ph", ["7.1", "7.2", "7.0"]),  # two columns fit
    ("jobs", "start", ["09:00", "09:10", "08:50"]),
    ("jobs", "filter", ["yes", "no", "no"]),
    ("jobs", "quoted time (min)", ["6.5", "7", "4"]),
    ("jobs", "quoted time (h)", ["390", "420", "240"]),  # units
    ("jobs", "max flow (l/min)", ["22", "18", "25"]),
    ("jobs", "topups per month", ["1", "0", "2"]),
    ("catches", "weight (kg)", ["420", "90", "150"]),
    ("catches", "weight (g)", ["0.42", "0.09", "0.15"]),
    ("catches", "total weight (g)", ["420", "510", "150"]),
    ("catches", "time", ["0:35", "0:40", "1:10"]),
    ("catches", "weight (g)", ["420", "-5", "90"]),
    ("catches", "sludge (ml)", ["420", "150", "90"]),
    ("readings", "flow temp (°C)", ["131", "133", "135"]),
    ("readings", "flow temp (°F)", ["52", "53", "55"]),
    ("readings", "turbidity (%)", ["20", "30", "40"]),
    ("readings", "flow (l/min)", ["0.3", "0.31", "0.29"]),
    ("readings", "pressure (bar)", ["19", "20", "21"]),
    ("readings", "pressure (psi)", ["1.4", "1.5", "1.4"]),
    ("emitters", "height (mm)", ["60", "60", "45"]),
    ("emitters", "radiator age", ["12", "15", "3"]),
    ("pipe_runs", "inside diameter (mm)", ["13", "20", "13"]),
    ("pipe_runs", "diameter (mm)", ["13", "20", "13"]),
    ("callbacks", "next visit date", ["2025-04-01", "2025-04-08", "2025-04-11"]),
    ("jobs", "date in", ["2025-01-01", "2025-01-08", "2025-02-11"]),
]


@pytest.mark.parametrize(("table", "heading", "values"), TRAPS, ids=[f"{t[0]}-{t[1]}-{t[2][0]}" for t in TRAPS])
def test_a_heading_that_words_or_values_leave_in_doubt_is_not_taken_and_stands_on_the_list(
    table: str, heading: str, values: list[str], tmp_path: Path
) -> None:
    made = proposal(tmp_path, table, {heading: values})
    beside = {name.lower() for name in SHEET[table]}

    assert set(taken(made)) - {""} == beside
    listed = {each.heading: each for each in made.not_taken}
    assert listed[heading.lower()].samples[0] == values[0]


@pytest.mark.parametrize(
    ("table", "heading", "values", "column"),
    [
        ("jobs", "crew", ["2", "1", "3"], "crew_size"),
        ("jobs", "hours on site", ["6.5", "7", "4"], "worked_hours"),
        ("jobs", "hours on site", ["6", "4", "5"], "worked_hours"),
        ("jobs", "sludge (kg)", ["1.2", "0.4", "2.1"], "caught_total_kg"),
        ("jobs", "no of radiators", ["12", "9", "14"], "emitter_count_at_survey"),
        ("jobs", "rads age", ["12", "15", "30"], "emitter_age_years"),
        ("jobs", "price charged", ["640", "720", "555"], "charged_price"),
        ("jobs", "came back?", ["no", "yes", "no"], "came_back"),
        ("jobs", "quoted time (h)", ["6.5", "7", "4"], "quoted_minutes"),
        ("jobs", "ph after", ["7.9", "8", "8.1"], "final_ph"),
        ("jobs", "branch", ["North", "South", "North"], "firm_id"),
        ("jobs", "quoted price (£)", ["640", "720", "555"], "quoted_price"),
        ("readings", "pressure (psi)", ["19", "20", "21"], "pressure_bar"),
        ("readings", "flow temp (°F)", ["131", "133", "135"], "flow_temp_c"),
        ("catches", "weigt (g)", ["420", "90", "150"], "mass_g"),  # a slip of the pen
        ("catches", "sludge (kg)", ["0.42", "0.09", "0.15"], "mass_g"),
        ("emitters", "height (cm)", ["60", "60", "45"], "height_mm"),
    ],
)
def test_a_heading_that_leaves_no_doubt_is_taken(
    table: str, heading: str, values: list[str], column: str, tmp_path: Path
) -> None:
    assert taken(proposal(tmp_path, table, {heading: values}))[heading.lower()] == column


@pytest.mark.parametrize(
    ("table", "heading", "values"),
    [
        ("catches", "next rad", ["2", "3", "4"]),
        ("catches", "tare weight (g)", ["240", "240", "240"]),
        ("jobs", "ph mains", ["7.4", "7.5", "7.4"]),
        ("readings", "flow setpoint (l/min)", ["20", "20", "20"]),
    ],
)
def test_a_word_of_something_else_leaves_a_heading_out_without_a_question(
    table: str, heading: str, values: list[str], tmp_path: Path
) -> None:
    made = proposal(tmp_path, table, {heading: values})

    assert [(each.heading, each.state) for each in made.not_taken] == [(heading, "left out")]


@pytest.mark.parametrize("first", ["wet (g)", "weight (g)", "catch (g)", "wet"])
@pytest.mark.parametrize("second", ["dried (g)", "dry weight (g)", "dried", "weight when dried (g)"])
def test_of_a_wet_and_a_dried_mass_neither_is_taken_and_both_are_asked(first: str, second: str, tmp_path: Path) -> None:
    made = proposal(tmp_path, "catches", {first: ["420", "90", "150"], second: ["140", "30", "50"]})

    assert "mass_g" not in taken(made).values()
    assert {each.heading for each in made.not_taken if each.state == "asked"} == {first, second}


@pytest.mark.parametrize(
    ("heading", "state"), [("dried (g)", "dry"), ("gewicht trocken (g)", "dry"), ("drained weight (g)", "wet")]
)
def test_a_heading_that_says_how_its_masses_were_weighed_is_heeded(heading: str, state: str, tmp_path: Path) -> None:
    made = proposal(tmp_path, "catches", {heading: ["420", "90", "150"]})

    (table,) = made.mapping.tables
    assert [(c.column, c.constant) for c in table.columns if c.column == "weighed"] == [("weighed", state)]


def test_words_such_as_wet_and_dry_are_asked_about_under_any_heading(tmp_path: Path) -> None:
    made = proposal(tmp_path, "catches", {"weight (g)": ["420", "90", "150"], "how": ["dry", "wet", "dry"]})

    assert [(each.heading, each.may_be) for each in made.not_taken] == [("how", ("weighed",))]
    assert made.not_taken[0].state == "asked"


def test_two_headings_that_claim_the_same_column_are_both_asked(tmp_path: Path) -> None:
    made = proposal(tmp_path, "catches", {"weight (g)": ["420", "90", "150"], "mass (g)": ["421", "91", "151"]})

    assert [each.heading for each in made.not_taken if each.state == "asked"] == ["weight (g)", "mass (g)"]


def test_a_heading_that_fits_a_second_column_as_well_is_asked(tmp_path: Path) -> None:
    (tmp_path / "catches.csv").write_text("Job;Where;Catch\nA1;magnet;1\nA1;magnet;2\nA2;base;1\n", encoding="utf-8")
    made = propose(find_tables(tmp_path / "catches.csv"))

    # the first, second and first weighing, or one, two and one kilogram
    assert [(each.heading, each.may_be) for each in made.not_taken] == [("catch", ("catch_no", "mass_g"))]


def test_job_numbers_that_stand_twice_in_a_list_of_jobs_are_asked(tmp_path: Path) -> None:
    made = proposal(tmp_path, "jobs", {"Job": ["Flush", "Flush", "Boiler"], "System": ["sealed", "vented", "sealed"]})

    assert "job" not in taken(made)


def test_a_cross_beside_ticks_is_asked_about_and_alone_it_is_yes(tmp_path: Path) -> None:
    alone = proposal(tmp_path, "emitters", {"cold at bottom": ["x", "", "x"]})
    beside = proposal(tmp_path, "emitters", {"cold at bottom": ["x", "✓", "x"]})

    assert [q.sentence for q in alone.questions] == []
    assert ["'x'" in q.sentence for q in beside.questions] == [True]


@pytest.mark.parametrize(("part", "headings"), [pytest.param("tune", 200, marks=pytest.mark.study), ("hold", 100)])
def test_of_the_labelled_set_no_column_is_taken_wrong_and_one_in_four_is_asked_at_most(
    part: str, headings: int
) -> None:
    """The hundred held back find a rule that takes one of them wrong; the two hundred that the rules were tuned on are
    for the study."""
    found = scored((part,))

    assert len(found) == headings
    assert [(each.sheet, each.heading, each.column) for each in found if each.outcome == "wrong"] == []
    assert sum(each.is_asked for each in found) <= headings / 4
    assert sum(each.outcome == "taken right" for each in found) >= headings / 2


def test_the_list_of_what_is_not_taken_is_the_same_in_the_file_and_on_the_page(tmp_path: Path) -> None:
    people = ["Ann Archer", "Bob Day", "Cy Poe"]
    more = {"office": ["12", "15", "30"], "ph": ["7.1", "7.2", "7.0"], "Customer": people}
    made = proposal(tmp_path, "jobs", more)
    text = mapping_text(made.mapping, made)

    states = [(each.heading, each.state, each.samples) for each in made.not_taken]
    assert states == [
        ("office", "left out", ("12", "15", "30")),
        ("ph", "asked", ("7.1", "7.2", "7.0")),
        ("customer", "private", ()),
    ]
    assert "# left out: 'office' (12, 15, 30)" in text
    assert "# ask: is 'ph' ('7.1', '7.2', '7.0') one of survey_ph, final_ph" in text
    assert sheet_of(made).not_taken == made.not_taken
    assert "Archer" not in text


WHOLE = {"Where": ["magnet"], "Job": ["A1"], "Catch no": ["1"], "When": ["2025-03-04 10:00"], "Weight (g)": ["420"]}


def test_a_load_waits_until_every_line_that_asks_is_gone_and_says_which(tmp_path: Path) -> None:
    lines = [";".join([*WHOLE, "How"]), ";".join([*(cells[0] for cells in WHOLE.values()), "dry"])]
    (tmp_path / "our weights.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    made = propose(find_tables(tmp_path / "our weights.csv"))
    path, book = tmp_path / "m.toml", Book(tmp_path / "book")
    write_mapping(path, made.mapping, made)
    number = next(n for n, line in enumerate(path.read_text("utf-8").splitlines(), 1) if line.startswith("# ask:"))

    with pytest.raises(BadInput, match=rf"one question open: is 'how' .* \(line {number} of m.toml"):
        load([tmp_path / "our weights.csv"], book, mapping_file=path)
    kept = [line for line in path.read_text("utf-8").splitlines(keepends=True) if not line.startswith("# ask:")]
    path.write_text("".join(kept), encoding="utf-8")

    assert load([tmp_path / "our weights.csv"], book, mapping_file=path).tables["catches"].rows == 1


def test_bars_between_the_columns_are_read_in_a_txt_file(tmp_path: Path) -> None:
    rows = ["job_id|system_type|visit_date|flush_started_at|flush_ended_at"]
    rows += [f"A{i}|sealed|2025-03-0{i}|2025-03-0{i}T09:00|2025-03-0{i}T12:00" for i in (1, 2)]
    (tmp_path / "our list.txt").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (tmp_path / "jobs.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")

    (found,) = find_tables(tmp_path / "our list.txt")
    assert found.read().frame["job_id"].to_list() == ["A1", "A2"]
    load([tmp_path / "jobs.csv"], Book(tmp_path / "book"))
    assert read_table(Book(tmp_path / "book").current(), "jobs")["job_id"].tolist() == ["A1", "A2"]


def two_rows_of_headings(folder: Path, suffix: str) -> Path:
    rows = [
        ["Job", "", "Weighing", "", ""],
        ["Ref", "No", "When", "Where", "Weight (g)"],
        ["A1", "1", "2025-03-04 10:00", "magnet", "420"],
        ["A1", "2", "2025-03-04 11:00", "magnet", "90"],
    ]
    path = folder / f"weights.{suffix}"
    if suffix == "csv":
        path.write_text("\n".join(";".join(row) for row in rows) + "\n", encoding="utf-8")
        return path
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("weights")
        for number, row in enumerate(rows):
            sheet.write_row(number, 0, row)
    return path


@pytest.mark.parametrize("suffix", ["csv", "xlsx"])
def test_the_line_of_the_headings_is_said_once_and_kept_with_the_mapping(suffix: str, tmp_path: Path) -> None:
    path, book = two_rows_of_headings(tmp_path, suffix), Book(tmp_path / "book")
    (found,) = find_tables(path)
    hints = [finding.facts["line"] for finding in propose([found]).findings if finding.code == "two_heading_rows"]
    made = propose([replace(found, heading_line=2)])
    write_mapping(tmp_path / "m.toml", made.mapping, made)
    report = load([path], book, mapping_file=tmp_path / "m.toml")

    assert hints == [2]
    assert (made.questions, report.tables["catches"].rows) == ((), 2)
    (received,) = [batch for batch in batches(book)]
    (source,) = batch_sources(received)
    assert source.read().frame.select("mass_g", "line").rows() == [("420", 3), ("90", 4)]
    assert [each.text.rows for each in apply_mapping(made.mapping, [found])] == [2]


def test_the_next_file_of_that_kind_is_read_from_the_same_line_whatever_its_name(tmp_path: Path) -> None:
    path, book = two_rows_of_headings(tmp_path, "csv"), Book(tmp_path / "book")
    made = propose([replace(found, heading_line=2) for found in find_tables(path)])
    write_mapping(tmp_path / "m.toml", made.mapping, made)
    load([path], book, mapping_file=tmp_path / "m.toml")
    path.rename(tmp_path / "april.csv")
    (tmp_path / "april.csv").write_text((tmp_path / "april.csv").read_text("utf-8").replace("A1", "A2"), "utf-8")

    assert load([tmp_path / "april.csv"], book).tables["catches"].rows == 2


def test_a_line_that_is_not_there_is_refused_in_a_sentence(tmp_path: Path) -> None:
    for suffix in ("csv", "xlsx"):
        (found,) = find_tables(two_rows_of_headings(tmp_path, suffix))
        with pytest.raises(BadInput, match="has no line 9, where its headings are said to stand"):
            replace(found, heading_line=9).read()


def test_days_in_figures_beside_day_numbers_are_asked_and_read_once_answered(tmp_path: Path) -> None:
    days = {"Date of callback": ["14/03/2025", "45749", "18/04/2025"]}
    made = proposal(tmp_path, "callbacks", days)
    (mapped,) = [c for c in made.mapping.tables[0].columns if c.column == "called_back_on"]
    told = replace(
        made.mapping.tables[0],
        columns=tuple(replace(c, dates="dmy serial") if c is mapped else c for c in made.mapping.tables[0].columns),
    )

    assert (mapped.dates, ["swap day and month" in q.sentence for q in made.questions]) == ("", [True])
    assert [value for asked in sheet_of(made).questions for value, _ in asked.choices] == ["dmy serial"]
    ((_, _, text),) = apply_mapping(Mapping((told,)), find_tables(tmp_path / "callbacks.csv"))
    # 45749 days after 1899-12-30, by the spreadsheets' own count, is 2 April 2025
    assert text.frame["called_back_on"].to_list() == ["2025-03-14", "2025-04-02", "2025-04-18"]
