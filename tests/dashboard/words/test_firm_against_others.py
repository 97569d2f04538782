"""One firm against the unnamed others: in words, as a figure, on the command line, on paper, on the page."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
import pytest
from typer.testing import CliRunner

from dashboard.cli.main import app
from dashboard.figures.audit.practice_audit import own_firm_alt, own_firm_figure
from dashboard.words import firm_against_others
from models.practice.results.pool_results import AgainstOthers, FirmEffect, OwnFirm
from pipeline.contract.findings import BadInput
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from synthetic_data.simulate import simulate_to_folder

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

OWN = FirmEffect("us", 300, -0.02, 0.01, -0.04, 0.0)


def told(place: str, label: str = "Flow reversed") -> AgainstOthers:
    return AgainstOthers(
        "flow_reversed:yes|no",
        label,
        OWN,
        6,
        2400,
        -0.05,
        -0.07,
        -0.03,
        -0.09,
        -0.01,
        0.01,
        0.3,
        0.03,
        -0.01,
        0.07,
        0.1,
        0.2,
        place,
    )


def hidden() -> AgainstOthers:
    return AgainstOthers("agitation:both|none", "Both", OWN, refused="Fewer than 5 other firms have enough.")


def test_the_answer_names_what_differs_and_else_says_that_nothing_does() -> None:
    alike = OwnFirm("us", 300, 5, (told("like the others"), hidden()))
    apart = OwnFirm("us", 300, 5, (told("like the others"), told("does less here", "Vibration")))

    assert firm_against_others.answer(alike) == (
        "Of 1 practice held against the others, each does here what it does for them, as far as can be told."
    )
    assert firm_against_others.answer(apart).startswith("Against the others, vibration does less here; the rest")
    assert firm_against_others.answer(OwnFirm("us", 1, 5, (hidden(),))) == "Nothing can be held against the others yet."


def test_a_row_gives_own_others_and_one_more_firm_per_100_jobs() -> None:
    assert firm_against_others.row(told("like the others"))[1:] == (
        "2.0 (0.0 to 4.0)",
        "5.0 (3.0 to 7.0)",
        "1.0 to 9.0",
        "like the others",
    )
    assert firm_against_others.row(hidden())[2:] == ("–", "–", "not known")
    assert "Fewer than 5 other firms have enough." in firm_against_others.missing(OwnFirm("us", 1, 5, (hidden(),)))


def test_the_least_number_of_others_is_stated() -> None:
    assert "fewer than 5 have figures of their own" in firm_against_others.note(OwnFirm("us", 1, 5, ()))


def test_the_figure_draws_the_firm_and_where_one_more_would_lie() -> None:
    figure = own_firm_figure([told("like the others"), hidden()])

    lines = [tuple(trace.x) for trace in figure.data if trace.mode == "lines"]
    assert lines == [pytest.approx((1.0, 9.0)), pytest.approx((0.0, 4.0)), pytest.approx((0.0, 4.0))]
    assert "Flow reversed: 2.0 (-0.0 to 4.0), the others 5.0 (3.0 to 7.0)" in own_firm_alt([told("like the others")])


@pytest.fixture(scope="module")
def pooled(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """Four firms of 60 jobs each: enough to audit, too few to show the others. And the firms, in order of name."""
    folder = tmp_path_factory.mktemp("pooled")
    simulate_to_folder(folder / "logs", jobs=240, seed=4)
    for path in (folder / "logs").glob("*.csv"):
        table = pd.read_csv(path, dtype=str, keep_default_na=False)
        firm = "sim-yard-" + (table["job_id"].str[1:].astype(int) % 4).astype(str)
        table.assign(firm_id=firm).to_csv(path, index=False)
    load([folder / "logs"], Book(folder / "book"))
    firms = read_table(Book(folder / "book").current(), "jobs")["firm_id"]
    assert len(firms) == 240
    return folder / "book", sorted(set(firms))


def test_a_firm_asks_and_no_other_firm_is_named(pooled: tuple[Path, list[str]]) -> None:
    book, (own, *others) = pooled

    done = CliRunner().invoke(app, ["audit", "--book", str(book), "--firm", own, "--json"])

    assert done.exit_code == 0, done.exception
    assert [name for name in others if name in done.stdout] == []
    found = json.loads(done.stdout)
    assert found["against_others"]["fewest_others"] == 5
    assert {each["difference"] for each in found["against_others"]["practices"]} == {None}
    assert found["jobs"] == found["against_others"]["jobs"] > 20


def test_a_firm_that_is_not_there_is_refused_without_naming_those_that_are(pooled: tuple[Path, list[str]]) -> None:
    book, firms = pooled

    done = CliRunner().invoke(app, ["audit", "--book", str(book), "--firm", "nobody"])

    assert isinstance(done.exception, BadInput)
    assert [name for name in firms if name in str(done.exception)] == []


def test_the_report_of_a_firm_names_no_other(pooled: tuple[Path, list[str]], tmp_path: Path) -> None:
    import pypdfium2

    book, (own, *others) = pooled
    out = tmp_path / "own.pdf"

    done = CliRunner().invoke(app, ["report", "audit", "--book", str(book), "--firm", own, "--pdf", str(out)])

    assert done.exit_code == 0, done.exception
    said = " ".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(out))
    assert "Your firm against the others" in said
    assert [name for name in others if name in said] == []


def test_the_page_holds_a_chosen_firm_against_the_others(
    pooled: tuple[Path, list[str]], open_page: Callable[..., AppTest], words: Callable[[AppTest], str]
) -> None:
    book, (own, *_) = pooled
    page = open_page("practice_audit", book)
    assert "No practice has enough firms with a figure of their own yet." in words(page)
    assert "5 firms are the least for a pool." in words(page)

    page.selectbox(key="audit_firm").select(own).run()

    assert not page.exception
    assert "Your firm against the others" in [each.value for each in page.header]
    assert "Nothing can be held against the others yet." in words(page)
