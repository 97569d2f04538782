"""What is tracked: no address of a registry, no path of one machine, nothing large, locks whole."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LOCKS = ("requirements.lock", "requirements-test.lock", "requirements-spark.lock")
MEBIBYTE = 1024 * 1024

# One letter of each word stands in a class of its own, so that this file does not match itself.
UNWANTED = {
    "address of a registry": (
        r"(py[p]i|pythonh[o]sted|npmj[s]|registry\.|deb\.deb[i]an)[a-z.]*\.(org|com|io|net)|file:///[o]pt"
    ),
    "path of one machine": r"(^|[^A-Za-z0-9_.])/(w[o]rk|f[a]rm|r[o]ot|h[o]me|U[s]ers|tmp/t[e]am)/",
    "words that do not belong": (
        r"transc[r]ipt|seed docum[e]nt|the vid[e]o|coding ag[e]nt|language mod[e]l|chatb[o]t|CHECK_VAL[U]ES"
        r"|JOB_LOG_FORM[A]T|(THE_J[O]B|MODE[L]S|STY[L]E|MEASUR[E]D|LO[O]K)\.md"
    ),
}


def tracked() -> list[Path]:
    """Files under version control, or every file beside the ignored ones where there is no git."""
    done = subprocess.run(["git", "ls-files", "-z"], capture_output=True, text=True, cwd=ROOT, check=False)
    if done.returncode == 0:
        return [ROOT / name for name in done.stdout.split("\0") if name and (ROOT / name).is_file()]
    return [path for path in ROOT.rglob("*") if path.is_file() and not {".venv", ".git"} & set(path.parts)]


def text_of(path: Path) -> str:
    return path.read_bytes().decode("utf-8", errors="ignore")


def requirements(lock: str) -> dict[str, str]:
    """Name -> the whole entry of a lock file, its hashes included."""
    text = (ROOT / lock).read_text(encoding="utf-8")
    entries = re.split(r"\n(?=[A-Za-z0-9])", text.strip())
    return {re.split(r"[=<>!~ ;\[]", entry, maxsplit=1)[0].lower(): entry for entry in entries}


def named(requirement: str) -> str:
    """`scikit-learn>=1.9` -> `scikit-learn`, spelt as lock files spell it."""
    return re.sub(r"[-_.]+", "-", re.split(r"[<>=!~ ;\[]", requirement, maxsplit=1)[0]).lower()


@pytest.mark.parametrize("what", UNWANTED)
def test_no_tracked_file_holds_what_belongs_elsewhere(what: str) -> None:
    pattern = re.compile(UNWANTED[what], re.IGNORECASE if what.startswith("words") else 0)
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:80]}"
        for path in tracked()
        for number, line in enumerate(text_of(path).splitlines(), start=1)
        if pattern.search(line)
    ]

    assert found == []


def test_no_tracked_file_is_over_one_mebibyte() -> None:
    assert [str(path.relative_to(ROOT)) for path in tracked() if path.stat().st_size > MEBIBYTE] == []


def test_nothing_built_is_tracked() -> None:
    built = {"__pycache__", ".venv", "build", ".mypy_cache", ".ruff_cache", ".pytest_cache", ".hypothesis"}
    names = [path.relative_to(ROOT) for path in tracked()]

    assert [str(name) for name in names if built & set(name.parts) or name.suffix in (".duckdb", ".pyc")] == []


def test_top_level_holds_only_what_the_documents_name() -> None:
    top = {path.relative_to(ROOT).parts[0] for path in tracked()} - {".gitignore", ".gitattributes", ".ci"}

    assert top == {
        "README.md",
        "DEVELOPERS.md",
        "CHANGELOG.md",
        "LICENSE",
        "pyproject.toml",
        *LOCKS,
        "pipeline",
        "models",
        "synthetic_data",
        "dashboard",
        "tests",
    }


@pytest.mark.parametrize("lock", LOCKS)
def test_every_lock_entry_has_one_version_and_hashes_and_no_address(lock: str) -> None:
    entries = requirements(lock)
    pinned = re.compile(r"^[A-Za-z0-9._-]+==[^ ;\\]+( ; [^\\]+)? \\\n    --hash=sha256:[0-9a-f]{64}")

    assert entries
    assert [name for name, entry in entries.items() if not pinned.match(entry)] == []
    assert "://" not in (ROOT / lock).read_text(encoding="utf-8")


def test_every_requirement_of_the_project_is_in_its_lock() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    needed, tests = project["dependencies"], project["optional-dependencies"]["test"]

    assert {named(each) for each in needed} - set(requirements("requirements.lock")) == set()
    assert {named(each) for each in (*needed, *tests)} - set(requirements("requirements-test.lock")) == set()


def test_both_locks_agree() -> None:
    with_tests = requirements("requirements-test.lock")

    assert [name for name, entry in requirements("requirements.lock").items() if with_tests.get(name) != entry] == []


def test_the_licence_is_there_and_named_in_the_project() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")

    assert project["license"] == "MIT"
    assert text.startswith("MIT License")
    assert "WITHOUT WARRANTY OF ANY KIND" in text
