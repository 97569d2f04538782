"""Bytes of a text file → UTF-8 with plain line ends; lines that cannot be decoded are set apart.

The encoding is decided once for a whole file: by its byte-order mark, else UTF-16 where every other byte
is zero, else UTF-8 where that fits, else Windows-1252 where no line holds a UTF-8 character and the
bytes above 127 are characters that records hold (°, £, ², é …). Anything but UTF-8 is said in a finding.
"""

from __future__ import annotations

import codecs
from dataclasses import dataclass

from pipeline.contract.findings import Finding
from pipeline.readers.limits import raise_nul
from pipeline.readers.text_tables import BrokenRow

_CHUNK = 1 << 24
_SNIFFED = 4096
_ENOUGH_PLAUSIBLE = 0.9

_UTF8, _UTF16_LE, _UTF16_BE, _WINDOWS = "UTF-8", "UTF-16 LE", "UTF-16 BE", "Windows-1252"
_PYTHON_NAMES = {_UTF16_LE: "utf-16-le", _UTF16_BE: "utf-16-be", _WINDOWS: "cp1252"}
_MARKS = ((b"\xef\xbb\xbf", _UTF8), (b"\xff\xfe", _UTF16_LE), (b"\xfe\xff", _UTF16_BE))

_PLAUSIBLE = frozenset(
    "£€°²³µ½¼¾×·±§–—‘’“”…•™®ØøÀÁÂÃÄÅÆÇÈÉÊËÌÍÎÏÑÒÓÔÕÖÙÚÛÜÝßàáâãäåæçèéêëìíîïñòóôõöùúûüýŠšŽžŒœŸ\xa0".encode("cp1252")
)
_ASCII = bytes(range(128))


@dataclass(frozen=True, slots=True)
class DecodedText:
    """UTF-8 bytes with `\\n` line ends; broken lines are blank in them and stand in `broken`."""

    data: bytes
    broken: tuple[BrokenRow, ...]
    findings: tuple[Finding, ...]


def decoded(data: bytes, name: str) -> DecodedText:
    """Text of a file that is shown as `name`. BadInput when it holds NUL bytes."""
    encoding, body = _encoding(data)
    if encoding == _UTF8:
        text, broken = _utf8_lines(body)
    else:
        text, broken = _other_lines(body, encoding)
    found = text.find(b"\x00")
    if found >= 0:
        raise_nul(name, text.count(b"\n", 0, found) + 1)
    findings: tuple[Finding, ...] = ()
    if encoding != _UTF8:
        sentence = f"{name} is not UTF-8 text and was read as {encoding}; check a word with an accent or a sign."
        findings = (Finding("file_encoding", sentence, {"file": name, "encoding": encoding}),)
    return DecodedText(text, tuple(broken), findings)


def _encoding(data: bytes) -> tuple[str, bytes]:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return encoding, data[len(mark) :]
    head = data[:_SNIFFED]
    even, odd = head[::2].count(0), head[1::2].count(0)
    if odd > 0.3 * len(head) and even < 0.02 * len(head):
        return _UTF16_LE, data
    if even > 0.3 * len(head) and odd < 0.02 * len(head):
        return _UTF16_BE, data
    return (_UTF8 if _is_utf8(data) or not _is_windows(data) else _WINDOWS), data


def _is_utf8(data: bytes) -> bool:
    if data.isascii():
        return True
    decoder, view = codecs.getincrementaldecoder("utf-8")(), memoryview(data)
    try:
        for start in range(0, len(data), _CHUNK):
            decoder.decode(view[start : start + _CHUNK])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _is_windows(data: bytes) -> bool:
    """No line beyond ASCII is UTF-8, and nearly all bytes above 127 are characters that records hold."""
    if any(not line.isascii() and _is_utf8(line) for line in data.split(b"\n")):
        return False
    high = data.translate(None, _ASCII)
    plausible = len(high) - len(high.translate(None, bytes(_PLAUSIBLE)))
    return plausible >= _ENOUGH_PLAUSIBLE * len(high)


def _plain_line_ends(data: bytes) -> bytes:
    if b"\r" not in data:
        return data
    return data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")


def _utf8_lines(data: bytes) -> tuple[bytes, list[BrokenRow]]:
    data = _plain_line_ends(data)
    if _is_utf8(data):
        return data, []
    lines, broken = data.split(b"\n"), []
    for index, line in enumerate(lines):
        if not _is_utf8(line):
            broken.append(BrokenRow(index + 1, line.decode("utf-8", "replace"), "the line is not UTF-8 text"))
            lines[index] = b""
    return b"\n".join(lines), broken


def _other_lines(data: bytes, encoding: str) -> tuple[bytes, list[BrokenRow]]:
    text = data.decode(_PYTHON_NAMES[encoding], "replace")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "\N{REPLACEMENT CHARACTER}" not in text:
        return text.encode("utf-8"), []
    lines, broken = text.split("\n"), []
    for index, line in enumerate(lines):
        if "\N{REPLACEMENT CHARACTER}" in line:
            broken.append(BrokenRow(index + 1, line, f"the line is not {encoding} text"))
            lines[index] = ""
    return "\n".join(lines).encode("utf-8"), broken
