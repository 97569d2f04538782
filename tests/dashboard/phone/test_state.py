"""What a phone is shown: the open jobs, a job as its journal and its watch tell it, and the files of the page."""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable
from datetime import datetime

import pytest

from dashboard import data
from dashboard.phone.files import FOLDER, page_files
from dashboard.services.on_site import as_of
from pipeline.on_site.open_job import SiteJob
from pipeline.store.book import Book
from tests.dashboard.phone.conftest import JOBS, ask, entry, send

MILL, QUAY = JOBS
MOST_COMPRESSED_BYTES = 150_000


def weigh(number: int, ago_min: float, grams: float, emitter: int | None = None) -> dict[str, object]:
    of = {"mass_g": grams, "trap": "magnet", "weighed": "dry", "focus_emitter_no": emitter}
    return entry(f"w{number}", ago_min=ago_min, **of)


def test_open_jobs_are_listed_with_where_the_flow_is(site: Book) -> None:
    send(entry("f", kind="focus", focus_emitter_no=1), entry("g", kind="focus", job=QUAY, focus_emitter_no=2))
    listed = {job["name"]: job for job in ask("/phone/jobs").json["jobs"]}

    assert {name: job["flow_on"] for name, job in listed.items()} == {MILL: "Kitchen (1)", QUAY: "radiator 2"}
    assert listed[MILL]["emitters"] == 3
    assert listed[MILL]["last_weighed_at"] is None


def test_the_curve_and_the_paces_are_those_of_a_sum_by_hand(site: Book) -> None:
    """Dry: 300 g in the first 20 min of the hour, 100 g in the next 20, 40 g in the 10 after that."""
    send(weigh(1, 40, 300), weigh(2, 20, 100), weigh(3, 10, 40))
    state = ask(f"/phone/job/{MILL}").json

    assert state["curve_minutes"] == pytest.approx([20, 40, 50], abs=0.1)
    assert state["curve_kg"] == pytest.approx([0.3, 0.4, 0.44])
    assert state["house_pace_g_min"] == pytest.approx(4.0, rel=0.02)  # 40 g / 10 min; times are whole seconds
    assert state["minutes_since_weighing"] == pytest.approx(10, abs=1.1)  # as of the whole minute
    assert (state["last_mass_g"], state["is_finished"]) == (40, False)


def test_each_radiator_has_its_own_pace(site: Book) -> None:
    send(
        entry("f", kind="focus", ago_min=50, focus_emitter_no=1),
        weigh(1, 40, 200, 1),
        entry("g", kind="focus", ago_min=40, focus_emitter_no=2),
        weigh(2, 20, 100, 2),
    )
    rows = ask(f"/phone/job/{MILL}").json["emitters"]

    assert [(row["emitter_no"], row["room"]) for row in rows] == [(1, "Kitchen"), (2, ""), (3, "")]
    assert rows[1]["last_pace_g_min"] == pytest.approx(5.0, rel=0.02)  # 100 g / 20 min
    assert rows[2]["last_pace_g_min"] is None


def test_the_forecast_is_the_watch_s_own_and_has_its_time(site: Book, job_of: Callable[[str], SiteJob]) -> None:
    send(weigh(1, 50, 300), weigh(2, 40, 150), weigh(3, 30, 80), weigh(4, 20, 40))
    state = ask(f"/phone/job/{MILL}").json
    job = job_of(MILL)
    at = as_of(job, datetime.fromtimestamp(state["at"] / 1000))
    view = data.site_view(str(site.path), MILL, job.lines, at)
    watch = data.watch(view.job, at)

    assert state["forecast"]["answer"] == watch.answer
    assert state["forecast"]["at"] == round(watch.at.timestamp() * 1000)
    assert state["forecast"]["at"] <= state["server_ms"] + 1000  # as of the second after the newest entry
    assert set(state["warnings"]) == {each.sentence for each in (*watch.findings, *view.findings)}


def test_before_the_first_weighing_there_is_no_forecast(site: Book) -> None:
    state = ask(f"/phone/job/{MILL}").json

    assert (state["forecast"], state["curve_kg"], state["minutes_since_weighing"]) == (None, [], None)


def test_a_taken_back_entry_stays_in_the_list_as_such(site: Book) -> None:
    send(entry("a"), entry("b", mass_g=75, trap="magnet"))
    send(entry("u", kind="undo", undoes=entry("b")["id"]))
    newest, older, start = ask(f"/phone/job/{MILL}").json["entries"]

    assert (newest["words"], newest["is_undone"], newest["may_be_taken_back"]) == (
        "75 g wet, magnet, whole system",
        True,
        False,
    )
    assert (older["is_undone"], older["may_be_taken_back"]) == (False, True)
    assert (start["kind"], start["may_be_taken_back"]) == ("start", False)


def test_a_job_that_is_not_there_is_told_and_one_with_a_slash_is_found(site: Book) -> None:
    missing = ask("/phone/job/Nowhere")

    assert (missing.status, missing.json["sentence"]) == (404, "There is no job called Nowhere on site.")
    assert ask(f"/phone/job/{QUAY}").json["name"] == QUAY


def test_without_a_book_the_phone_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SLUDGEBOOK_BOOK", raising=False)
    got = ask("/phone/jobs")

    assert got.status == 503
    assert "No book is open" in got.json["sentence"]


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("", "text/html"),
        *(("app.js", "text/javascript"), ("worker.js", "text/javascript"), ("mark.svg", "image/svg+xml")),
        *(("page.css", "text/css"), ("look.css", "text/css"), ("phone.webmanifest", "application/manifest+json")),
    ],
)
def test_files_are_given_out_with_their_types_and_again_only_if_changed(name: str, kind: str) -> None:
    plain, packed = ask(f"/phone/{name}"), ask(f"/phone/{name}", accept_encoding="gzip")
    again = ask(f"/phone/{name}", if_none_match=plain.headers["etag"])

    assert (plain.status, plain.headers["content-type"].partition(";")[0]) == (200, kind)
    assert gzip.decompress(packed.body) == plain.body
    assert (again.status, again.body) == (304, b"")
    assert "content-security-policy" in plain.headers


@pytest.mark.parametrize("name", ["none.js", "__init__.py", "..%2froutes.py", "../routes.py", ".."])
def test_nothing_else_is_given_out(name: str) -> None:
    assert ask(f"/phone/{name}").status == 404


def test_the_page_names_no_other_host_and_is_small() -> None:
    found = {name: file.plain.decode() for name, file in page_files().items()}
    hosts = {
        each for text in found.values() for each in re.findall(r"https?://[^\"'\s)]+|//[a-z0-9.-]+\.[a-z]{2,}", text)
    }

    assert {path.name for path in FOLDER.iterdir()} <= set(found)
    assert hosts <= {"http://www.w3.org/2000/svg"}  # the name of SVG's namespace; nothing is fetched from it
    assert sum(len(file.compressed) for file in page_files().values()) < MOST_COMPRESSED_BYTES


def test_the_service_worker_keeps_every_file_of_one_version() -> None:
    worker = page_files()["worker.js"].plain.decode()
    kept = set(re.findall(r'"([^"]+)"', worker.partition("const FILES = ")[2].partition(";")[0]))

    assert kept == {"./", *(set(page_files()) - {"index.html", "worker.js"})}
    assert re.search(r'"sludgebook-phone-" \+ "[0-9a-f]{16}"', worker)
