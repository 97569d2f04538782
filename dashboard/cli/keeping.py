"""What the commands that keep a book safe do: rebuild, backup, restore."""

from __future__ import annotations

from pathlib import Path

from dashboard.cli import printing as text
from pipeline.contract.plain_names import as_typed
from pipeline.store.book import Book


def rebuild(path: Path, as_json: bool | None) -> None:
    """Check every received file again, build the whole book, publish it."""
    from pipeline.intake.make_again import make_again

    with text.progress("Making the book again") as show:
        build = make_again(Book(path), show)
    if text.wants_json(as_json):
        text.json_out({"build": build.stem})
    else:
        text.say("Every received file was checked again, and the whole book was built again.")


def back_up(path: Path, out: Path, as_json: bool | None) -> int:
    """Write a backup; the exit status: 1 when something in the book is lost already."""
    from pipeline.backup.back_up import back_up as write_backup

    report = write_backup(Book(path), out)
    if text.wants_json(as_json):
        text.json_out(report.as_json())
    else:
        for finding in report.findings:
            text.say(finding.in_full)
        text.say(f"Wrote {out} and read it again: {report.files:,} files, {report.size_bytes:,} bytes unpacked.")
    return 1 if report.findings else 0


def restore(backup: Path, path: Path, as_json: bool | None) -> None:
    """Bring a book back from its backup into a new folder."""
    from pipeline.backup.restore import restore as restore_book

    done = restore_book(backup, path)
    if text.wants_json(as_json):
        text.json_out(done.as_json())
    else:
        text.say(f"Restored {done.files:,} files as {path}.")
        text.say(f"`sludgebook verify --book {as_typed(path)}` derives it again and compares.")
