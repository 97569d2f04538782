"""True effects: the same world, the same noise, with each practice and without it."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest

import synthetic_data
from synthetic_data.chunk import outcome, plan
from synthetic_data.crew.practices import CONTRASTS, does
from synthetic_data.effects import Effects, propensities, risks
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_chunks

FILTER, INHIBITOR, PREDOSE, ISOLATION, *_ = CONTRASTS


@pytest.fixture(scope="module")
def some(drawn):
    """250 usual jobs: enough for what is exact, and for effects as large as those of filter and inhibitor."""
    return drawn("usual", 250, 8)[0]


@pytest.fixture(scope="module")
def usual_rows(some):
    """Potential risks of those jobs for filter, inhibitor, pre-dose and isolation."""
    return risks(some, (FILTER, INHIBITOR, PREDOSE, ISOLATION))


def table_of(rows):
    effects = Effects()
    effects.add(rows)
    return effects.table()


@pytest.fixture(scope="module")
def table(usual_rows):
    return table_of(usual_rows)


@pytest.fixture(scope="module")
def large_table(chunk):
    """The same of 500 jobs, for what is told apart from confounding only among many."""
    return table_of(risks(chunk, (FILTER, PREDOSE)))


def one(table, contrast, population="all"):
    return table.row(
        by_predicate=(pl.col("contrast") == contrast.name) & (pl.col("population") == population), named=True
    )


def test_the_names_are_those_an_audit_would_use():
    assert [contrast.name for contrast in (FILTER, PREDOSE, ISOLATION)] == [
        "filter_fitted:on_return|none",
        "predose_days:7|0",
        "isolation:one_at_a_time|all_open",
    ]


def test_a_filter_and_inhibitor_cut_callbacks_in_the_usual_world(table):
    assert one(table, FILTER)["difference"] < -0.02
    assert one(table, INHIBITOR)["difference"] < -0.005


def test_a_pre_dose_does_no_harm_and_leaves_less_behind(table):
    row = one(table, PREDOSE)

    assert row["difference"] < 0
    assert row["residual_with_kg"] < row["residual_without_kg"]


@pytest.mark.study
@pytest.mark.parametrize("contrast", [FILTER, PREDOSE], ids=lambda contrast: contrast.name)
def test_raw_differences_hide_what_a_practice_does(large_table, many, contrast):
    # confounding by indication: the worse a house looks, the more is done
    risk = np.concatenate([chunk.outcome.risk for chunk in many])
    did, did_not = (
        np.concatenate([does(chunk.plans, contrast.column, value) for chunk in many])
        for value in (contrast.with_value, contrast.without_value)
    )
    raw, true = risk[did].mean() - risk[did_not].mean(), one(large_table, contrast)["difference"]

    assert true < 0
    assert raw > 0.9 * true


def test_a_filter_is_weighed_up_only_where_none_was_there(table, some):
    assert one(table, FILTER)["jobs"] == (~some.fouling.filter).sum()
    assert one(table, PREDOSE)["jobs"] == some.jobs


@pytest.mark.parametrize("population", ["all", "treated", "overlap"])
def test_every_population_has_its_own_mean(table, usual_rows, population):
    rows = usual_rows.filter(contrast=ISOLATION.name)
    if population == "treated":
        rows = rows.filter("done")
    if population == "overlap":
        rows = rows.filter(pl.col("chance").is_between(0.1, 0.9))
    row = one(table, ISOLATION, population)

    assert row["jobs"] == rows.height > 50
    assert row["difference"] == pytest.approx((rows["risk_with"] - rows["risk_without"]).mean())


def test_what_was_done_gives_the_risk_that_was(usual_rows):
    for name, did, risk in (("with", True, "risk_with"), ("without", False, "risk_without")):
        rows = usual_rows.filter(pl.col("contrast").is_in([FILTER.name, INHIBITOR.name, ISOLATION.name]), done=did)

        assert rows.height > 100, name
        assert rows["risk"].to_numpy() == pytest.approx(rows[risk].to_numpy(), abs=1e-12)


def test_where_practice_does_nothing_every_true_effect_is_nil(drawn):
    rows = risks(drawn("no_effects", 250, 8)[0], (FILTER, INHIBITOR, PREDOSE))

    assert rows["risk_with"].to_numpy() == pytest.approx(rows["risk_without"].to_numpy(), abs=1e-12)
    # and there is something to be confounded by: callbacks do happen, unequally
    assert rows["risk"].mean() > 0.03
    assert rows["risk"].std() > 0.02


def test_the_same_plan_again_gives_the_same_outcome(some):
    again = outcome(some.setting, plan(some.setting))

    assert (again.risk == some.outcome.risk).all()
    assert (again.flush.end.caught == some.flush.end.caught).all()


def test_chances_tell_who_would_choose_what(chunk):
    chance = propensities(chunk.setting, (PREDOSE,))[0]
    days = chunk.plans.predose_days
    did, did_not = (days >= 5) & (days <= 10), days == 0

    assert np.nanmean(chance[did]) > np.nanmean(chance[did_not]) + 0.05
    # among jobs of like chance the share that did is near that chance: four standard errors
    middle = (did | did_not) & (chance > 0.3) & (chance < 0.7)
    share, expected = did[middle].mean(), chance[middle].mean()
    assert share == pytest.approx(expected, abs=4 * np.sqrt(0.25 / middle.sum()))


@pytest.mark.study
def test_a_hidden_confounder_makes_a_practice_look_better_than_it_is(hidden_chunk):
    row = one(table_of(risks(hidden_chunk, (FILTER,))), FILTER)

    assert row["raw_difference"] < row["difference"] - 0.02


def test_without_care_on_the_day_hidden_skill_is_the_usual_world():
    hidden, usual = SCENARIOS["hidden_skill"].parameters, SCENARIOS["usual"].parameters
    plain = replace(
        hidden, crew=replace(hidden.crew, hidden_push=0.0), aftercare=replace(hidden.aftercare, hidden_log=0.0)
    )

    assert plain == usual


def weighed(chunks, contrast):
    """Difference of risks weighed by the true chance (overlap jobs), the raw one of the same jobs, standard error."""
    risk = np.concatenate([chunk.outcome.risk for chunk in chunks])
    chance = np.concatenate([propensities(chunk.setting, (contrast,))[0] for chunk in chunks])
    did, did_not = (
        np.concatenate([does(chunk.plans, contrast.column, value) for chunk in chunks])
        for value in (contrast.with_value, contrast.without_value)
    )
    kept = (did | did_not) & (chance >= 0.1) & (chance <= 0.9)
    risk, chance, did = risk[kept], chance[kept], did[kept]
    means, variance = [], 0.0
    for weight in (did / chance, ~did / (1 - chance)):
        mean = np.average(risk, weights=weight)
        variance += (weight**2 * (risk - mean) ** 2).sum() / weight.sum() ** 2
        means.append(mean)
    return means[0] - means[1], risk[did].mean() - risk[~did].mean(), np.sqrt(variance)


@pytest.mark.study
def test_weighing_by_the_true_chance_finds_the_true_effect_where_nothing_is_hidden(large_table, many):
    found, raw, error = weighed(many, PREDOSE)
    true = one(large_table, PREDOSE, "overlap")["difference"]

    assert abs(found - true) < 0.5 * abs(raw - true)
    # three standard errors of the weighed difference
    assert found == pytest.approx(true, abs=3 * error)
    assert error < 0.01


@pytest.mark.study
def test_weighing_does_not_help_where_care_on_the_day_is_hidden(hidden_chunk):
    found, *_ = weighed([hidden_chunk], PREDOSE)
    table = table_of(risks(hidden_chunk, (PREDOSE,)))

    assert found < 2 * one(table, PREDOSE, "overlap")["difference"] < 0


@pytest.mark.study
def test_the_document_lists_true_effects_as_they_are():
    # the two that need no second flush: 1000 jobs, seed 1
    effects = Effects()
    for chunk in simulate_chunks(SCENARIOS["usual"], jobs=1000, seed=1):
        effects.add(risks(chunk, (FILTER, INHIBITOR)))
    readme = Path(synthetic_data.__file__).with_name("README.md").read_text(encoding="utf-8")

    for contrast in (FILTER, INHIBITOR):
        rows = [one(effects.table(), contrast, population) for population in ("all", "treated", "overlap")]
        points = [f"{100 * row['difference']:+.1f}" for row in rows] + [f"{100 * rows[0]['raw_difference']:+.1f}"]
        first = f"{100 * rows[0]['risk_with']:.1f} | {100 * rows[0]['risk_without']:.1f}"
        name = contrast.name.replace("|", "\\|")
        assert f"| `{name}` | {rows[0]['jobs']} | {first} | {' | '.join(points)} |" in readme
