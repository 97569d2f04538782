"""The users' own machines run Windows and macOS: no call that only Linux has, no name or file that they refuse.

Read from the source, because the tests run on one system only: what is found here would fail on another.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.contracts.parsed_source import nodes_of

ROOT = Path(__file__).parents[2]
PACKAGES = ("pipeline", "models", "synthetic_data", "dashboard")

ONLY_ON_UNIX = {"fcntl", "resource", "pwd", "grp", "termios", "pty", "tty", "posix", "syslog", "curses", "readline"}
"""Modules that Windows lacks (the availability notes of the library reference)."""

_UNIX_CALLS = {
    "os": (
        "fork forkpty getuid geteuid getgid getegid getgroups setuid seteuid setgid setegid setgroups setsid getsid "
        "getpgid getpgrp setpgid killpg chown lchown fchown fchmod mkfifo mknod nice getpriority setpriority statvfs "
        "fstatvfs sysconf confstr uname getloadavg pread pwrite preadv pwritev posix_fadvise posix_fallocate sendfile "
        "sched_getaffinity sched_setaffinity wait waitid wait3 wait4 WNOHANG O_NONBLOCK O_DIRECTORY O_NOFOLLOW "
        "O_CLOEXEC O_SYNC openpty ttyname ctermid chroot fchdir memfd_create copy_file_range splice getxattr setxattr"
    ),
    "signal": (
        "SIGKILL SIGALRM SIGHUP SIGUSR1 SIGUSR2 SIGCHLD SIGPIPE SIGQUIT SIGSTOP SIGCONT alarm setitimer pause "
        "pthread_kill pthread_sigmask sigwait siginterrupt"
    ),
    "socket": "AF_UNIX SO_REUSEPORT socketpair",
    "select": "poll epoll kqueue",
    "time": "tzset",
}
UNIX_CALLS = {(module, name) for module, names in _UNIX_CALLS.items() for name in names.split()}

SIGNALS_TO_OTHERS = {("os", "kill")}
"""There on Windows, but ends the other process whatever the number."""

RENAMES_THAT_ARE_NONE = {"pipeline/privacy/private_columns.py"}
"""Replaces values of a column."""

RENAMES_FILES = "pipeline/contract/whole_files.py"
"""The one place that renames: it knows that Windows does not replace what is being read."""


def files() -> list[Path]:
    return sorted(file for package in PACKAGES for file in (ROOT / package).rglob("*.py"))


def place(path: Path, node: ast.AST, what: str) -> str:
    return f"{path.relative_to(ROOT).as_posix()}:{getattr(node, 'lineno', 0)} {what}"


def guarded_lines(path: Path) -> set[int]:
    """Lines within a `try` that goes on without the module."""
    return {
        line
        for node in nodes_of(path)
        if isinstance(node, ast.Try)
        and any(isinstance(h.type, ast.Name) and h.type.id == "ImportError" for h in node.handlers)
        for line in range(node.lineno, (node.end_lineno or node.lineno) + 1)
    }


def foreign_modules(path: Path) -> Iterator[str]:
    guarded = guarded_lines(path)
    for node in nodes_of(path):
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        for name in names:
            if name.partition(".")[0] in ONLY_ON_UNIX and getattr(node, "lineno", 0) not in guarded:
                yield place(path, node, name)


def foreign_calls(path: Path) -> Iterator[str]:
    for node in nodes_of(path):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            if (node.value.id, node.attr) in UNIX_CALLS | SIGNALS_TO_OTHERS:
                yield place(path, node, f"{node.value.id}.{node.attr}")
        elif isinstance(node, ast.ImportFrom):
            for alias in node.names:
                if (node.module, alias.name) in UNIX_CALLS | SIGNALS_TO_OTHERS:
                    yield place(path, node, f"{node.module}.{alias.name}")


def foreign_texts(path: Path) -> Iterator[str]:
    """Places of Linux, and signs of dates that Windows does not know."""
    for node in nodes_of(path):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            if re.match(r"/(tmp|dev|proc|etc|var|usr|sys|home|run)(/|$)", node.value):
                yield place(path, node, node.value)
            if re.search(r"%-[a-zA-Z]", node.value):
                yield place(path, node, node.value)


def is_text(call: ast.Call, name: str) -> bool:
    """Whether a call opens a file as text."""
    if name in ("read_text", "write_text"):
        return True
    mode_at = 1 if isinstance(call.func, ast.Name) else 0
    modes = [call.args[mode_at]] if len(call.args) > mode_at else [k.value for k in call.keywords if k.arg == "mode"]
    mode = modes[0].value if modes and isinstance(modes[0], ast.Constant) else "r"
    return isinstance(mode, str) and re.fullmatch(r"[rwax+t]+", mode) is not None


def texts_in_the_machines_own_letters(path: Path) -> Iterator[str]:
    """Text files opened without saying UTF-8: on Windows they would be read in the letters of that machine."""
    for node in nodes_of(path):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        owner = node.func.value if isinstance(node.func, ast.Attribute) else None
        is_other = isinstance(owner, ast.Name) and owner.id in ("os", "archive", "Image", "webbrowser", "zipfile")
        if name in ("open", "read_text", "write_text") and not is_other and is_text(node, name):
            if not any(k.arg == "encoding" for k in node.keywords):
                yield place(path, node, name)


def renames(path: Path) -> Iterator[str]:
    """Files renamed elsewhere than in the one place; `x.replace(y)` of texts takes two, of days keywords."""
    name = path.relative_to(ROOT).as_posix()
    for node in nodes_of(path):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute) or node.keywords:
            continue
        owner = node.func.value
        of_os = (
            isinstance(owner, ast.Name)
            and owner.id in ("os", "shutil")
            and node.func.attr in ("rename", "replace", "move")
        )
        of_path = (
            len(node.args) == 1 and node.func.attr in ("rename", "replace") and not isinstance(node.args[0], ast.Dict)
        )
        is_frames = of_path and isinstance(node.args[0], ast.Call | ast.Constant)
        if (of_os or of_path) and not is_frames and name not in RENAMES_THAT_ARE_NONE | {RENAMES_FILES}:
            yield place(path, node, node.func.attr)


@pytest.mark.parametrize(
    "found_in",
    [foreign_modules, foreign_calls, foreign_texts, texts_in_the_machines_own_letters, renames],
    ids=lambda search: search.__name__,
)
def test_the_packages_hold_nothing_that_only_linux_has(found_in: object) -> None:
    assert callable(found_in)
    assert [found for path in files() for found in found_in(path)] == []


def test_each_search_finds_what_it_is_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "planted.py"
    path.write_text(
        "import fcntl, os\nfrom signal import SIGKILL\nos.fork()\nx = '/dev/null'\ny = '%-d'\n"
        "open('a')\npath.read_text()\nopen('a', 'wb')\npart.replace(path)\nos.rename(a, b)\n'a'.replace('b', 'c')\n"
        "try:\n    import resource\nexcept ImportError:\n    pass\n",
        encoding="utf-8",
    )
    monkeypatch.setattr("tests.contracts.test_every_system.ROOT", tmp_path)
    searches = (foreign_modules, foreign_calls, foreign_texts, texts_in_the_machines_own_letters, renames)
    found = [[each.split(" ", 1)[1] for each in search(path)] for search in searches]

    assert [sorted(each) for each in found] == [
        ["fcntl"],
        ["os.fork", "signal.SIGKILL"],
        ["%-d", "/dev/null"],
        ["open", "read_text"],
        ["rename", "replace"],
    ]


def test_the_readme_gives_each_command_for_powershell_too_and_says_that_no_test_runs_it() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = {
        shell: re.findall(rf"^```{shell}\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
        for shell in ("bash", "powershell")
    }
    locks = {shell: [re.findall(r"-r (\S+)", block) for block in found[:2]] for shell, found in blocks.items()}
    ends = {shell: [block.split()[-1] for block in found[:2]] for shell, found in blocks.items()}

    assert locks["powershell"] == locks["bash"] == [["requirements.lock"], ["requirements-test.lock"]]
    assert ends["powershell"] == ends["bash"]
    assert "not run by the tests" in text.split("```powershell")[0].splitlines()[-2]


NAMES = ("CON", "con", "NUL", "lpt1", "a b", "AB", "Ab", "aB", "own/A", "own/a", "É", "é", "a ", "a")


def test_journals_of_jobs_have_names_that_differ_on_every_system(tmp_path: Path) -> None:
    from pipeline.store.book import Book
    from pipeline.store.journal import append, journal_path, journals, read_journal, shown_name

    book = Book(tmp_path / "book")
    for job in NAMES:
        append(book, job, {"job": job})
    stems = [path.stem for path in journals(book)]

    assert len({stem.casefold() for stem in stems}) == len(stems) == len(NAMES)
    assert not {stem.casefold() for stem in stems} & {"con", "nul", "lpt1"}
    assert not [stem for stem in stems if stem.endswith((" ", "."))]
    assert {shown_name(path) for path in journals(book)} == set(NAMES)
    assert {job: [entry.values["job"] for entry in read_journal(book, job).entries] for job in NAMES} == {
        job: [job] for job in NAMES
    }
    assert journal_path(book, "a") == book.path / "on_site" / "a.jsonl"


def test_a_journal_that_an_earlier_version_named_otherwise_is_found(tmp_path: Path) -> None:
    from pipeline.store.book import Book
    from pipeline.store.journal import journal_path

    folder = tmp_path / "book" / "on_site"
    folder.mkdir(parents=True)
    for name in ("CON", "AB", "Ab"):
        (folder / f"{name}.jsonl").write_text("", encoding="utf-8")

    assert {job: journal_path(Book(tmp_path / "book"), job).stem for job in ("CON", "AB", "Ab")} == {
        "CON": "CON",
        "AB": "AB",
        "Ab": "Ab",
    }
    assert journal_path(Book(tmp_path / "book"), "aB").stem == "%61%42"


def test_a_file_that_is_being_read_is_waited_for_where_the_system_does_not_replace_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pipeline.contract import whole_files

    refusals = iter([PermissionError(13, "in use"), PermissionError(13, "in use"), None])
    replace = Path.replace

    def held(path: Path, target: Path) -> Path:
        if (refusal := next(refusals)) is not None:
            raise refusal
        return replace(path, target)

    monkeypatch.setattr(whole_files, "_IS_WINDOWS", True)
    monkeypatch.setattr(Path, "replace", held)
    whole_files.write_whole(tmp_path / "current", b"new")
    assert (tmp_path / "current").read_bytes() == b"new"
