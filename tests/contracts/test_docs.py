"""The documents say what the code does: commands, paths, generated documents, settings, pages."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
import typer.main

from dashboard.cli.main import app
from pipeline.contract import JOB_LOG
from pipeline.contract.firm import SETTINGS, Firm
from pipeline.contract.glossary import documents
from pipeline.contract.reference_tables import reference_rows

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
LONGEST_FOR_CONTRIBUTORS = 12 * 1024
"""Bytes of DEVELOPERS.md: readable in ten minutes."""
DOCUMENTS = sorted(
    str(path.relative_to(ROOT))
    for folder in (".", "pipeline", "models", "synthetic_data", "dashboard", "tests")
    for path in (ROOT / folder).glob("*.md" if folder == "." else "**/*.md")
)
CI = (ROOT / ".ci" / "run").read_text(encoding="utf-8")

INSTALL = (
    "python3 -m venv .venv"
    " && .venv/bin/pip install --require-hashes -r {lock}"
    " && .venv/bin/pip install --no-deps --no-build-isolation -e ."
    " && {last}"
)
FIRST = INSTALL.format(lock="requirements.lock", last=".venv/bin/sludgebook demo")
SECOND = INSTALL.format(lock="requirements-test.lock", last=".venv/bin/pytest -n auto --dist loadfile")
BLOCK = r"^```bash\n(.*?)^```"
PATH = r"(?<![\w/.])(?:pipeline|models|synthetic_data|dashboard|tests|\.ci)/[\w./-]+"


def text_of(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def words(block: str) -> str:
    """A shell block as one line of words: continuation lines joined, blanks made single."""
    return shlex.join(shlex.split(block.replace("\\\n", " "), comments=True))


def shell_blocks(text: str) -> list[str]:
    return [words(block) for block in re.findall(BLOCK, text, re.MULTILINE | re.DOTALL)]


def command_names() -> set[str]:
    return set(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


def mentioned(text: str) -> set[str]:
    """What follows the word `sludgebook` in code; after `from` it is the package that a notebook imports."""
    lines = re.findall(r"^ {0,4}\S*sludgebook .*$", text, re.MULTILINE)
    return set(re.findall(r"(?<!from )\bsludgebook ([a-z]+)", "\n".join([*re.findall(r"`([^`\n]+)`", text), *lines])))


def test_the_first_two_blocks_of_the_readme_are_the_two_commands() -> None:
    assert shell_blocks(README)[:2] == [words(FIRST), words(SECOND)]


def test_the_continuous_run_uses_the_second_command_word_for_word() -> None:
    block = re.findall(BLOCK, README, re.MULTILINE | re.DOTALL)[1]

    assert f"\n{block}\n" in CI
    assert CI.startswith("#!/usr/bin/env bash\n")
    assert "\nset -euo pipefail\n" in CI


def test_the_continuous_run_fetches_the_browser_first_and_can_be_executed() -> None:
    before = CI[: CI.index("python3 -m venv")]

    assert before.index("apt-get update") < before.index("apt-get install")
    assert " chromium\n" in before
    assert (ROOT / ".ci" / "run").stat().st_mode & 0o111


def test_every_command_is_in_the_readme_and_every_mention_is_a_command() -> None:
    assert command_names() - mentioned(README) == set()
    assert {(name, word) for name in DOCUMENTS for word in mentioned(text_of(name)) - command_names()} == set()


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_path_and_link_in_a_document_leads_somewhere(name: str) -> None:
    """Old names in the change log's tables of renames lead nowhere by their nature."""
    text = re.sub(r"^```.*?^```|^### Renamed.*?(?=^## |\Z)", "", text_of(name), flags=re.MULTILINE | re.DOTALL)
    links = [link.split("#")[0] for link in re.findall(r"\]\(([^)\s]+)\)", text) if "://" not in link]
    paths = [path for code in re.findall(r"`([^`\n]+)`", text) for path in re.findall(PATH, code)]
    modules = re.findall(r"python -m ([a-z_.]+)", text)
    here = (ROOT / name).parent

    assert [link for link in links if link and not (here / link).exists()] == []
    assert [path for path in paths if not (ROOT / path).exists()] == []
    assert [each for each in modules if not (ROOT / (each.replace(".", "/") + ".py")).exists()] == []


def test_the_generated_documents_are_there() -> None:
    assert set(documents()) == {"DATA_DICTIONARY.md", "FIRM_SETTINGS.md"}
    assert [name for name in documents() if not (ROOT / "pipeline" / name).is_file()] == []


@pytest.mark.parametrize("name", documents())
def test_the_generated_documents_equal_what_the_code_says_now(name: str) -> None:
    """If this fails: `.venv/bin/python -m pipeline.contract.glossary`."""
    assert text_of(f"pipeline/{name}") == documents()[name]


def test_every_setting_of_the_firm_is_in_the_documents() -> None:
    text = text_of("pipeline/FIRM_SETTINGS.md")

    assert [setting.name for setting in SETTINGS if f"`{setting.name}`" not in text] == []


def test_the_document_for_contributors_is_read_in_ten_minutes() -> None:
    assert (ROOT / "DEVELOPERS.md").stat().st_size <= LONGEST_FOR_CONTRIBUTORS


def test_methods_decisions_and_changes_are_found_from_the_document_for_contributors() -> None:
    wanted = [name for name in DOCUMENTS if name.endswith(("METHODS.md", "DECISIONS.md", "CHANGELOG.md"))]

    assert len(wanted) >= 10
    assert [name for name in wanted if f"]({name})" not in text_of("DEVELOPERS.md")] == []


def test_required_columns_are_named_in_the_readme() -> None:
    required = {column.name for table in JOB_LOG.values() for column in table.columns if column.required}

    assert {name for name in required if f"`{name}`" not in README} == set()
    assert {table for table in JOB_LOG if f"`{table}`" not in README} == set()


def test_label_doses_of_a_new_firm_are_those_of_the_reference_table() -> None:
    doses = {row["product"]: float(row["dose_l_per_100_l"]) for row in reference_rows("label_dose")}

    assert doses == {"cleaner": Firm().cleaner_dose_l_per_100_l, "inhibitor": Firm().inhibitor_dose_l_per_100_l}


def test_every_page_is_in_the_router_and_in_the_readme() -> None:
    router = (ROOT / "dashboard" / "app.py").read_text(encoding="utf-8")
    pages = {path.name for path in (ROOT / "dashboard" / "app_pages").glob("*.py")} - {"__init__.py"}
    titles = re.findall(r"title=\"([^\"]+)\"", router)

    assert pages == set(re.findall(r"app_pages/(\w+\.py)", router))
    assert len(titles) >= len(pages)
    assert [title for title in titles if title not in README] == []
