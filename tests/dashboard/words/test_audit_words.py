"""The practice audit in words and as rows to keep: what is said, and what is not said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dashboard.words import audit_numbers, audit_words
from models.catch.release_effects import ReleaseEffect, ReleaseEffects
from models.practice.results.audit_result import AllFollowUp, Audit, RiskBy
from pipeline.store.book import Book
from tests.dashboard import audit_maker as made


@pytest.fixture(scope="module")
def audit(page_book: Book) -> Audit:
    from models.practice.audit import audit as weigh_up
    from models.practice.cohort.audited_jobs import PracticeFrames
    from pipeline.store.book import read_table

    names = ("jobs", "ftr_quote", "ftr_outcome", "ftr_callback")
    return weigh_up(PracticeFrames(*(read_table(page_book.current(), name) for name in names)), page_book.firm())


def test_what_is_told_is_told_with_its_figure_and_range(audit: Audit) -> None:
    raises = made.effect("raises callbacks", 0.04, label="Valve bounce")

    said = audit_words.answer(replace(audit, practices=(raises, made.effect(), made.refused())))

    assert said == (
        "Filter fitted on the return cuts callbacks: 5.0 (2.0 to 8.0) fewer per 100 jobs; "
        "Valve bounce raises callbacks: 4.0 (1.0 to 7.0) more per 100 jobs."
    )


def test_many_are_listed_with_the_surest(audit: Audit) -> None:
    many = tuple(made.effect(label=name, p_value=p) for name, p in (("One", 0.01), ("Two", 0.0001), ("Three", 0.02)))

    said = audit_words.answer(replace(audit, practices=many))

    assert said.startswith("Two, one and three cut callbacks; surest is two, 5.0 (2.0 to 8.0) fewer")


def test_where_nothing_is_told_the_answer_says_who_is_nearest(audit: Audit) -> None:
    near = made.effect("cannot be told yet", label="Flow reversed", jobs_needed=700)

    said = audit_words.answer(replace(audit, practices=(made.effect("cannot be told yet"), near)))

    assert said == (
        "No practice can be told yet to cut or raise callbacks; the nearest, flow reversed, wants about 700 more jobs."
    )


def test_a_clear_interval_without_a_verdict_is_explained() -> None:
    assert "one does that by chance" in audit_words.effect_sentence(made.effect("cannot be told yet"))
    assert "chance" not in audit_words.effect_sentence(made.effect())
    assert "in the bare records −1.0 (−4.0 to 2.0)" in audit_words.effect_sentence(made.effect())


def test_the_hidden_thing_is_told_only_where_there_is_an_effect_to_explain() -> None:
    assert "2.4 times as likely; 1.6 times to bring the interval" in audit_words.hidden(made.effect())
    assert "includes no effect" in audit_words.hidden(made.effect(e_value_limit=1.0))
    assert audit_words.hidden(made.refused()) == ""


def test_power_says_what_these_jobs_show_and_what_more_would() -> None:
    effect = made.effect(detectable_difference=0.038, jobs_needed=3700, target_difference=-0.024)

    assert audit_words.power(effect) == (
        "With these jobs a change of 3.8 per 100 would be seen in 8 audits of 10; with about 3,700 more jobs, one of "
        "2.4."
    )
    assert audit_words.power(made.effect(detectable_difference=0.038, jobs_needed=None)).endswith("in 8 audits of 10.")
    near = made.effect(detectable_difference=0.02, jobs_needed=3700, target_difference=-0.024)
    assert audit_words.power(near).endswith("; if the estimate stays, about 3,700 more jobs would settle it.")


def test_no_difference_worth_knowing_stands_after_the_verdicts_with_what_is_ruled_out(audit: Audit) -> None:
    level = made.effect("no difference worth knowing", 0.002, label="Flow reversed", target_difference=-0.024)
    open_ = made.effect("cannot be told yet", label="Nearer", jobs_needed=100)

    assert audit_words.in_order((open_, level, made.effect()))[1] is level
    assert audit_words.answer(replace(audit, practices=(level, open_, made.effect()))).endswith(
        "; no difference worth knowing: flow reversed."
    )
    assert audit_words.answer(replace(audit, practices=(level, open_))) == (
        "No practice can be told yet to cut or raise callbacks; the nearest, nearer, wants about 100 more jobs; "
        "no difference worth knowing: flow reversed."
    )
    assert audit_words.effect_sentence(level).endswith(
        " A change of 2.4 per 100 jobs, a quarter of the risk, is ruled out either way."
    )
    assert audit_words.power(made.effect(detectable_difference=None)) == ""


def test_a_price_for_each_callback_avoided_wants_a_verdict() -> None:
    """−£76.50 rounds to the even pound, as everywhere."""
    names, figures, _ = zip(*audit_words.worth_parts(made.effect()), strict=True)
    assert names == ("Callbacks to count on avoiding, per 100 jobs", "Cost per callback avoided", "Net per job")
    assert figures == ("5.0", "£1,700", "−£76")

    waiting = audit_words.worth_parts(made.effect("cannot be told yet"))
    assert waiting[1][1:] == ("not known", "none is shown to be avoided")
    assert audit_words.worth_parts(made.refused()) == ()


def test_it_is_said_which_callbacks_stand_behind_a_figure_and_what_the_others_give() -> None:
    year = RiskBy(365, 0.06, 0.09, -0.03, -0.07, 0.01, 0.02)
    wide = RiskBy(365, 0.05, 0.09, -0.04, -0.06, -0.02, 0.01)
    both = made.effect(first_year=year, all_follow_up=AllFollowUp(212, (wide, wide), 0.4, True))

    assert audit_words.follow_up(both) == (
        " It counts 212 callbacks after the first year too, taking it that the practice works the same early and late; "
        "the first year alone gives 3.0 (−1.0 to 7.0)."
    )
    alone = replace(both, all_follow_up=AllFollowUp(1, (wide, wide), 0.01, False))
    assert audit_words.follow_up(alone) == (
        " It counts the first year alone; with 1 callback after it, 4.0 (2.0 to 6.0)."
    )
    assert audit_words.follow_up(made.effect()) == ""
    assert audit_words.effect_sentence(both).endswith(audit_words.follow_up(both))


def test_an_engineer_with_few_jobs_is_told_nothing() -> None:
    said = audit_words.engineer_sentence(made.engineer("E4", None), 365)
    assert said == "E4: 6 jobs, too few to say anything fair. Nothing more is shown."
    assert "5 debris callbacks within 365 days where 4.0 were to be expected" in audit_words.engineer_sentence(
        made.engineer("E1", 5), 365
    )


def test_the_order_is_told_surest_first_then_nearest_then_refused() -> None:
    nearer = made.effect("cannot be told yet", label="Nearer", jobs_needed=100)
    further = made.effect("cannot be told yet", label="Further", jobs_needed=9000)
    raises = made.effect("raises callbacks", 0.05, label="Raises")
    surest = made.effect(label="Surest", p_value=0.00001)

    ordered = audit_words.in_order([made.refused(), further, raises, nearer, made.effect(), surest])

    assert [each.label for each in ordered] == [
        "Surest",
        "Filter fitted on the return",
        "Raises",
        "Nearer",
        "Further",
        "Vibration",
    ]


def test_every_number_has_a_unit_and_a_definition(audit: Audit) -> None:
    whole = replace(
        audit,
        practices=(made.effect(balance=made.balance()), made.refused()),
        doses=(made.dose(),),
        funnel=made.funnel(made.engineer("E1", 5), made.engineer("E4", None)),
    )

    rows = audit_numbers.numbers(whole)

    assert list(rows.columns) == list(audit_numbers.COLUMNS)
    assert (rows["definition"].str.len() > 8).all()
    assert (rows["unit"] != "").all()
    told = rows[(rows["of"] == "filter_fitted:on_return|none") & (rows["quantity"] == "difference")]
    assert told[["value", "low", "high"]].to_numpy().tolist() == [[-0.05, pytest.approx(-0.08), pytest.approx(-0.02)]]
    assert rows[rows["of"] == "own, E4"]["quantity"].tolist() == ["jobs"]


def test_curves_limits_and_effects_within_jobs_are_among_the_numbers(audit: Audit) -> None:
    curves = made.curves()
    within = ReleaseEffects((ReleaseEffect("heat", "10 K warmer", 1.22, 1.17, 1.27, 0.2, 0.02),), 80, 900)

    rows = audit_numbers.numbers(replace(audit, curves={curves.contrast: curves}), None, within)

    points = rows[rows["part"] == "curve"]
    assert len(points) == len(audit_numbers.curve_points(curves))
    assert points["definition"].str.endswith("pointwise 95 % interval").all()
    limits = rows[rows["quantity"].str.startswith("limits at")]
    assert len(limits) == 2 * len(audit.funnel.grid)
    assert rows[rows["part"] == "within jobs"][["value", "low", "high"]].to_numpy().tolist() == [[1.22, 1.17, 1.27]]


def test_every_curve_is_among_the_points_to_keep() -> None:
    points = audit_numbers.curve_points(made.curves())

    ends = points.groupby("Curve")["Share"].last()
    assert len(ends) == 8
    assert ends["debris, alike, with"] == pytest.approx(0.06)
    assert ends["free of debris, with"] == pytest.approx(0.90)
