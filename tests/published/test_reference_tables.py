"""The reference tables against published contents, and against what their own columns promise.

Sources stand beside each check. `from memory` and `common practice, no source` mean just that.
"""

from __future__ import annotations

import math

import pytest

from pipeline.contract import job_log
from pipeline.contract.reference_tables import REFERENCE_DIR, REFERENCES, STATUSES, reference_path, reference_rows

RANGES = {
    "tube_bores": ("bore_low_mm", "bore_mid_mm", "bore_high_mm"),
    "emitter_contents": ("content_low_l_per_m", "content_mid_l_per_m", "content_high_l_per_m"),
    "volume_rules": ("low", "mid", "high"),
}


def bore_mm(material: str, outside_mm: float, level: str = "mid") -> float:
    rows = [r for r in reference_rows("tube_bores") if r["material"] == material]
    return next(float(r[f"bore_{level}_mm"]) for r in rows if float(r["outside_mm"]) == outside_mm)


def content_l_per_m(bore: float) -> float:
    return math.pi / 4 * bore**2 / 1000


def emitter_content(kind: str, height: int) -> tuple[float, float]:
    rows = [r for r in reference_rows("emitter_contents") if r["emitter_kind"] == kind]
    row = next(r for r in rows if int(r["height_mm"]) == height)
    return float(row["content_low_l_per_m"]), float(row["content_high_l_per_m"])


@pytest.mark.parametrize(
    ("outside_mm", "l_per_m"), [(15, 0.145), (22, 0.320), (28, 0.539), (35, 0.835), (42, 1.232), (54, 2.091)]
)
def test_copper_contents_equal_the_handbook_figures(outside_mm: float, l_per_m: float) -> None:
    """EN 1057 sizes with Table X walls; handbooks print three decimals, so 0.001 L/m."""
    assert content_l_per_m(bore_mm("copper", outside_mm)) == pytest.approx(l_per_m, abs=0.001)


@pytest.mark.parametrize(
    ("outside_mm", "level", "l_per_m"), [(15, "low", 0.133), (15, "high", 0.154), (22, "low", 0.302)]
)
def test_thicker_and_thinner_copper_equal_the_handbook_figures(outside_mm: float, level: str, l_per_m: float) -> None:
    """Table Y and Table Z walls (15 x 1.0, 15 x 0.5, 22 x 1.2), contents as printed in handbooks."""
    assert content_l_per_m(bore_mm("copper", outside_mm, level)) == pytest.approx(l_per_m, abs=0.001)


@pytest.mark.parametrize(
    ("outside_mm", "level", "l_per_m"),
    [
        (21.3, "mid", 0.204),
        (26.9, "mid", 0.370),
        (33.7, "mid", 0.585),
        (42.4, "mid", 1.018),
        (48.3, "mid", 1.379),
        (60.3, "mid", 2.215),
        (21.3, "low", 0.174),
        (26.9, "low", 0.330),
        (33.7, "low", 0.519),
    ],
)
def test_steel_contents_equal_the_standard_series(outside_mm: float, level: str, l_per_m: float) -> None:
    """EN 10255 medium series as the middle, heavy series as the low bore (from memory)."""
    assert content_l_per_m(bore_mm("steel", outside_mm, level)) == pytest.approx(l_per_m, abs=0.001)


@pytest.mark.parametrize(
    ("outside_mm", "low", "high"), [(10, 0.032, 0.038), (15, 0.079, 0.113), (22, 0.201, 0.254), (28, 0.314, 0.408)]
)
def test_plastic_contents_span_the_walls_on_sale(outside_mm: float, low: float, high: float) -> None:
    """BS 7291 sizes, thickest and thinnest usual wall (from memory)."""
    assert content_l_per_m(bore_mm("plastic", outside_mm, "low")) == pytest.approx(low, abs=0.001)
    assert content_l_per_m(bore_mm("plastic", outside_mm, "high")) == pytest.approx(high, abs=0.001)


def test_the_pipes_of_a_small_house_hold_18_litres() -> None:
    """30 m of 22 mm and 60 m of 15 mm copper: 9.61 + 8.72 = 18.33 L, by hand; the pipe rule rests on it."""
    litres = 30 * content_l_per_m(bore_mm("copper", 22)) + 60 * content_l_per_m(bore_mm("copper", 15))

    assert litres == pytest.approx(18.33, abs=0.01)
    rule = next(r for r in reference_rows("volume_rules") if r["rule"] == "pipes_per_emitter")
    assert float(rule["mid"]) == pytest.approx(litres / 10, abs=0.05)


@pytest.mark.parametrize(
    ("kind", "height_mm", "low", "high"),
    [
        ("panel_11", 300, 1.5, 2.0),
        ("panel_10", 600, 2.8, 3.5),
        ("panel_22", 300, 3.0, 3.9),
        ("panel_21", 600, 5.6, 6.9),
        ("panel_20", 900, 8.2, 10.0),
        ("panel_33", 600, 8.4, 10.3),
    ],
)
def test_panel_contents_are_the_usual_ranges(kind: str, height_mm: int, low: float, high: float) -> None:
    """Ranges usually published for steel panels (from memory), L per metre of length."""
    assert emitter_content(kind, height_mm) == (low, high)


