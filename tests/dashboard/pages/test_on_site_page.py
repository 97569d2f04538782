"""Today's job on the page "Watch the catch": begun, entered, taken back, finished, in the book."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

import pytest

from dashboard.app_parts.on_site import saving
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.finish import hand_in
from pipeline.on_site.open_job import read_site_job
from pipeline.quotes.kept_quotes import keep_quote, kept_quotes
from pipeline.store.book import Book, read_table
from pipeline.store.journal import read_journal

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]
PAGE = "watch_the_catch"


@pytest.fixture
def running(tmp_path: Any) -> Book:
    """An empty book with a job begun two hours ago, five weighings of it."""
    book = Book(tmp_path / "book")
    began = datetime.now().replace(microsecond=0) - timedelta(hours=2)
    facts = {
        "job": {"system_type": "sealed"},
        "emitters": [{"emitter_no": n} for n in (1, 2, 3)],
        "flush_started_at": began,
    }
    record(book, "A1", "start", facts, Sender("s"), now=began)
    for number, grams in enumerate((800, 500, 300, 200, 120), start=1):
        at = began + timedelta(minutes=20 * number)
        record(book, "A1", "catch", {"mass_g": grams, "trap": "magnet"}, Sender(f"c{number}"), now=at)
    return book


def kinds(book: Book) -> list[object]:
    return [entry.values["kind"] for entry in read_journal(book, "A1").entries]


def press(app: AppTest, key: str) -> AppTest:
    return app.button(key=key).click().run()


def test_an_open_job_comes_first_with_its_answer(open_page: Open, running: Book, words: Words) -> None:
    app = open_page(PAGE, running.path)

    assert not app.exception
    # 1920 g wet at the default wet / dry ratio of 2.0 are 0.96 kg dry
    assert (app.metric[0].label, app.metric[0].value) == ("Caught, dry", "0.96 kg")
    assert "A1" in words(app)


def test_a_catch_is_said_to_be_saved_and_is_in_the_journal(open_page: Open, running: Book) -> None:
    app = press(open_page(PAGE, running.path), "site_open_catch")
    for step in (100, 50, 10):
        press(app, f"site_plus_{step}")
    press(app, "site_save_catch")

    assert not app.exception
    assert "160 g wet, magnet, whole system" in app.success[0].value
    assert read_site_job(running, "A1").all_of("catch")[-1].of["mass_g"] == 160.0


def test_a_catch_without_grams_is_refused_in_a_sentence(open_page: Open, running: Book) -> None:
    app = press(press(open_page(PAGE, running.path), "site_open_catch"), "site_save_catch")

    assert [error.value for error in app.error] == ["Not saved: a catch needs its grams."]
    assert len(kinds(running)) == 6


def test_the_flow_moves_and_a_reading_belongs_to_where_it_is(open_page: Open, running: Book) -> None:
    app = press(press(open_page(PAGE, running.path), "site_open_focus"), "site_focus_2")
    app.session_state["site_saved_at"] = None  # the next tap is another one
    press(app, "site_open_reading").number_input(key="site_flow_l_min").set_value(21.5)
    press(app, "site_save_reading")

    job = read_site_job(running, "A1")
    assert job.focus == 2
    assert dict(job.all_of("reading")[0].of) == {"flow_l_min": 21.5, "focus_emitter_no": 2}


def test_undo_takes_back_the_last_entry(open_page: Open, running: Book) -> None:
    app = press(open_page(PAGE, running.path), "site_undo")

    assert not app.exception
    assert app.metric[0].value == "0.90 kg"  # 1800 g wet
    assert kinds(running)[-1] == "undo"
    assert "taken back: 120 g wet, magnet, whole system" in app.success[0].value


def test_a_second_tap_on_undo_takes_back_nothing_more(
    open_page: Open, running: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(saving, "DOUBLE_TAP_S", 60.0)  # two runs of the page take longer than two taps of a hand
    app = press(open_page(PAGE, running.path), "site_undo")
    press(app, "site_undo")

    assert kinds(running).count("undo") == 1


def test_another_entry_right_after_one_is_a_quick_hand_and_is_saved(
    open_page: Open, running: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(saving, "DOUBLE_TAP_S", 60.0)
    app = open_page(PAGE, running.path)
    press(app, "site_add_emitter")
    press(app, "site_undo")
    press(app, "site_undo")

    assert [kind for kind in kinds(running) if kind in ("emitters", "undo")] == ["emitters", "undo"]


def test_finished_it_is_a_job_of_the_book(open_page: Open, running: Book) -> None:
    app = open_page(PAGE, running.path)
    app.selectbox(key="site_end_filter_fitted").set_value("on_return")
    app.checkbox(key="site_end_inhibitor_dosed").set_value(True).run()
    press(app, "site_finish_now")

    assert not app.exception
    assert app.success[0].value == "A1 is in the book."
    build = running.current()
    (job,) = read_table(build, "jobs").to_dict("records")
    assert (job["job_id"], job["filter_fitted"], job["inhibitor_dosed"]) == ("A1", "on_return", True)
    assert read_table(build, "ftr_outcome")["magnetite_kg"].tolist() == [pytest.approx(0.96)]


def test_a_meter_that_does_not_compensate_is_put_right_as_the_job_is_finished(open_page: Open, running: Book) -> None:
    app = open_page(PAGE, running.path)
    app.toggle(key="site_plain_meter").set_value(True).run()
    app.number_input(key="site_warmth_mains_conductivity_us_cm").set_value(10.0)
    app.number_input(key="site_end_mains_conductivity_us_cm_None").set_value(286.0).run()
    press(app, "site_finish_now")

    assert not app.exception
    finish = read_site_job(running, "A1").finish
    assert finish is not None
    assert finish.of["mains_conductivity_us_cm"] == 400.0  # 286 / (1 - 0.019 * 15)


def test_a_book_of_one_job_speaks_of_one_job(open_page: Open, running: Book, words: Words) -> None:
    press(open_page(PAGE, running.path), "site_finish_now")
    app = open_page("job_book", running.path)

    assert app.header[0].value.startswith("1 job: it gave 0.96\xa0kg of magnetite in ")
    assert "(other debris was not weighed)" in words(app)
    assert "outermost" not in words(app)


def test_a_job_begins_from_nothing_but_the_kind_of_system(open_page: Open, tmp_path: Any) -> None:
    book = Book(tmp_path / "new")
    app = open_page(PAGE, book.path)
    app.text_input(key="site_name").set_value("B1").run()
    press(app, "site_begin")
    assert "open-vented or sealed" in app.error[0].value

    app.segmented_control(key="site_system").set_value("sealed").run()
    press(app, "site_begin")

    assert not app.exception
    assert len(read_site_job(book, "B1").emitters) == 8


def test_a_job_finished_but_not_loaded_is_offered_to_the_book(open_page: Open, running: Book) -> None:
    record(running, "A1", "finish", {"flush_ended_at": datetime.now()}, Sender("f"))
    app = open_page(PAGE, running.path)
    assert "A1 is finished, but not in the book yet." in [header.value for header in app.header]

    press(app, "site_hand_in")

    assert app.success[0].value == "A1 is in the book."
    assert kinds(running)[-1] == "received"


def logger(app: AppTest, name: str = "unit.csv") -> AppTest:
    """The page with a logger's file chosen whose headings say nothing."""
    begun = datetime.now() - timedelta(minutes=90)
    lines = [f"{begun + timedelta(minutes=m):%Y-%m-%d %H:%M};{20 + m % 2};50" for m in range(30)]
    content = "\n".join(["t;K1;K_2", *lines]).encode()
    app.file_uploader(key="site_file").set_value([(name, content, "text/csv")]).run()
    return press(app, "site_attach")


