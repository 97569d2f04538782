"""Files appear whole or not at all, and Parquet is written as it comes."""

from functools import partial

import polars as pl
import pyarrow.parquet as pq
import pytest

from synthetic_data import chunk, simulate
from synthetic_data.crew.practices import CONTRASTS
from synthetic_data.effects import risks
from synthetic_data.logbook.writing import FolderWriter, ParquetStream, WrittenTogether
from synthetic_data.simulate import simulate_to_folder


def test_every_chunk_becomes_a_row_group(tmp_path, monkeypatch):
    monkeypatch.setattr(chunk, "CHUNK_JOBS", 20)
    written = simulate_to_folder(tmp_path / "logs", jobs=50, seed=1, format="parquet")
    file = pq.ParquetFile(written.out / "jobs.parquet")

    assert file.num_row_groups == 3
    assert file.metadata.num_rows == 50
    assert pq.ParquetFile(written.truth).num_row_groups == 3


def test_a_stream_has_its_name_only_when_it_is_whole(tmp_path):
    stream = ParquetStream(tmp_path / "a.parquet")
    stream.add(pl.DataFrame({"x": [1, 2], "day": ["a", None]}))
    assert not (tmp_path / "a.parquet").exists()
    stream.add(pl.DataFrame({"x": [3], "day": ["b"]}))
    stream.close()

    assert pl.read_parquet(tmp_path / "a.parquet")["x"].to_list() == [1, 2, 3]
    assert len(list(tmp_path.iterdir())) == 1


def test_an_abandoned_stream_leaves_nothing(tmp_path):
    stream = ParquetStream(tmp_path / "a.parquet")
    stream.add(pl.DataFrame({"x": [1]}))
    stream.abandon()

    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("form", ["csv", "parquet", "xlsx"])
def test_what_belongs_together_appears_together_or_not_at_all(tmp_path, form):
    writers = {"out": FolderWriter(tmp_path / "logs", form), "truth": ParquetStream(tmp_path / "t.parquet")}

    def write():
        with WrittenTogether(**writers) as files:
            files["truth"].add(pl.DataFrame({"x": [1]}))
            files["out"].add({"jobs": pl.DataFrame({"job_id": ["a"]})})
            raise OSError("no room")

    with pytest.raises(OSError, match="no room"):
        write()
    assert list(tmp_path.iterdir()) == []


def test_a_table_without_rows_is_a_file_with_its_columns(tmp_path):
    written = simulate_to_folder(tmp_path / "logs", jobs=1, seed=1, format="parquet")
    callbacks = pl.read_parquet(written.out / "callbacks.parquet")

    assert written.rows["callbacks"] == callbacks.height
    assert "called_back_on" in callbacks.columns


@pytest.mark.parametrize("contrasts", [CONTRASTS[:2], pytest.param(CONTRASTS, marks=pytest.mark.study)], ids=len)
def test_effects_are_written_beside_the_folder(tmp_path, monkeypatch, contrasts):
    """Two contrasts find rows lost or doubled; that each of them all can be worked out is for the study."""
    monkeypatch.setattr(simulate, "CONTRASTS", contrasts)
    monkeypatch.setattr(simulate, "risks", partial(risks, contrasts=contrasts))
    steps = []
    written = simulate_to_folder(
        tmp_path / "logs", jobs=12, seed=1, effects=True, progress=lambda done, total: steps.append((done, total))
    )
    chances, effects = pl.read_parquet(written.risks), pl.read_parquet(written.effects)

    assert written.risks.parent == written.effects.parent == tmp_path
    assert chances["contrast"].n_unique() == len(contrasts)
    assert chances.height == 12 * len(contrasts)
    assert effects.height == 3 * len(contrasts)
    assert steps[-1] == (12, 12)
    assert steps == sorted(steps)
