"""Words of headings, how near they are, and what is settled of them: each by hand on a few words."""

from __future__ import annotations

import pytest

from pipeline.contract import JOB_LOG
from pipeline.mapping.heading_match import Claim, Fit, heading_units, likeliest, table_score
from pipeline.mapping.heading_values import Against
from pipeline.mapping.settled_columns import settled
from pipeline.mapping.trade_words import accounted, choice_for, likeness, tokens
from pipeline.mapping.wide_headings import numbered_headings


def test_words_are_compared_without_fillers_and_with_abbreviations_written_out() -> None:
    assert tokens("Date of the job") == {"date", "job"}
    assert tokens("of the") == {"of", "the"}  # nothing else is left
    assert tokens("Wt. (dry) 2 £") == {"weight", "dry", "2", "£"}
    assert tokens("") == frozenset()


@pytest.mark.parametrize(
    ("text", "phrases", "found"),
    [
        ("main bore", ("main bore",), 1.0),
        ("bore of the main", ("main bore",), 1.0),
        ("main", ("main bore",), 2 * 1 / 3),
        ("main", ("nothing here", "main bore"), 2 * 1 / 3),  # the best of them
        ("radiatr", ("radiator",), 0.85),  # a slip of the pen counts 0.85 of a word
        ("radiatr radiatr", ("radiator pipe",), 2 * 0.85 / 3),
        ("main", ("bore",), 0.0),
        ("", ("bore",), 0.0),
        ("main", (), 0.0),
    ],
)
def test_likeness_is_twice_the_words_in_common_over_the_words_of_both(
    text: str, phrases: tuple[str, ...], found: float
) -> None:
    assert likeness(text, phrases) == pytest.approx(found)


@pytest.mark.parametrize(
    ("word", "other", "is_near"),
    [
        ("flow", "flows", True),  # 8 of 9 letters
        ("bar", "bars", False),  # of three letters: another word
        ("xlushing", "flushing", False),  # another first letter
        ("installed", "install", True),  # two letters more, 14 of 16
        ("abcdefghijklmno", "abcdefghijklmnopq", True),
        ("abcdefghijklmno", "abcdefghijklmnopqr", False),  # three letters more, though 30 of 33
        ("tank", "tanker", False),  # 8 of 10
    ],
)
def test_a_slip_of_the_pen_is_a_letter_or_two_of_a_long_word(word: str, other: str, is_near: bool) -> None:
    assert (likeness(word, (other,)) > 0) == is_near
    assert (likeness(other, (word,)) > 0) == is_near


def test_what_a_phrase_leaves_over_of_a_heading() -> None:
    assert accounted(frozenset({"flow", "temp", "outside"}), frozenset({"flow", "temp"})) == {"outside"}
    assert accounted(frozenset({"flow"}), frozenset({"flow"})) == frozenset()
    assert accounted(frozenset({"flow"}), frozenset({"flow", "temp"})) is None
    assert accounted(frozenset({"turbiditty"}), frozenset({"turbidity"})) == frozenset()
    # a word that some phrase holds is itself, and no slip of another
    assert accounted(frozenset({"dried"}), frozenset({"drier"})) is None
    assert accounted(frozenset({"flow"}), frozenset()) is None


@pytest.mark.parametrize(
    ("column", "kind", "word", "found"),
    [
        ("system_type", "choice", "Open-Vented", ("open_vented", 1.0)),
        ("system_type", "choice", " open vented ", ("open_vented", 1.0)),
        ("filter_at_survey", "yes_no", "✓", ("yes", 0.95)),
        ("trap", "choice", "zzz", ("", 0.0)),
        ("job_id", "text", "magnet", ("", 0.0)),
    ],
)
def test_a_firms_word_and_the_one_nearest_to_it(column: str, kind: str, word: str, found: tuple[str, float]) -> None:
    assert choice_for(column, kind, word) == found


def test_headings_that_repeat_with_a_number() -> None:
    headings = ["job", "catch 2 kg", "catch 10 kg", "catch 1 kg", "rad1", "rad2", "type 22", "e04", "e05", "1", "2"]

    assert numbered_headings(headings) == {"catch {n} kg": (1, 2, 10), "rad{n}": (1, 2)}
    assert numbered_headings(["a 1", "a 1"]) == {}
    assert numbered_headings(["a 1000", "a 1001"]) == {}
    assert numbered_headings(["a 0", "a 999"]) == {"a {n}": (0, 999)}


