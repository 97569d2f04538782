"""Figures of the practice audit: what is drawn where, and the same in words."""

from __future__ import annotations

import pytest

from dashboard.figures.audit import causal_picture, practice_audit, practice_curves, practice_engineers
from dashboard.theme import LIGHT
from models.practice.results.audit_result import CausalGraph, SubgroupEffect
from tests.dashboard import audit_maker as made


def texts(figure: object) -> str:
    return "\n".join(each.text for each in figure.layout.annotations if each.text)  # type: ignore[attr-defined]


def test_the_forest_draws_callbacks_avoided_told_ones_filled_and_bare_ones_beside() -> None:
    waiting = made.effect("cannot be told yet", -0.01, label="Flow reversed", contrast="flow_reversed:yes|no")

    figure = practice_audit.forest_figure([waiting, made.effect()])
    marks = {(trace.marker.symbol, round(trace.x[0], 6)) for trace in figure.data if trace.mode == "markers"}

    assert {("diamond", 5.0), ("circle", 1.0), ("line-ns", -1.0)} == marks
    rings = [t for t in figure.data if t.mode == "markers" and t.marker.symbol == "circle"]
    assert [ring.marker.color for ring in rings] == [LIGHT.page]


def test_the_forest_says_verdict_and_jobs_in_words_and_keeps_a_refused_practice() -> None:
    figure = practice_audit.forest_figure([made.refused(), made.effect()])

    said = texts(figure)
    assert said.index("Filter fitted on the return") < said.index("Vibration")
    assert "cuts callbacks" in said
    assert "cannot be told yet: about 900 more jobs" in said
    assert "200 | 200" in said
    assert len([t for t in figure.data if t.mode == "lines"]) == 2  # adjusted and bare of the one that is told
    alt = practice_audit.forest_alt([made.refused(), made.effect()])
    assert "5.0 (2.0 to 8.0), cuts callbacks" in alt
    assert "Vibration: no figure" in alt


def test_the_order_is_told_surest_first_then_nearest_then_refused() -> None:
    nearer = made.effect("cannot be told yet", label="Nearer", jobs_needed=100)
    further = made.effect("cannot be told yet", label="Further", jobs_needed=9000)
    raises = made.effect("raises callbacks", 0.05, label="Raises")
    surest = made.effect(label="Surest", p_value=0.00001)

    ordered = practice_audit.in_order([made.refused(), further, raises, nearer, made.effect(), surest])

    assert [each.label for each in ordered] == [
        "Surest",
        "Filter fitted on the return",
        "Raises",
        "Nearer",
        "Further",
        "Vibration",
    ]


def test_a_subgroup_without_a_figure_keeps_its_place() -> None:
    groups = (
        SubgroupEffect("sealed", "Sealed", 90, 80, -0.02, -0.05, 0.01),
        SubgroupEffect("microbore", "Microbore", 9, 8, None, None, None, "Too few."),
    )

    assert "too few for a figure of its own" in texts(practice_audit.subgroups_figure(groups))
    assert practice_audit.subgroups_alt(groups).endswith("Sealed: 2.0 (-1.0 to 5.0); Microbore: no figure.")


@pytest.mark.parametrize(("is_adjusted", "ends"), [(True, (6.0, 11.0)), (False, (10.0, 9.0))])
def test_curves_are_of_jobs_alike_where_that_could_be_done_with_the_jobs_still_watched_below(
    is_adjusted: bool, ends: tuple[float, float]
) -> None:
    found = made.curves(is_adjusted=is_adjusted)

    figure = practice_curves.incidence_figure(found)

    lines = [trace for trace in figure.data if trace.line.width == 2.5]
    assert [line.y[-1] for line in lines] == pytest.approx(ends)
    assert [line.line.dash for line in lines] == ["solid", "dash"]
    assert {"200", "170", "120", "165", "101"} <= set(texts(figure).split("\n"))
    assert f"{ends[0]:.0f} % with the practice" in practice_curves.incidence_alt(found)
    assert "120 and 101 jobs" in practice_curves.incidence_alt(found)
    free = [trace.y[-1] for trace in practice_curves.survival_figure(found).data if trace.line.width == 2.5]
    assert free == pytest.approx([90.0, 91.0])


def test_balance_shows_the_largest_before_and_tells_the_rest_in_words() -> None:
    figure = practice_curves.balance_figure(made.balance())

    before = next(trace for trace in figure.data if trace.name == "before")
    assert len(before.x) == practice_curves.MOST_SHOWN
    assert before.x[-1] == pytest.approx(0.8)
    assert "0.80 standard deviations before weighting, 0.05 after" in practice_curves.balance_alt(made.balance())


def test_a_dose_has_its_interval_and_its_jobs() -> None:
    figure = practice_curves.dose_figure(made.dose())

    assert list(figure.data[0].error_y.arrayminus) == pytest.approx([5.0, 2.5])
    assert texts(figure) == "50 jobs\n40"
    assert "0 days: 10.0 %, 7 days: 5.0 %" in practice_curves.dose_alt(made.dose())


def test_the_funnel_names_the_chosen_and_those_beyond_the_limits_only() -> None:
    chosen, other, outside = made.engineer("E1", 5), made.engineer("E2", 4), made.engineer("E3", 14)

    figure = practice_engineers.funnel_figure(made.funnel(chosen, other, outside, made.engineer("E4", None)), chosen)

    assert set(texts(figure).split("\n")) == {"95 %", "99.8 %", "E1", "E3"}
    dots = [trace for trace in figure.data if trace.mode == "markers"]
    assert len(dots) == 3
    assert figure.layout.yaxis.range[1] > 3.5


def test_the_same_id_in_two_firms_is_two_people() -> None:
    one, two = made.engineer("E1", 4), made.engineer("E1", 6, "other")

    assert practice_engineers.named(one, made.funnel(one, made.engineer("E2", 3))) == "E1"
    assert practice_engineers.named(one, made.funnel(one, two)) == "E1, own"


def test_the_causal_picture_runs_down_in_time_and_dashes_what_is_not_on_record() -> None:
    graph = CausalGraph(made.nodes(), (("house", "practice"), ("hidden", "practice")))

    figure = causal_picture.causal_figure(graph, "Flow reversed")

    height = {each.text: each.y for each in figure.layout.annotations if each.text}
    assert height["House,<br>system, age"] > height["Flow reversed"] > height["What nobody<br>wrote down"]
    assert [trace.line.dash for trace in figure.data] == ["solid", "dash"]
    assert "House, system, age → The practice" in causal_picture.causal_alt(graph)
