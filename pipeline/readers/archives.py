"""ZIP archives, and the workbooks that are ZIP archives inside: opened with care, unpacked in memory only.

Nothing is ever written to a path that an archive names. Sizes are counted while unpacking, because what an
archive says of itself may be false.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

from pipeline.contract.findings import BadInput
from pipeline.readers.limits import MAX_MEMBERS, check_unpacked

Content = Path | bytes
"""A file on disk, or the bytes of a member of an archive."""

_CHUNK = 1 << 20
_LOCAL_HEADER = struct.Struct("<4s22xHH")
_LOCAL_MARK = b"PK\x03\x04"
_DRIVE = re.compile(r"^[A-Za-z]:")
_ENCRYPTED = 0x1


def members(content: Content, name: str) -> tuple[zipfile.ZipInfo, ...]:
    """The files inside an archive that is shown as `name`, folders left out.

    BadInput in one sentence when it is none, is encrypted or damaged, holds too much, or names a path
    outside itself.
    """
    infos = _directory(content, name)
    if len(infos) > MAX_MEMBERS:
        raise BadInput(f"{name} holds {len(infos):,} files; an archive may hold at most {MAX_MEMBERS:,}.")
    if len({info.filename for info in infos}) < len(infos):
        raise BadInput(f"{name} holds two files of the same name; make the archive anew.")
    size = len(content) if isinstance(content, bytes) else content.stat().st_size
    if sum(info.compress_size for info in infos) > size:
        raise BadInput(f"{name} is damaged: its parts are larger than the whole.")
    check_unpacked(name, size, sum(info.file_size for info in infos))
    for info in infos:
        _check_member(info, name)
        check_unpacked(f"{name}/{info.filename}", info.compress_size, info.file_size)
    return infos


def _directory(content: Content, name: str) -> tuple[zipfile.ZipInfo, ...]:
    try:
        with zipfile.ZipFile(_opened(content)) as archive:
            return tuple(info for info in archive.infolist() if not info.is_dir())
    except OSError as error:
        raise BadInput(f"{name} cannot be read: {error.strerror or error}.") from error
    except (zipfile.BadZipFile, ValueError, NotImplementedError, struct.error, UnicodeError) as error:
        raise BadInput(f"{name} is no readable archive: {error}.") from error


def _opened(content: Content) -> io.BytesIO | str:
    return io.BytesIO(content) if isinstance(content, bytes) else str(content)


def _check_member(info: zipfile.ZipInfo, name: str) -> None:
    path = info.orig_filename.replace("\\", "/")
    if path.startswith("/") or _DRIVE.match(path) or ".." in PurePosixPath(path).parts or "\x00" in path:
        raise BadInput(f"{name} names a file outside itself ({info.filename[:80]!r}); it was not opened.")
    if info.flag_bits & _ENCRYPTED:
        raise BadInput(f"{name} is locked with a password; hand in the plain files.")
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise BadInput(f"{name} is packed in a way that cannot be read; make an ordinary ZIP file.")


def unpacked(content: Content, info: zipfile.ZipInfo, name: str) -> Iterator[bytes]:
    """The bytes of a member, piece by piece; BadInput when they are not what the archive says of them."""
    damaged = BadInput(f"{name}/{info.filename} is damaged in the archive; pack it again.")
    total, checksum = 0, 0
    try:
        for piece in _inflated(content, info):
            total += len(piece)
            checksum = zlib.crc32(piece, checksum)
            if total > info.file_size:
                raise damaged
            yield piece
    except (OSError, zlib.error, struct.error, ValueError) as error:
        raise damaged from error
    if total != info.file_size or checksum != info.CRC:
        raise damaged


def _inflated(content: Content, info: zipfile.ZipInfo) -> Iterator[bytes]:
    with io.BytesIO(content) if isinstance(content, bytes) else content.open("rb") as file:
        file.seek(info.header_offset)
        mark, name_length, extra_length = _LOCAL_HEADER.unpack(file.read(_LOCAL_HEADER.size))
        if mark != _LOCAL_MARK:
            raise ValueError("no member begins here")
        file.seek(name_length + extra_length, io.SEEK_CUR)
        left = info.compress_size
        engine = zlib.decompressobj(-zlib.MAX_WBITS) if info.compress_type == zipfile.ZIP_DEFLATED else None
        while left and (packed := file.read(min(left, _CHUNK))):
            left -= len(packed)
            while engine is not None and packed:
                yield engine.decompress(packed, _CHUNK)
                packed = engine.unconsumed_tail
            if engine is None:
                yield packed
        if engine is not None:
            yield engine.flush()


def member_bytes(content: Content, info: zipfile.ZipInfo, name: str) -> bytes:
    """All bytes of a member."""
    return b"".join(unpacked(content, info, name))