def test_a_logger_file_is_asked_about_where_it_was_chosen_and_then_attached(open_page: Open, running: Book) -> None:
    app = logger(open_page(PAGE, running.path))
    asked = [app.selectbox(key=f"site_heading_{n}") for n in range(3)]
    assert [each.label for each in asked[1:]] == ["“k1”: 20, 21", "“k_2”: 50"]
    assert [each.value for each in asked] == ["read_at|", "", ""]

    asked[1].set_value("flow_l_min|L/min")
    app.session_state["site_saved_at"] = None
    press(app, "site_attach")

    assert not app.exception
    assert app.success[0].value == "Saved unit.csv: 30 readings"
    assert read_site_job(running, "A1").all_of("files")[0].of["readings"] == 30
    assert "site_heading_0" not in [box.key for box in app.selectbox]


def test_a_logger_file_of_which_no_heading_is_told_is_refused_in_a_sentence(open_page: Open, running: Book) -> None:
    app = press(logger(open_page(PAGE, running.path)), "site_attach")

    assert [error.value for error in app.error] == ["Say which heading is a measurement, such as the flow."]
    assert kinds(running).count("files") == 0


def test_a_job_of_the_book_is_opened_again_and_corrected(open_page: Open, running: Book) -> None:
    app = press(open_page(PAGE, running.path), "site_finish_now")
    app.session_state["site_saved_at"] = None
    press(app, "site_reopen")
    app.session_state["site_saved_at"] = None
    press(press(app, "site_undo"), "site_finish_now")

    assert not app.exception
    assert kinds(running)[-4:] == ["reopen", "undo", "finish", "received"]
    assert read_table(running.current(), "catches")["mass_g"].tolist() == [800.0, 500.0, 300.0, 200.0, 0.0]


