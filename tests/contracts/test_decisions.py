"""Decisions can be decoded by a stranger, and methods by someone who wants to look them up."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DECISIONS = sorted(ROOT.glob("*/DECISIONS.md")) + sorted(ROOT.glob("*/*/DECISIONS.md"))
METHODS = sorted(ROOT.glob("models/*/METHODS.md"))

PARTS = ("Context", "Choice", "Shown by", "Would reverse it")
SHOWN = r"`[^`]+`|A trial, not kept|Nothing to run"
FOUND = r"doi:10\.\d{4,}/\S+|arXiv:\d{4}\.\d{4,5}|ISBN [\dX-]{10,}|https://\S+|No DOI|from memory"
UNCOMMON = r"\b(nought|till|strew\w*|drawn? towards|told)\b"


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


def entries(path: Path) -> dict[str, str]:
    """Title of each decision -> its text."""
    parts = re.split(r"^### (.+)$", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def test_the_project_and_each_model_have_their_decisions() -> None:
    assert {named(path.parent) for path in DECISIONS} == {
        "pipeline",
        "dashboard",
        "models/quote",
        "models/catch",
        "models/practice",
    }
    assert sum(len(entries(path)) for path in DECISIONS) >= 87


@pytest.mark.parametrize("path", DECISIONS, ids=named)
def test_a_decision_has_context_choice_command_and_what_would_reverse_it(path: Path) -> None:
    bold = r"^- \*\*(.+?)\.\*\*"
    labels = {title: tuple(re.findall(bold, text, re.MULTILINE)) for title, text in entries(path).items()}

    assert {title: found for title, found in labels.items() if found != PARTS} == {}


@pytest.mark.parametrize("path", DECISIONS, ids=named)
def test_a_decision_names_what_shows_it_or_says_that_nothing_does(path: Path) -> None:
    shown = {title: re.search(r"\*\*Shown by\.\*\*(.+?)\n- ", text, re.DOTALL) for title, text in entries(path).items()}

    assert [title for title, found in shown.items() if not found or not re.search(SHOWN, found[1])] == []


@pytest.mark.parametrize("path", METHODS, ids=named)
def test_every_source_of_the_methods_can_be_looked_up(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    sources = re.findall(r"^\d+\. .+$", text.split("## Sources")[1], re.MULTILINE)

    assert sources
    assert [line for line in sources if not re.search(FOUND, line)] == []


@pytest.mark.parametrize("path", METHODS, ids=named)
def test_every_number_in_brackets_is_a_source_and_every_source_is_cited(path: Path) -> None:
    body, sources = path.read_text(encoding="utf-8").split("## Sources")
    cited = {int(n) for group in re.findall(r"\[(\d+(?:, \d+)*)\]", body) for n in group.split(", ")}
    listed = {int(n) for n in re.findall(r"^(\d+)\. ", sources, re.MULTILINE)}

    assert listed == set(range(1, len(listed) + 1))
    assert cited == listed


@pytest.mark.parametrize("path", [*DECISIONS, *METHODS, ROOT / "CHANGELOG.md", ROOT / "README.md"], ids=named)
def test_documents_are_in_plain_english(path: Path) -> None:
    lines = re.sub(r"`[^`]*`", "", path.read_text(encoding="utf-8")).splitlines()  # names of code are not English

    assert [line for line in lines if re.search(UNCOMMON, line)] == []
