"""Text from files, shown letter by letter: as Markdown on a page, in a figure, on a paper.

Ids, names, notes, cells and the sentences that quote them are plain text up to the place where they are drawn.
There one of these makes of them what the drawing takes for plain text: nothing is fetched, styled or left out.
"""

from __future__ import annotations

import re

from pipeline.contract.controls import shown

_JOIN = "\N{WORD JOINER}"
"""Seen by nobody; it parts what a page looks for again after the escapes are gone."""
_WHITE = re.compile("(?:\r\n|[ \t\n\u2028\u2029])+")
_PUNCTUATION = re.compile(r"[\\`*\[\]<~$]|(?<![^\W_])_|_(?![^\W_])|&(?=#?\w+;)|:(?=[^\W\d_])")
_AT_START = re.compile(r"^((?:\d+(?=[.)](?:\s|$)))?)([.)#>+=|:-])")
_LOOKED_FOR = re.compile(
    r":(?=(?!\d\d?:)[\w+/-]+:)|(?<=\w):(?=//)|(?<![^\W_])www(?=\.)|(?<=[\w.+-])@(?=[\w-])", re.IGNORECASE
)
_ARROW = re.compile(r"(?:(?<=\s)|^)(<->|->|<-|--|>=|<=|~=)(?=\s|$)")


def literal(text: object) -> str:
    r"""The text as Markdown that is drawn as exactly this text; lines become one, since a line may begin a list.

    >>> literal("![i](http://x.example/a)"), literal("2031-03-04-a, 5 %"), literal("# 1_000 a_b_")
    ('!\\[i\\](http:\u2060//x.example/a)', '2031-03-04-a, 5 %', '\\# 1_000 a_b\\_')
    """
    line = _one_line(text)
    line = _ARROW.sub(lambda found: _JOIN.join(found[1]), line)
    line = _LOOKED_FOR.sub(lambda found: found[0] + _JOIN, line)
    line = _PUNCTUATION.sub(lambda found: f"\\{found[0]}", line)
    return _AT_START.sub(r"\1\\\2", line)


def in_figure(text: object) -> str:
    """The text as a figure takes it: its tags, entities and templates are drawn as they stand.

    >>> in_figure("<b>J&amp;1</b>"), in_figure("%{x}")
    ('&lt;b&gt;J&amp;amp;1&lt;/b&gt;', '%\\u2060{x}')
    """
    line = _one_line(text)
    line = line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return line.replace("%{", f"%{_JOIN}{{")


def _one_line(text: object) -> str:
    """On one line, controls written out; a space that no line ends at stays one."""
    return shown(_WHITE.sub(" ", str(text))).strip(" ")


def without_joins(text: str) -> str:
    """What a reader sees of a text that was made literal, for comparing with the text it was made of."""
    return text.replace(_JOIN, "")
