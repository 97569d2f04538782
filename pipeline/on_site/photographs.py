"""Photographs of a job on site: made small, stripped of place, time and device, stored under their hash.

A phone writes into the file where and when a picture was taken, and by which device. Here the picture is drawn anew
from its points alone, so that nothing of that is left; the name of the file is not kept either. What the journal says
of it is what was chosen on site: what it shows, and which emitter.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.contract.findings import BadInput, BookError
from pipeline.contract.photographs import Photograph
from pipeline.contract.whole_files import sync_folder, write_whole
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.open_job import SiteJob
from pipeline.store.book import Book
from pipeline.store.journal import Entry, journal_path

if TYPE_CHECKING:
    from PIL.Image import Image

LONGEST_SIDE_PX = 1600
QUALITY = 82
LARGEST_MB = 30
MOST_MEGAPIXELS = 80
"""More is no phone's picture: a file of a few bytes can claim any size."""
MOST_OF_A_JOB = 40


def attach_photograph(
    book: Book,
    job: SiteJob,
    content: bytes,
    shows: str,
    sender: Sender,
    *,
    emitter_no: int | None = None,
    now: datetime | None = None,
) -> Entry:
    """Keep a photograph with the job, on disk before this returns; sent again it is the entry that is there.

    `shows` is one of `SHOWN`. BadInput for a file that is no picture, too large, or one too many; BookError when it
    could not be saved.
    """
    if sent := next((event for event in job.events if event.entry_id == sender.entry_id), None):
        return Entry(sent.line, sent.saved_at, {"id": sent.entry_id})
    if len(job.all_of("photograph")) >= MOST_OF_A_JOB:
        raise BadInput(f"{job.name} has {MOST_OF_A_JOB} photographs, which is the most; take one back first.")
    jpeg, width, height = redrawn(content)
    sha256 = hashlib.sha256(jpeg).hexdigest()
    stored = f"{sha256[:32]}.jpg"
    folder = _folder(book, job.name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(folder / stored, jpeg)
        sync_folder(folder.parent)
    except OSError as error:
        raise BookError(f"The photograph could not be saved: {error.strerror or error}.") from error
    facts: dict[str, Any] = {"shows": shows, "emitter_no": emitter_no, "stored": stored, "sha256": sha256}
    return record(book, job.name, "photograph", {**facts, "width_px": width, "height_px": height}, sender, now=now)


def photographs(book: Book, job: SiteJob) -> tuple[Photograph, ...]:
    """The photographs of a job that count and are as they were stored, in the order entered."""
    found = (_read(_folder(book, job.name), event.of) for event in job.all_of("photograph"))
    both = zip(job.all_of("photograph"), found, strict=True)
    return tuple(
        Photograph(str(event.of["shows"]), event.of.get("emitter_no"), event.at, jpeg) for event, jpeg in both if jpeg
    )


def redrawn(content: bytes) -> tuple[bytes, int, int]:
    """A picture as a JPEG of its points alone, upright, its longer side 1600 px at most; width and height [px].

    BadInput where it is no picture that can be read, or too large.
    """
    from PIL import Image, ImageOps

    if len(content) > LARGEST_MB * 1_000_000:
        raise BadInput(f"The photograph has {len(content) / 1e6:.0f} MB; at most {LARGEST_MB} MB are taken.")
    try:
        with Image.open(BytesIO(content)) as opened:
            if opened.width * opened.height > MOST_MEGAPIXELS * 1_000_000:
                raise BadInput(f"The picture has {opened.width} x {opened.height} points, which is too many.")
            upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise BadInput("This is no photograph that can be read; a JPEG, PNG or WebP is.") from error
    return _jpeg(upright)


def _jpeg(picture: Image) -> tuple[bytes, int, int]:
    from PIL import Image

    bare = Image.new("RGB", picture.size)
    bare.paste(picture)  # the points and nothing else that came with the file
    bare.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    out = BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue(), bare.width, bare.height


def _read(folder: Path, of: Mapping[str, Any]) -> bytes:
    """The JPEG of an entry; empty where it is missing or is not what was stored, which verify says."""
    try:
        jpeg = (folder / Path(str(of["stored"])).name).read_bytes()
    except OSError:
        return b""
    return jpeg if hashlib.sha256(jpeg).hexdigest() == of["sha256"] else b""


def _folder(book: Book, job: str) -> Path:
    return journal_path(book, job).with_suffix(".files")