@pytest.fixture
def quoted(tmp_path: Any) -> tuple[Book, str]:
    """A book with a quote kept and a finished job that another engineer led."""
    book = Book(tmp_path / "new")
    asked = {"jobs": [{"firm_id": "own", "job_id": "Orchard", "system_type": "sealed", "isolation": "groups"}]}
    answer = {"firm_id": "own", "job_id": "Orchard", "price": {"price": 500.0, "currency": "GBP"}}
    quote = keep_quote(book, answer, asked, model="m", valid_until=date.today() + timedelta(days=30))
    led = {"job": {"system_type": "sealed", "engineer_id": "eng-7"}, "flush_started_at": datetime(2025, 3, 4, 9)}
    record(book, "before", "start", led, Sender("s"), now=datetime(2025, 3, 4, 9))
    record(book, "before", "finish", {"flush_ended_at": datetime(2025, 3, 4, 12)}, Sender("f"))
    hand_in(book, "before")
    return book, quote


def test_begun_from_a_quote_it_has_its_name_price_leader_and_arrival_and_the_quote_is_won(
    open_page: Open, quoted: tuple[Book, str]
) -> None:
    book, quote = quoted
    app = open_page(PAGE, book.path)
    app.segmented_control(key="watch_state").set_value("Today's job").run()
    assert app.text_input(key=f"site_name_{quote}").value == "Orchard"
    app.selectbox(key="site_leads").set_value("eng-7").run()
    app.time_input(key="site_arrived").set_value(time(0, 0)).run()
    press(app, "site_begin")

    assert not app.exception
    facts = dict(read_site_job(book, "Orchard").start.of["job"])  # type: ignore[union-attr]
    assert str(facts.pop("arrived_at")).endswith("T00:00:00")
    assert facts == {"system_type": "sealed", "isolation": "groups", "quoted_price": 500.0, "engineer_id": "eng-7"}
    assert [(kept.status, kept.job) for kept in kept_quotes(book)] == [("won", ("own", "Orchard"))]


def test_a_weighing_from_before_the_flow_is_refused_with_the_offer_to_move_the_start(
    open_page: Open, running: Book
) -> None:
    began = read_site_job(running, "A1").started_at
    assert began is not None
    app = press(open_page(PAGE, running.path), "site_open_catch")
    app.number_input(key="site_grams").set_value(300.0)
    ago = int((datetime.now() - began).total_seconds() // 60) + 15
    app.number_input(key="site_ago").set_value(ago).run()
    press(app, "site_save_catch")
    assert "lies before the start of the flow" in app.error[0].value

    press(app, "site_move_start")

    job = read_site_job(running, "A1")
    assert not app.error
    assert [event.of["mass_g"] for event in job.all_of("catch")][-1] == 300.0
    assert job.started_at is not None
    assert timedelta(minutes=14) < began - job.started_at < timedelta(minutes=17)


def test_emitters_are_named_moved_dropped_and_added_one_tap_each(open_page: Open, running: Book) -> None:
    app = open_page(PAGE, running.path)
    app.selectbox(key="site_walked").set_value(2).run()
    app.text_input(key="site_room_2").set_value("kitchen").run()
    app.number_input(key="site_bottom_before_c_2").set_value(31.0).run()
    press(app, "site_save_room")
    assert not app.exception
    assert dict(read_site_job(running, "A1").emitters[1]) == {
        "emitter_no": 2,
        "room": "kitchen",
        "bottom_before_c": 31.0,
    }

    for key, numbers in (
        ("site_room_earlier", (2, 1, 3)),
        ("site_drop_emitter", (1, 3)),
        ("site_add_emitter", (1, 3, 4)),
    ):
        app.session_state["site_saved_at"] = None  # a while later
        press(app, key)
        assert tuple(row["emitter_no"] for row in read_site_job(running, "A1").emitters) == numbers
    assert kinds(running).count("emitters") == 4
