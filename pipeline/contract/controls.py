"""Characters that nobody sees and that steer a terminal or turn the direction of writing round.

They have no place in an id, and are written out wherever text of a person's files is shown.
"""

from __future__ import annotations

import re

CONTROLS = "\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069"
"""Inside of a class of a regular expression: C0 except tab and newline, DEL and C1, and the bidirectional embeddings,
overrides and isolates. Source: Unicode 16.0, general category Cc; UAX #9, table "Bidirectional Character Types"."""
REASON = "holds a control character, which no id may; type it again"
CLASS = f"[{CONTROLS}]"
"""The same as a regular expression."""
_SHOWN = re.compile(f"[{CONTROLS}\ud800-\udfff]")


def has_controls(text: str) -> bool:
    """Whether a text holds a character that steers instead of being read.

    >>> has_controls("J-1"), has_controls("J\\x1b[2J"), has_controls("J\\u202e1"), has_controls("a\\tb\\n")
    (False, True, True, False)
    """
    return _SHOWN.search(text) is not None


def shown(text: str) -> str:
    """The text with its control characters, and halves of characters, written out.

    >>> shown("J\\x1b[2J"), shown("J\\u202e1"), shown("a\\tb")
    ('J\\\\x1b[2J', 'J\\\\u202e1', 'a\\tb')
    """
    return _SHOWN.sub(_written_out, text)


def shown_in_json(text: str) -> str:
    r"""The same for JSON, which already escapes C0 and stays JSON.

    >>> print(shown_in_json('{"a": "' + chr(0x9B) + chr(0x202E) + '"}'))
    {"a": "\u009b\u202e"}
    """
    return _SHOWN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def _written_out(found: re.Match[str]) -> str:
    number = ord(found[0])
    return f"\\x{number:02x}" if number < 0x100 else f"\\u{number:04x}"