@pytest.mark.parametrize(
    ("table", "name", "heading", "found"),
    [
        ("catches", "mass_g", "catch weight (lb)", ("catch weight", ("lb",))),
        ("catches", "mass_g", "weight [dry] {kg} total", ("weight [dry] total", ("kg",))),
        ("catches", "mass_g", "weight_kg", ("weight", ("kg",))),
        ("readings", "flow_l_min", "flow us gpm", ("flow", ("gal US/min",))),  # two words before one
        ("readings", "flow_l_min", "flow gpm", ("flow", ("gal US/min", "gal UK/min"))),
        ("catches", "mass_g", "kg", ("kg", ())),  # a unit alone is no heading
        ("catches", "mass_g", "weight", ("weight", ())),
        ("readings", "ph", "ph (kg)", ("ph (kg)", ())),
    ],
)
def test_the_unit_of_a_heading_is_taken_off(
    table: str, name: str, heading: str, found: tuple[str, tuple[str, ...]]
) -> None:
    assert heading_units(heading, JOB_LOG[table].column(name)) == found


def fit(heading: str, column: str, score: float, claim: Claim = "firm", against: Against | None = None) -> Fit:
    return Fit(heading, column, score, (), claim, against)


DOUBT, HOPELESS = Against("its values differ"), Against("its values are words", is_hopeless=True)


def test_one_firm_claim_is_taken_and_a_second_column_that_fits_keeps_it_open() -> None:
    found = settled(
        [
            fit("a", "mass_g", 0.9),
            fit("a", "note", 0.4, "none"),
            fit("b", "trap", 0.9),
            fit("b", "weighed", 0.5, "doubtful"),
            fit("c", "catch_no", 0.9),
            fit("c", "focus_emitter_no", 0.9, "doubtful", HOPELESS),
            fit("d", "caught_at", 0.8, "firm", DOUBT),
        ]
    )

    assert {heading: each.column for heading, each in found.taken.items()} == {"a": "mass_g", "c": "catch_no"}
    assert {heading: [f.column for f in each] for heading, each in found.asked.items()} == {
        "b": ["trap", "weighed"],
        "d": ["caught_at"],
    }
    assert found.why == {"b": "more than one column fits it", "d": "like caught_at, but its values differ"}


def test_two_headings_of_one_column_are_rivals_unless_one_is_its_own_name() -> None:
    rivals = settled([fit("weight", "mass_g", 0.9), fit("mass", "mass_g", 0.8), fit("place", "trap", 0.9)])
    own = settled([fit("mass_g", "mass_g", 1.0), fit("weight", "mass_g", 0.9)])

    assert set(rivals.taken) == {"place"}
    assert rivals.why == {"weight": "'mass' may be mass_g as well", "mass": "'weight' may be mass_g as well"}
    assert [f.column for f in rivals.asked["mass"]] == ["mass_g"]
    assert set(own.taken) == {"mass_g"}
    assert own.why["weight"] == "'mass_g' may be mass_g as well"
    assert own.asked == {}


def test_a_second_mass_wet_or_dried_is_a_rival_unless_it_cannot_be_one() -> None:
    weight = fit("weight", "mass_g", 0.9)

    dried = settled([weight, fit("dried", "mass_g", 0.5, "doubtful")])
    words = settled([weight, fit("dried", "mass_g", 0.5, "doubtful", HOPELESS)])
    other = settled([weight, fit("sludge", "mass_g", 0.5, "doubtful")])

    assert (set(dried.taken), set(words.taken), set(other.taken)) == (set(), {"weight"}, {"weight"})
    assert other.why == {"sludge": "mass_g is another heading already"}


def test_at_most_three_columns_are_named_the_firmest_and_best_first() -> None:
    names = ["trap", "weighed", "note", "catch_no", "mass_g"]
    claims: list[Claim] = ["doubtful", "firm", "partial", "doubtful", "partial"]
    fits = [fit("x", name, 0.3 + at / 10, claim) for at, (name, claim) in enumerate(zip(names, claims, strict=True))]

    found = settled([*fits, fit("y", "note", 0.5, "partial", DOUBT)])

    assert [each.column for each in found.asked["x"]] == ["weighed", "catch_no", "trap"]
    assert "y" not in found.asked  # words left over, and values that do not agree
    assert found.why["y"] == "like note, but its values differ"


def test_what_tells_a_table_is_each_heading_and_column_once_from_a_score_on() -> None:
    """Chosen 0.9 and 0.55 of three headings; two of the five required columns; named by its file or not."""
    chosen = likeliest(
        [
            fit("a", "mass_g", 0.9),
            fit("a", "trap", 0.8),
            fit("b", "mass_g", 0.7),
            fit("b", "trap", 0.55),
            fit("c", "note", 0.54),
        ]
    )

    assert {heading: each.column for heading, each in chosen.items()} == {"a": "mass_g", "b": "trap"}
    required = sum(column.required for column in JOB_LOG["catches"].columns)
    bare = 1.45 / 3 + 0.5 * 2 / required
    assert table_score("catches", chosen, 3, "sheet") == pytest.approx(bare)
    assert table_score("catches", chosen, 3, "our catches") == pytest.approx(bare + 0.5)
    assert table_score("catches", {}, 0, "sheet") == 0.0
