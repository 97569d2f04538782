"""The folder that comes out: same seed same bytes, three formats, nothing overwritten, nothing half done."""

from pathlib import Path

import polars as pl
import pytest

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput
from synthetic_data import chunk
from synthetic_data.simulate import simulate_to_folder
from synthetic_data.streams import PROCESSES, stream


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


FORMS = ("csv", "parquet", "xlsx")


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """30 jobs of seed 6 in each form. Read only."""
    folder = tmp_path_factory.mktemp("written")
    return {form: simulate_to_folder(folder / form / "logs", jobs=30, seed=6, format=form) for form in FORMS}


@pytest.mark.parametrize("form", FORMS)
def test_same_seed_gives_the_same_bytes(tmp_path, form, written):
    one = written[form]
    two = simulate_to_folder(tmp_path / "two", jobs=30, seed=6, format=form)

    assert bytes_of(one.out) == bytes_of(two.out)
    assert one.truth.read_bytes() == two.truth.read_bytes()


def test_another_seed_gives_another_firm(tmp_path, written):
    one = written["csv"]
    two = simulate_to_folder(tmp_path / "two", jobs=30, seed=7)

    assert bytes_of(one.out)["jobs.csv"] != bytes_of(two.out)["jobs.csv"]


def test_csv_parquet_and_xlsx_hold_the_same_rows(written):
    assert written["csv"].rows == written["parquet"].rows == written["xlsx"].rows
    for name in JOB_LOG:
        csv = pl.read_csv(written["csv"].out / f"{name}.csv", infer_schema=False)
        parquet = pl.read_parquet(written["parquet"].out / f"{name}.parquet")
        sheet = pl.read_excel(written["xlsx"].out / "job_log.xlsx", sheet_name=name)
        assert csv.columns == parquet.columns == sheet.columns
        assert csv.height == parquet.height == sheet.height == written["csv"].rows[name]


def test_yes_and_no_are_words_in_csv_and_times_have_minutes(written):
    jobs = pl.read_csv(written["csv"].out / "jobs.csv", infer_schema=False)

    assert set(jobs["flow_reversed"].drop_nulls()) == {"yes", "no"}
    assert jobs["flush_started_at"].str.contains(r"^\d{4}-\d\d-\d\dT\d\d:\d\d$").all()
    assert jobs["visit_date"].str.contains(r"^\d{4}-\d\d-\d\d$").all()


def test_truth_lies_beside_the_folder_and_has_a_row_an_emitter(written):
    csv = written["csv"]

    assert csv.truth == csv.out.parent / "logs-truth.parquet"
    assert pl.read_parquet(csv.truth).height == csv.rows["emitters"]
    assert sorted(path.name for path in csv.out.iterdir()) == sorted(f"{name}.csv" for name in JOB_LOG)


def test_a_folder_that_holds_something_is_refused_and_left_alone(tmp_path):
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "mine.txt").write_text("keep")

    with pytest.raises(BadInput, match="not an empty folder"):
        simulate_to_folder(tmp_path / "logs", jobs=5, seed=1)

    assert [path.name for path in (tmp_path / "logs").iterdir()] == ["mine.txt"]


def test_an_empty_folder_is_used(tmp_path):
    (tmp_path / "logs").mkdir()

    assert simulate_to_folder(tmp_path / "logs", jobs=5, seed=1).rows["jobs"] == 5


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"scenario": "heaven"}, "no scenario 'heaven'; choose one of usual"),
        ({"format": "pdf"}, "no format 'pdf'"),
        ({"jobs": 0}, "between 1 and"),
        ({"jobs": 10_000_000}, "between 1 and"),
    ],
)
def test_what_cannot_be_is_said_in_a_sentence(tmp_path, wrong, sentence):
    with pytest.raises(BadInput, match=sentence):
        simulate_to_folder(tmp_path / "logs", **{"jobs": 5, "seed": 1, **wrong})
    assert list(tmp_path.iterdir()) == []


def test_an_interrupted_run_leaves_nothing_behind(tmp_path):
    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        simulate_to_folder(tmp_path / "logs", jobs=5, seed=1, progress=stop)
    assert list(tmp_path.iterdir()) == []


def test_progress_reaches_the_total_chunk_by_chunk(tmp_path, monkeypatch):
    monkeypatch.setattr(chunk, "CHUNK_JOBS", 20)
    seen = []
    simulate_to_folder(tmp_path / "logs", jobs=50, seed=1, progress=lambda done, total: seen.append((done, total)))

    assert seen == [(20, 50), (40, 50), (50, 50)]


def test_a_new_firm_has_25_jobs_unless_told(tmp_path):
    assert simulate_to_folder(tmp_path / "logs", seed=1, scenario="new_firm").jobs == 25


def test_every_process_and_chunk_has_a_stream_of_its_own():
    first = {stream(1, process, chunk).random() for process in PROCESSES for chunk in range(3)}

    assert len(first) == 3 * len(PROCESSES)


@pytest.mark.parametrize("scenario", ["lazy_loggers", "pool", "faulty_days"])
def test_everything_beside_the_log_is_the_same_again_too(tmp_path, scenario):
    for name in ("one", "two"):
        simulate_to_folder(tmp_path / name / "logs", jobs=15, seed=6, scenario=scenario)
    one, two = (
        {str(path.relative_to(tmp_path / name)): path.read_bytes() for path in sorted((tmp_path / name).rglob("*.*"))}
        for name in ("one", "two")
    )

    assert len(one) >= 7
    assert one == two


def test_more_jobs_leave_houses_of_the_first_chunk_as_they_were(tmp_path, monkeypatch):
    # a world grows chunk by chunk; only dates and engineers follow from the number of jobs
    monkeypatch.setattr(chunk, "CHUNK_JOBS", 10)
    few, many = (
        pl.read_parquet(simulate_to_folder(tmp_path / str(jobs), jobs=jobs, seed=6).truth) for jobs in (10, 30)
    )
    columns = ["job_id", "emitter_no", "loose_before_kg", "consolidated_before_kg", "job_volume_l"]

    assert few.select(columns).equals(many.select(columns).head(few.height))
