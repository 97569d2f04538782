"""No plan, default or text of the project ever suggests that an open vent or its feed be blocked."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.contract import JOB_LOG
from pipeline.contract.firm import SETTINGS
from tests.contracts.test_repository import ROOT, text_of, tracked

STOPS = (
    r"(?:cap(?:s|ped|ping)?|block(?:s|ed|ing)?|plug(?:s|ged|ging)?|blank(?:s|ed|ing)?|bung(?:s|ed)?|seal(?:s|ing)?|"
    r"shut(?:s|ting)?|clos(?:e|es|ed|ing)|stop(?:s|ped)? up|valve[sd]? off|isolat(?:e|es|ed|ing))"
)
VENT = r"(?:open[- ]vents?|\bvents?|cold feeds?|feed and vent|vent and feed)"
SUGGESTS = re.compile(rf"\b{STOPS}\b[^.;:]{{0,60}}\b{VENT}\b|\b{VENT}\b[^.;:]{{0,60}}\b{STOPS}\b", re.IGNORECASE)
FORBIDS = re.compile(r"\b(never|nobody|must not|do not|nothing may|no plan)\b", re.IGNORECASE)
READ = {".py", ".md", ".sql", ".csv", ".toml", ".txt", ".html", ".json"}


def suggestions(text: str) -> list[str]:
    """Sentences that speak of stopping a vent without forbidding it."""
    flat = re.sub(r'["\s]+', " ", text)
    sentences = re.split(r"(?<=[.;])\s", flat)
    return [each.strip()[:200] for each in sentences if SUGGESTS.search(each) and not FORBIDS.search(each)]


def test_no_text_of_the_project_suggests_blocking_a_vent() -> None:
    own = Path(__file__).resolve()
    found = {
        str(path.relative_to(ROOT)): said
        for path in tracked()
        if path.suffix in READ and path.resolve() != own and (said := suggestions(text_of(path)))
    }

    assert found == {}


def test_no_choice_of_the_job_log_and_no_setting_blocks_a_vent() -> None:
    choices = [choice for table in JOB_LOG.values() for column in table.columns for choice in column.choices]
    settings = [f"{item.name} {item.meaning} {item.default}" for item in SETTINGS]

    assert [each for each in (*choices, *settings) if suggestions(each.replace("_", " "))] == []


@pytest.mark.parametrize(
    ("sentence", "is_found"),
    [
        ("Open-vented systems are capped at vent and feed for the flush.", True),
        ("Blank off the open vent first.", True),
        ("Valve off\n    the cold feed before you start.", True),
        ("Never block an open vent.", False),
        ("Vent and feed stay open while water is heated.", False),
    ],
)
def test_the_search_finds_a_suggestion_and_lets_a_prohibition_pass(sentence: str, is_found: bool) -> None:
    assert bool(suggestions(sentence)) is is_found
