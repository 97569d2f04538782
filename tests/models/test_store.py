"""Stored models: whole or not at all, refused in one sentence when damaged or of another version."""

from __future__ import annotations

import json
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
from sklearn.ensemble import HistGradientBoostingRegressor

from models.store import Stored, load_model, read_manifest, save_model
from pipeline.contract.findings import SludgebookError


@pytest.fixture(scope="module")
def stored() -> Stored:
    x = np.random.default_rng(0).normal(size=(80, 3))
    booster = HistGradientBoostingRegressor(max_iter=5).fit(x, x[:, 0])
    arrays = {"x": x, "ids": np.array(["J1", "Jé"])}
    return Stored({"centre": booster}, arrays, {"shift": 0.1 + 0.2, "name": "µ"})


@pytest.fixture
def folder(tmp_path: Path, stored: Stored) -> Path:
    save_model(tmp_path / "models" / "quote", stored, {"model": "test"})
    return tmp_path / "models" / "quote"


def test_a_model_comes_back_as_it_was(folder: Path, stored: Stored) -> None:
    loaded = load_model(folder)

    x = stored.arrays["x"]
    assert loaded.facts == stored.facts
    assert np.array_equal(loaded.boosters["centre"].predict(x), stored.boosters["centre"].predict(x))
    assert np.array_equal(loaded.arrays["x"], x)
    assert loaded.arrays["ids"].tolist() == ["J1", "Jé"]


def test_the_manifest_says_what_it_was_made_with(folder: Path) -> None:
    manifest = read_manifest(folder)

    assert manifest["model"] == "test"
    assert {"scikit-learn", "numpy"} <= set(manifest["versions"])
    assert set(manifest["files"]) == {"arrays.npz", "boosters.skops"}


def test_nothing_else_is_left_beside_it_and_an_older_model_is_replaced(folder: Path, stored: Stored) -> None:
    save_model(folder, Stored(stored.boosters, stored.arrays, {"shift": 2.0}), {})

    assert load_model(folder).facts == {"shift": 2.0}
    assert [path.name for path in folder.parent.iterdir()] == ["quote"]


@pytest.mark.parametrize("name", ["arrays.npz", "boosters.skops"])
@pytest.mark.parametrize("damage", ["changed", "cut", "gone"])
def test_a_damaged_file_is_refused(folder: Path, name: str, damage: str) -> None:
    content = (folder / name).read_bytes()
    if damage == "gone":
        (folder / name).unlink()
    else:
        (folder / name).write_bytes(content[:-9] if damage == "cut" else content[:60] + b"?" + content[61:])

    with pytest.raises(SludgebookError, match=rf"damaged: {name} .*sludgebook train"):
        load_model(folder)


def test_a_missing_model_says_how_to_get_one(tmp_path: Path) -> None:
    with pytest.raises(SludgebookError, match=r"No fitted model .* run `sludgebook train`"):
        load_model(tmp_path / "quote")


@pytest.mark.parametrize("text", ["", "{", "[1]", '{"format": 1}'])
def test_a_damaged_manifest_is_refused(folder: Path, text: str) -> None:
    (folder / "manifest.json").write_text(text)

    with pytest.raises(SludgebookError, match=r"damaged: manifest\.json"):
        load_model(folder)


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [("format", 0, "another version of Sludgebook"), ("versions", {"scikit-learn": "1.0"}, "scikit-learn 1.0")],
)
def test_another_version_is_refused(folder: Path, key: str, value: object, said: str) -> None:
    manifest = json.loads((folder / "manifest.json").read_text())
    (folder / "manifest.json").write_text(json.dumps({**manifest, key: value}))

    with pytest.raises(SludgebookError, match=said):
        load_model(folder)


class Odd:
    """A type that no stored model should hold."""


def test_a_type_that_is_not_trusted_is_refused(tmp_path: Path) -> None:
    save_model(tmp_path / "quote", Stored({"odd": Odd()}), {})

    with pytest.raises(SludgebookError, match=r"not trusted \(.*Odd\)"):
        load_model(tmp_path / "quote")


def test_what_would_need_a_pickle_is_not_stored(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="allow_pickle"):
        save_model(tmp_path / "quote", Stored(arrays={"odd": np.array([object()])}), {})

    assert not (tmp_path / "quote").exists()


def test_a_pickled_array_is_not_read(folder: Path) -> None:
    np.savez(folder / "arrays.npz", odd=np.array([object()]))
    manifest = read_manifest(folder)
    manifest["files"]["arrays.npz"] = sha256((folder / "arrays.npz").read_bytes()).hexdigest()
    (folder / "manifest.json").write_text(json.dumps(manifest))

    with pytest.raises(SludgebookError, match=r"arrays\.npz cannot be read"):
        load_model(folder)


def test_a_model_of_numbers_alone_needs_no_version_of_the_fitting_library(tmp_path: Path) -> None:
    save_model(tmp_path / "quote", Stored(arrays={"x": np.arange(3.0)}), {})
    manifest = read_manifest(tmp_path / "quote")
    manifest["versions"]["scikit-learn"] = "1.0"
    (tmp_path / "quote" / "manifest.json").write_text(json.dumps(manifest))

    assert set(manifest["files"]) == {"arrays.npz"}
    assert load_model(tmp_path / "quote").arrays["x"].tolist() == [0.0, 1.0, 2.0]
