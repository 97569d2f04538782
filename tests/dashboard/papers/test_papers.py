"""Papers: what they say, that they are whole PDFs of the stated pages, and that odd names and currencies do not
break them. Text is read back from the finished file by another library (pypdfium2)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from io import BytesIO
from pathlib import Path

import pandas as pd
import pypdfium2
import pytest
from PIL import Image

from dashboard.papers import owner_sheet, quote_sheet
from dashboard.papers.job_contents import job_contents
from dashboard.papers.job_report import job_report
from dashboard.papers.quote_contents import contents
from dashboard.papers.quote_text import quote_text
from dashboard.papers.sheet import letterhead, printable
from models.quote.base.quote_result import Quote
from pipeline.contract.findings import BadInput, SettingsError
from pipeline.contract.firm import Firm
from pipeline.contract.photographs import Photograph

ON = date(2031, 3, 4)
ASKED = {"system_type": "sealed", "emitter_count": 9, "predose_days": 7.0, "age_years": None, "water_known": False}


def pages(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    return [document[number].get_textpage().get_text_bounded() for number in range(len(document))]


def quoted(quote: Quote, firm: Firm, book: Path) -> list[str]:
    said = contents(quote, ASKED, firm, ON)
    return pages(quote_sheet.quote_sheet(said, quote, letterhead(firm, book, "Quote", ON)))


def test_quote_is_one_page_with_price_tax_and_validity(quote: Quote, tmp_path: Path) -> None:
    quote = replace(quote, price=replace(quote.price, price=500.0, price_with_tax=600.0, currency="GBP"))

    (text,) = quoted(quote, Firm(name="Quillmarsh Heat", quote_valid_days=14), tmp_path)

    for words in ("Quillmarsh Heat", "£500.00", "£100.00", "£600.00", "18 March 2031", "Page 1 of 1", "7 days ahead"):
        assert words in text


def test_the_plain_text_says_the_same_as_the_paper(quote: Quote, tmp_path: Path) -> None:
    firm = Firm(name="Quillmarsh Heat")
    said = contents(quote, ASKED, firm, ON)
    paper = " ".join(quoted(quote, firm, tmp_path)[0].split())

    plain = quote_text(said, firm)

    assert max(len(line) for line in plain.splitlines()) <= 78
    for sentence in (*said.offered, *said.assumed, *said.could_change, *said.cautions):
        assert " ".join(sentence.split()) in paper
        assert sentence in " ".join(plain.split())


def test_what_is_not_known_is_named(quote: Quote) -> None:
    said = contents(quote, ASKED, Firm(), ON)

    assert any("the age of the system" in line and "a sample of the water" in line for line in said.could_change)


@pytest.mark.parametrize("currency", ["EUR", "SEK", "PLN", "JPY", "XTS"])
@pytest.mark.parametrize("name", ["W" * 60, "Łukasz & Søn – Ünïcode ẞ 暖房"])
def test_long_names_and_other_currencies_stay_on_the_page(
    quote: Quote, tmp_path: Path, name: str, currency: str
) -> None:
    quote = replace(quote, job_id="J" * 120, price=replace(quote.price, currency=currency))

    texts = quoted(quote, Firm(name=name, tagline="t" * 80, paper="Letter"), tmp_path)

    assert len(texts) == 1
    assert {"EUR": "€", "JPY": "¥", "SEK": "kr"}.get(currency, currency) in texts[0]


def test_letters_that_a_reader_lacks_are_replaced_not_refused() -> None:
    assert printable("Łódź −5 ≥ 3 暖") == "Lódz –5 at least  3 ?"


def test_a_mark_must_lie_in_the_book_and_be_a_picture(quote: Quote, tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="not in the book's folder"):
        letterhead(Firm(mark_file="../mark.png"), tmp_path, "Quote", ON)
    (tmp_path / "mark.png").write_text("no picture")

    with pytest.raises(SettingsError, match="cannot be used as a mark"):
        quoted(quote, Firm(mark_file="mark.png"), tmp_path)


def test_a_font_that_is_none_is_refused_in_a_sentence(quote: Quote, tmp_path: Path) -> None:
    (tmp_path / "letters.ttf").write_bytes(b"no font at all")

    with pytest.raises(SettingsError, match="cannot be used as a font"):
        quoted(quote, Firm(font_file="letters.ttf"), tmp_path)


def test_the_owners_sheet_adds_up_and_names_the_rule(quote: Quote, tmp_path: Path) -> None:
    said = contents(quote, ASKED, Firm(), ON)

    text = " ".join(pages(owner_sheet.owner_sheet(said, quote, letterhead(Firm(), tmp_path, "Price", ON))))

    assert owner_sheet.answer(quote).split(":")[0] in text
    for part in quote.price.parts:
        if part.amount:
            assert f"{part.amount:,.2f}" in text


def job_tables() -> dict[str, pd.DataFrame]:
    job = {
        "job_id": "J7",
        "visit_date": date(2031, 3, 4),
        "mains_conductivity_us_cm": 200.0,
        "survey_conductivity_us_cm": 900.0,
        "final_conductivity_us_cm": 210.0,
        "filter_fitted": "none",
        "inhibitor_dosed": False,
        "isolation": "one_at_a_time",
        "topups_per_year": 6.0,
    }
    curve = pd.DataFrame(
        {
            "trap": ["magnet", "magnet", "strainer"],
            "minutes_since_start": [20.0, 60.0, 70.0],
            "cumulative_magnetite_kg": [1.0, 1.5, None],
        }
    )
    emitter = pd.DataFrame({"emitter_no": [1, 1, 2], "dry_g": [1000.0, 250.0, 250.0]})
    return {
        "jobs": pd.DataFrame([job]),
        "emitters": pd.DataFrame(
            {
                "emitter_no": [1, 2, 3],
                "emitter_kind": ["panel_22", None, None],
                "room": ["kitchen", None, "hall"],
                "top_before_c": [60.0, 58.0, None],
                "bottom_before_c": [45.0, 30.0, 28.0],
                "top_after_c": [61.0, None, 60.0],
                "bottom_after_c": [52.0, 51.0, None],
            }
        ),
        "ftr_outcome": pd.DataFrame([{"magnetite_kg": 1.5, "non_magnetic_kg": 0.2, "flush_minutes": 75.0}]),
        "ftr_volume": pd.DataFrame([{"system_volume_l": 80.0}]),
        "ftr_catch_curve": curve,
        "ftr_emitter_curve": emitter,
    }


def test_a_job_report_tells_kilograms_water_and_advice(tmp_path: Path) -> None:
    said = job_contents(job_tables())

    text = " ".join(pages(job_report(said, letterhead(Firm(), tmp_path, "Report", ON))))

    assert "1.5 kg of magnetite sludge, weighed as dry, came out of this system in 1 h 15 of flushing" in text
    assert said.surfaces == (("Emitter 2", "58", "30", "–", "51"), ("Kitchen (1)", "60", "45", "61", "52"))
    assert "Bottom before" in text
    assert said.emitters == (("Kitchen (1), panel 22", "1.2 kg"), ("Emitter 2", "0.25 kg"))
    assert said.water == (("Conductivity [µS/cm]", "900", "210", "200"),)
    for advice in ("within 10 % of the mains", "Fit a magnetic filter", "inhibitor dosed", "find the leak"):
        assert any(advice in line for line in said.advice)


@pytest.mark.parametrize(("taken", "shown"), [(2, 2), (9, 6)])
def test_photographs_stand_on_the_report_samples_first_on_two_pages_at_most(
    tmp_path: Path, taken: int, shown: int
) -> None:
    out = BytesIO()
    Image.new("RGB", (40, 30), "brown").save(out, "JPEG")
    shows = (("emitter", 1), ("sample_before", None), *[("trap", None)] * 7)[:taken]
    pictures = [Photograph(what, number, datetime(2031, 3, 4, 10), out.getvalue()) for what, number in shows]

    said = job_contents(job_tables(), photographs=pictures)
    text = pages(job_report(said, letterhead(Firm(), tmp_path, "Report", ON)))

    assert len(text) <= 2
    assert said.photographs[0][0] == "Sample before"
    assert said.photographs[-1][0] == "Emitter, Kitchen (1)"
    captions = ["Sample before"] * 1 + ["Trap"] * min(taken - 2, shown - 1) + ["Emitter, Kitchen (1)"] * (taken == 2)
    assert all(" ".join(text).count(caption) >= captions.count(caption) for caption in captions)
    assert " ".join(text).count("Photographs") == 1


def test_a_report_that_is_full_leaves_photographs_out_before_it_takes_a_third_page(tmp_path: Path) -> None:
    out = BytesIO()
    Image.new("RGB", (40, 30), "brown").save(out, "JPEG")
    tables = job_tables()
    numbers = list(range(1, 41))
    tables["ftr_emitter_curve"] = pd.DataFrame({"emitter_no": numbers, "dry_g": [100.0] * 40})
    tables["emitters"] = pd.concat([tables["emitters"].iloc[:1].assign(emitter_no=number) for number in numbers])
    pictures = [Photograph("trap", None, datetime(2031, 3, 4, 10), out.getvalue())] * 6

    text = pages(job_report(job_contents(tables, photographs=pictures), letterhead(Firm(), tmp_path, "Report", ON)))

    assert len(text) <= 2


def test_litres_put_in_are_on_the_report_of_the_job() -> None:
    tables = job_tables()
    tables["jobs"] = tables["jobs"].assign(cleaner_put_in_l=1.5, inhibitor_put_in_l=2.0, inhibitor_dosed=True)

    done = job_contents(tables).done

    assert "Cleaning chemical put in: 1.5 L." in done
    assert any(line.startswith("Inhibitor was dosed: 2 L for about 80") for line in done)


def test_water_above_the_mains_is_judged_by_whether_inhibitor_went_in() -> None:
    tables = job_tables()
    tables["jobs"]["final_conductivity_us_cm"] = 300.0
    assert any("50 % above" in line for line in job_contents(tables).advice)

    tables["jobs"]["inhibitor_dosed"] = True

    assert any("inhibitor raises it too" in line for line in job_contents(tables).advice)


def test_a_job_without_weighings_has_no_report() -> None:
    tables = job_tables()
    tables["ftr_catch_curve"] = tables["ftr_catch_curve"].iloc[:0]

    with pytest.raises(BadInput, match="load its `catches` first"):
        job_contents(tables)


def test_a_report_says_nothing_of_a_filter_or_a_kind_of_emitter_that_was_not_logged() -> None:
    tables = job_tables()
    tables["jobs"]["filter_fitted"] = None
    tables["emitters"][["emitter_kind", "room"]] = None
    said = job_contents(tables)

    assert not any("filter" in line for line in (*said.advice, *said.done))
    assert said.emitters
    assert all(name.removeprefix("Emitter ").isdigit() for name, _ in said.emitters)
