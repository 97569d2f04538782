"""What many look at is made once, for the very results it shows, and no longer held than there is room."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import plotly.graph_objects as go
import pytest

from dashboard import kept as keeping
from dashboard.kept import Same, kept, made
from dashboard.theme import DARK, LIGHT, Look


@pytest.fixture(autouse=True)
def _nothing_kept() -> Iterator[None]:
    keeping.forget()
    yield
    keeping.forget()


class Result:
    """Equal to every other: only which one it is tells them apart."""

    def __eq__(self, other: object) -> bool:
        return True

    def __hash__(self) -> int:
        return 1


def test_the_same_result_in_the_same_look_is_drawn_once_and_any_other_anew() -> None:
    asked: list[str] = []

    def figure(result: Result, look: Look, share: float) -> go.Figure:
        asked.append(look.name)
        return go.Figure(layout={"title": {"text": f"{look.name} {share}"}})

    one, other = Result(), Result()
    first = made(figure, one, LIGHT, 0.1)
    assert made(figure, one, LIGHT, 0.1) is first
    assert asked == ["light"]
    for result, look, share in ((other, LIGHT, 0.1), (one, DARK, 0.1), (one, LIGHT, 0.2)):
        assert made(figure, result, look, share) is not first
    assert asked == ["light", "light", "dark", "light"]


def _new(_: Result) -> object:
    return object()


def test_a_result_that_is_gone_lends_its_place_to_no_other() -> None:
    found = {made(lambda result: object(), Result()) for _ in range(50)}

    assert len(found) == 50


def test_two_builders_do_not_share_what_they_made() -> None:
    result = Result()

    assert [made(each, result) for each in (type, id)] == [Result, id(result)]


def test_twenty_who_ask_at_once_wait_for_one_to_make_it() -> None:
    asked, found = [], []

    def make() -> int:
        asked.append(1)
        time.sleep(0.1)
        return 7

    threads = [threading.Thread(target=lambda: found.append(kept(("k",), make))) for _ in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert (asked, found) == ([1], [7] * 20)


def test_what_could_not_be_made_is_tried_again() -> None:
    def refuse() -> int:
        raise ValueError("too few")

    for _ in range(2):
        with pytest.raises(ValueError, match="too few"):
            kept(("k",), refuse)
    assert kept(("k",), lambda: 3) == 3


def test_the_least_used_is_forgotten(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeping, "MOST", 3)
    for name in ("a", "b", "c", "a", "d"):
        kept((name,), lambda: 1)

    assert [kept((name,), lambda: 2) for name in ("a", "c", "d", "b")] == [1, 1, 1, 2]


def test_a_figure_that_is_kept_is_shown_as_it_was_drawn() -> None:
    figure = go.Figure().add_scatter(x=[1, 2], y=[3.0, 4.0])
    plain = figure.to_dict()

    found = kept(("f",), lambda: figure)

    assert found.to_dict() == plain
    assert found.to_dict() is found.to_dict()
    assert Same(figure) == Same(figure)
