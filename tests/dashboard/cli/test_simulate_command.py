"""`sludgebook simulate`: one command for each world."""

from __future__ import annotations

import json
import sys
from functools import partial
from pathlib import Path

import polars as pl
import pytest

from dashboard.cli.main import main
from synthetic_data.crew.practices import CONTRASTS
from synthetic_data.effects import risks
from synthetic_data.scenarios import SCENARIOS


@pytest.fixture
def simulate(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path):
    """Run `sludgebook simulate OUT …`; returns what it printed as data."""

    def call(*arguments: object) -> dict[str, object]:
        words = ["sludgebook", "simulate", tmp_path / "logs", "--json", *arguments]
        monkeypatch.setattr(sys, "argv", [str(word) for word in words])
        with pytest.raises(SystemExit) as ended:
            main()
        assert not ended.value.code
        return dict(json.loads(capsys.readouterr().out))

    return call


@pytest.mark.parametrize("scenario", sorted(SCENARIOS))
def test_every_world_has_its_one_command(simulate, tmp_path, scenario):
    told = simulate("--scenario", scenario, "--jobs", 6, "--format", "parquet")
    jobs = pl.read_parquet(tmp_path / "logs" / "jobs.parquet")

    assert told["jobs"] == jobs.height == 6
    assert set(jobs["firm_id"]) <= set(SCENARIOS[scenario].firm_ids)
    assert Path(str(told["truth"])).is_file()
    assert ("later" in told) == (scenario == "lazy_loggers")


@pytest.mark.parametrize("contrasts", [CONTRASTS[:2], pytest.param(CONTRASTS, marks=pytest.mark.study)], ids=len)
def test_effects_are_written_on_request_only(simulate, tmp_path, monkeypatch, contrasts):
    """Two contrasts find a request that is not passed on; the nine of them are for the study."""
    monkeypatch.setattr("synthetic_data.simulate.CONTRASTS", contrasts)
    monkeypatch.setattr("synthetic_data.simulate.risks", partial(risks, contrasts=contrasts))
    told = simulate("--jobs", 5, "--effects")

    assert pl.read_parquet(str(told["effects"]))["contrast"].n_unique() == len(contrasts)
    assert pl.read_parquet(str(told["risks"])).height == 5 * len(contrasts)


def test_without_the_request_there_are_none(simulate, tmp_path):
    told = simulate("--jobs", 5)

    assert not {"effects", "risks", "slips", "later"} & told.keys()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["logs", "logs-truth.parquet"]


def test_there_are_nine_contrasts_to_write():
    assert len(CONTRASTS) == 9


def test_the_list_names_every_world(simulate):
    assert simulate("--scenario", "list").keys() == SCENARIOS.keys()
