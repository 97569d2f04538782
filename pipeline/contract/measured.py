"""Inputs are measured before they are read: regular files only, and no more of them than the sentence says.

A pipe would wait for ever and a device never ends; what is nested or written out without end costs a reader its stack.
"""

from __future__ import annotations

import json
import os
import re
import stat
import tomllib
from pathlib import Path
from typing import Any

from pipeline.contract.findings import BadInput

MAX_SETTINGS_BYTES = 1_000_000
"""`firm.toml`: the commented default has some eight thousand."""
MAX_MAPPING_BYTES = 10_000_000
"""A mapping: a thousand headings with their words have some three hundred thousand."""
MAX_REQUEST_BYTES = 200_000_000
"""A JSON file of requests: some hundred thousand houses."""
MAX_MANIFEST_BYTES = 50_000_000
MAX_DEPTH = 40
"""Lists and tables inside one another; a request has four, a mapping five."""
MAX_DIGITS = 300
"""Digits of one number: the largest that a computer calculates with has 309."""

_LONG_NUMBER = re.compile(r"\d(?:_?\d){" + str(MAX_DIGITS) + r"}")


def check_regular(path: Path, name: str = "") -> os.stat_result:
    """Size and times of a file; BadInput where it is no regular file, or cannot be looked up."""
    shown = name or str(path)
    try:
        found = path.stat()
    except OSError as error:
        raise BadInput(f"{shown} cannot be read: {error.strerror or error}.") from error
    if not stat.S_ISREG(found.st_mode):
        what = "a folder" if stat.S_ISDIR(found.st_mode) else "a pipe or a device"
        raise BadInput(f"{shown} is {what} and no file; name a file.")
    return found


def read_measured(path: Path, most_bytes: int, name: str = "") -> bytes:
    """The content of a regular file; BadInput where it is none, has more than `most_bytes`, or cannot be read."""
    shown = name or str(path)
    size = check_regular(path, name).st_size
    if size > most_bytes:
        raise BadInput(f"{shown} has {size:,} bytes; it may have at most {most_bytes:,}.")
    try:
        with path.open("rb") as file:
            data = file.read(most_bytes + 1)
    except OSError as error:
        raise BadInput(f"{shown} cannot be read: {error.strerror or error}.") from error
    if len(data) > most_bytes:
        raise BadInput(f"{shown} has more than {most_bytes:,} bytes, which is the most it may have.")
    return data


def parsed_json(data: bytes, name: str) -> Any:
    """What a JSON text says; BadInput names what is wrong: no JSON, nested too deep, a number without end, half a
    character. `NaN` and `Infinity` come as text: they are no numbers, in a request as in a log."""
    try:
        content = json.loads(
            data.decode("utf-8-sig"), parse_int=lambda digits: _number(digits, name), parse_constant=str
        )
    except RecursionError:
        raise _too_deep(name) from None
    except UnicodeDecodeError:
        raise BadInput(f"{name} is not UTF-8 text; save it as UTF-8.") from None
    except ValueError as error:
        raise BadInput(f"{name} is no readable JSON file: {error}.") from error
    _check_depth_and_texts(content, name)
    return content


def parsed_toml(data: bytes, name: str) -> dict[str, Any]:
    """The same of a TOML text."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput(f"{name} is not UTF-8 text; save it as UTF-8.") from None
    if _LONG_NUMBER.search(text):
        raise _too_long(name)
    try:
        content = tomllib.loads(text)
    except RecursionError:
        raise _too_deep(name) from None
    except ValueError as error:
        raise BadInput(f"{name} is not valid TOML: {error}.") from None
    _check_depth_and_texts(content, name)
    return content


def _number(digits: str, name: str) -> int:
    if len(digits) > MAX_DIGITS:
        raise _too_long(name)
    return int(digits)


def _check_depth_and_texts(content: object, name: str) -> None:
    level: list[object] = [content]
    for _ in range(MAX_DEPTH):
        texts = [text for each in level for text in _texts_of(each)]
        if any(not _is_whole(text) for text in texts):
            raise BadInput(f"{name} holds half a character (a lone surrogate); write the text anew.")
        level = [inner for each in level for inner in _inside(each)]
        if not level:
            return
    raise _too_deep(name)


def _inside(value: object) -> list[object]:
    if isinstance(value, dict):
        return [each for each in value.values() if isinstance(each, dict | list | str)]
    return [each for each in value if isinstance(each, dict | list | str)] if isinstance(value, list) else []


def _texts_of(value: object) -> list[str]:
    if isinstance(value, str):
        return [value]
    return [str(key) for key in value] if isinstance(value, dict) else []


def _is_whole(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


def _too_deep(name: str) -> BadInput:
    return BadInput(f"{name} is nested too deep; lists and tables may stand at most {MAX_DEPTH} deep in one another.")


def _too_long(name: str) -> BadInput:
    return BadInput(f"{name} holds a number of more than {MAX_DIGITS} digits, which is the most a number may have.")