@pytest.mark.parametrize("height_mm", [300, 400, 450, 500, 600, 700, 900])
def test_two_panels_hold_about_twice_one_panel(height_mm: int) -> None:
    """As usually published: the double holds 1.9 to 2.1 times the single."""
    single, double = sum(emitter_content("panel_10", height_mm)), sum(emitter_content("panel_20", height_mm))

    assert 1.9 <= double / single <= 2.1


def test_wet_to_dry_ratio_of_packed_magnetite_spans_the_allowed_range() -> None:
    """Porosity 0.6 and 0.9 at 5180 kg/m3 give 1.29 and 2.73 (arithmetic; density from memory)."""
    magnetite = next(r for r in reference_rows("oxide_data") if r["substance"] == "magnetite")
    density = float(magnetite["value"])

    wet_dry = [1 + 1000 * porosity / (density * (1 - porosity)) for porosity in (0.6, 0.9)]

    assert wet_dry == pytest.approx([1.29, 2.73], abs=0.01)


@pytest.mark.parametrize(
    ("substance", "atoms"),
    [
        ("magnetite", {"Fe": 3, "O": 4}),
        ("hematite", {"Fe": 2, "O": 3}),
        ("oxygen", {"O": 2}),
        ("goethite", {"Fe": 1, "O": 2, "H": 1}),
        ("lepidocrocite", {"Fe": 1, "O": 2, "H": 1}),
        ("iron_hydroxide", {"Fe": 1, "O": 2, "H": 2}),
    ],
)
def test_molar_masses_are_sums_of_standard_atomic_masses(substance: str, atoms: dict[str, int]) -> None:
    """IUPAC standard atomic masses: Fe 55.845, O 15.999, H 1.008 g/mol."""
    masses = {"Fe": 55.845, "O": 15.999, "H": 1.008}
    rows = [r for r in reference_rows("oxide_data") if r["quantity"] == "molar_mass"]
    value = next(float(r["value"]) for r in rows if r["substance"] == substance)

    assert value == pytest.approx(sum(masses[atom] * count for atom, count in atoms.items()), abs=0.001)


@pytest.mark.parametrize("name", REFERENCES)
def test_every_row_has_a_source_and_a_known_status(name: str) -> None:
    rows = reference_rows(name)

    assert rows
    assert all(len(r["source"]) > 10 and r["status"] in STATUSES for r in rows)


@pytest.mark.parametrize("name", RANGES)
def test_ranges_are_in_order_and_positive(name: str) -> None:
    bad = [
        row
        for row in reference_rows(name)
        if not 0 < float(row[RANGES[name][0]]) <= float(row[RANGES[name][1]]) <= float(row[RANGES[name][2]])
    ]

    assert bad == []


def test_a_bore_is_smaller_than_the_outside_of_its_tube() -> None:
    assert [r for r in reference_rows("tube_bores") if float(r["bore_high_mm"]) >= float(r["outside_mm"])] == []


def test_only_tube_sizes_seen_in_the_standard_and_sums_are_called_facts() -> None:
    facts = [r for name in REFERENCES for r in reference_rows(name) if r["status"] in ("published", "computed")]
    published = {(r["material"], r["outside_mm"]) for r in facts if r["status"] == "published"}

    assert published == {("copper", size) for size in ("8", "15", "22", "28", "35", "42", "54")}
    assert {r["quantity"] for r in facts if r["status"] == "computed"} == {"molar_mass"}


def test_every_emitter_kind_has_contents_and_a_typical_size() -> None:
    assert {r["emitter_kind"] for r in reference_rows("emitter_contents")} == set(job_log.EMITTER_KINDS)
    assert [r["emitter_kind"] for r in reference_rows("typical_emitters")] == list(job_log.EMITTER_KINDS)


def test_every_layout_heat_source_and_material_has_its_rule() -> None:
    rules = {(r["rule"], r["applies_to"]) for r in reference_rows("volume_rules")}

    assert {("pipes_per_emitter", layout) for layout in (*job_log.PIPE_LAYOUTS, "any")} <= rules
    assert {("litres_per_kw", layout) for layout in (*job_log.PIPE_LAYOUTS, "any", "combi")} <= rules
    assert {("source_content", kind) for kind in (*job_log.BOILER_KINDS, "any")} <= rules
    materials = job_log.PIPE_RUNS.column("material").choices
    assert {r["material"] for r in reference_rows("tube_bores")} == set(materials)


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("tube_bores", ("material", "outside_mm")),
        ("emitter_contents", ("emitter_kind", "height_mm")),
        ("typical_emitters", ("emitter_kind",)),
        ("volume_rules", ("rule", "applies_to")),
        ("oxide_data", ("substance", "quantity")),
        ("label_dose", ("product",)),
    ],
)
def test_no_key_stands_twice(name: str, key: tuple[str, ...]) -> None:
    keys = [tuple(row[column] for column in key) for row in reference_rows(name)]

    assert len(keys) == len(set(keys))


def test_every_file_in_the_folder_is_listed_and_an_unknown_name_says_which_there_are() -> None:
    assert {path.stem for path in REFERENCE_DIR.glob("*.csv")} == set(REFERENCES)
    with pytest.raises(KeyError, match="there are tube_bores, emitter_contents"):
        reference_path("tubes")
