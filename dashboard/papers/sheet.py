"""One look for every paper: the firm's head, headings, tables, bullets, page numbers. A4 or Letter, black and
white legible; the same hues as on the screens.

The letters are those of Western Europe (Windows-1252), which every PDF reader brings along; a firm with other
letters names a font in `firm.toml`.
"""

from __future__ import annotations

import unicodedata
import warnings
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import cast

from fontTools.ttLib import TTLibError
from fpdf import FPDF
from fpdf.enums import TextEmphasis
from fpdf.errors import FPDFException

from dashboard import theme
from dashboard.words import money, wording
from pipeline.contract.controls import shown
from pipeline.contract.findings import SettingsError
from pipeline.contract.firm import Firm

LOOK = theme.LIGHT
MARGIN = 18.0
PAGES = "{nb}"
"""Stands for the number of pages until the paper is finished."""
BODY, SMALL, LINE = 9.5, 8.0, 4.7
NAME, SMALLEST_NAME = 13.0, 9.0
"""Letters of the firm's name at the head of a paper: as large as there is room for."""
MAX_MARK_BYTES = 20_000_000
MAX_MARK_POINTS = 40_000_000
"""Points of the picture beside the name, which is printed 14 mm wide."""
_MOST_POINTS = f"a mark may have at most {MAX_MARK_POINTS:,} in all. Save it smaller."
_FONT_BEGINS = (b"\x00\x01\x00\x00", b"true", b"OTTO")
_REPLACED = str.maketrans(
    {
        "−": "–",
        "≤": "at most ",
        "≥": "at least ",
        "→": "to",
        "Ł": "L",
        "ł": "l",
        "\u2009": " ",
        "\u202f": " ",
        "Đ": "D",
        "đ": "d",
        "ı": "i",
        "₂": "2",
        "₃": "3",
        "₄": "4",
    }
)


@dataclass(frozen=True, slots=True)
class Letterhead:
    """What stands at the top and the foot of every page: firm, its line and mark, kind of paper, size."""

    firm: str
    tagline: str
    mark: Path | None
    font: Path | None
    paper: str
    title: str
    printed_on: date
    note: str = ""


def letterhead(firm: Firm, book: Path, title: str, on: date, note: str = "") -> Letterhead:
    """Of the firm's settings, by which money is written from now on; files are looked for in the book's folder, and
    `note` stands at the foot of every page. SettingsError when a file is not there."""
    money.use(firm)
    return Letterhead(
        firm.name,
        firm.tagline,
        _of_the_book(book, firm.mark_file, "mark_file"),
        _of_the_book(book, firm.font_file, "font_file"),
        firm.paper,
        title,
        on,
        note,
    )


def _of_the_book(book: Path, name: str, key: str) -> Path | None:
    if not name:
        return None
    path = (book / name).resolve()
    if not path.is_relative_to(book.resolve()) or not path.is_file():
        raise SettingsError(f"`{key}` of firm.toml names {name}, which is not in the book's folder; put it there.")
    return path


def _check_picture(path: Path) -> None:
    """SettingsError for a mark that is no picture, or of more bytes or points than a paper can do with."""
    from PIL import Image

    size_bytes = path.stat().st_size
    if size_bytes > MAX_MARK_BYTES:
        raise SettingsError(f"{path.name} has {size_bytes:,} bytes; a mark may have at most {MAX_MARK_BYTES:,}.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(path, formats=("PNG", "JPEG")) as picture:
                width, height = picture.size
    except Image.DecompressionBombError as error:
        raise SettingsError(f"{path.name} has too many points; {_MOST_POINTS}") from error
    except (OSError, ValueError, SyntaxError) as error:
        raise SettingsError(f"{path.name} cannot be used as a mark; name a PNG or JPEG picture.") from error
    if width * height > MAX_MARK_POINTS:
        raise SettingsError(f"{path.name} is {width:,} by {height:,} points; {_MOST_POINTS}")


def rgb(colour: str) -> tuple[int, int, int]:
    """`#rrggbb` as three numbers.

    >>> rgb("#a94400")
    (169, 68, 0)
    """
    red, green, blue = (int(colour[start : start + 2], 16) for start in (1, 3, 5))
    return red, green, blue


def printable(text: str) -> str:
    """The text in the letters that every PDF reader has: accents it lacks are left off, the rest become `?`."""
    shown = text.translate(_REPLACED)
    kept = []
    for letter in shown:
        if letter.encode("cp1252", "ignore"):
            kept.append(letter)
            continue
        plain = unicodedata.normalize("NFKD", letter).encode("cp1252", "ignore").decode("cp1252")
        kept.append(plain or "?")
    return "".join(kept)


class Sheet(FPDF):
    """A paper being written, top to bottom. Positions and widths in mm, sizes of letters in points."""

    def __init__(self, head: Letterhead) -> None:
        super().__init__(format=head.paper)
        self.head = head
        self.core_fonts_encoding = "windows-1252"
        self.face = "Helvetica"
        if head.font is not None:
            self._take_font(head.font)
        self.set_margins(MARGIN, 14, MARGIN)
        self.c_margin = 0.0
        self.set_auto_page_break(auto=True, margin=18)
        self.set_title(self.words(head.title))
        self.set_author(self.words(head.firm))
        self.set_lang("en")
        self.alias_nb_pages()
        self.add_page()

    def _take_font(self, path: Path) -> None:
        refused = SettingsError(f"{path.name} cannot be used as a font; name a TrueType file (.ttf).")
        if not path.read_bytes()[:4].startswith(_FONT_BEGINS):
            raise refused
        try:
            for style in ("", "B"):
                self.add_font("firm", style, path)
        except (TTLibError, FPDFException, OSError, ValueError, KeyError) as error:
            raise refused from error
        self.face = "firm"

    def words(self, text: str) -> str:
        """The text as this paper can print it, letter by letter: the mark for the number of pages is broken up."""
        plain = shown(text).replace(PAGES, "{ nb}")
        return plain if self.face == "firm" else printable(plain)

    def letters(self, size: float = BODY, *, bold: bool = False, colour: str = LOOK.text) -> None:
        """Set face, size and colour for what is written next."""
        self.set_font(self.face, TextEmphasis.B if bold else TextEmphasis.NONE, size)
        self.set_text_color(*rgb(colour))

    def header(self) -> None:
        """Mark and firm on the left, kind of paper on the right, a rule below."""
        top, left = self.t_margin, self.l_margin
        if self.head.mark is not None:
            self._picture(self.head.mark, left, top)
            left += 17
        self.letters(NAME, bold=True)
        room = self.l_margin + self.epw - left - self.get_string_width(self.words(self.head.title)) - 6
        self._firm_name(left, top, room)
        self.letters(SMALL, colour=LOOK.muted)
        self.set_xy(left, top + 7)
        self.cell(room, 4, self.fitted(self.head.tagline, room))
        self.letters(NAME, bold=True, colour=LOOK.ink)
        self.set_xy(self.l_margin, top)
        self.cell(self.epw, 7, self.words(self.head.title), align="R")
        self.set_draw_color(*rgb(LOOK.ink))
        self.set_line_width(0.4)
        below = top + (14 if self.head.mark is not None or self.head.tagline else 9)
        self.line(self.l_margin, below, self.l_margin + self.epw, below)
        self.set_xy(self.l_margin, below + 4)

    def _firm_name(self, left: float, top: float, room: float) -> None:
        """The whole name, however long: in smaller letters, and in the smallest on two lines."""
        name, size = self.words(self.head.firm), NAME
        while size > SMALLEST_NAME and self.get_string_width(name) > room:
            size -= 0.5
            self.letters(size, bold=True)
        lines = cast("list[str]", self.multi_cell(room, 3.5, name, dry_run=True, output="LINES", align="L"))
        self.set_xy(left, top)
        if len(lines) < 2:
            self.cell(room, 7, name)
            return
        for number, line in enumerate((lines[0], " ".join(lines[1:]))):
            self.set_xy(left, top + 3.5 * number)
            self.cell(room, 3.5, self.fitted(line, room))

    def _picture(self, path: Path, left: float, top: float) -> None:
        _check_picture(path)
        try:
            self.image(path, left, top - 1, w=14, h=14, keep_aspect_ratio=True, alt_text=self.words(self.head.firm))
        except (FPDFException, OSError, ValueError) as error:
            raise SettingsError(f"{path.name} cannot be used as a mark; name a PNG or JPEG picture.") from error

    def footer(self) -> None:
        """Day of printing and page of pages."""
        self.set_y(-13)
        self.letters(SMALL, colour=LOOK.muted)
        left = f"Printed on {wording.day(self.head.printed_on)}. Figures are estimates from records. {self.head.note}"
        self.cell(self.epw, 5, self.words(left))
        width = self.get_string_width(f"Page {self.page_no()} of 0")  # how many is filled in at the end only
        self.set_x(self.l_margin + self.epw - width)
        self.cell(width, 5, f"Page {self.page_no()} of {PAGES}")

    def fitted(self, text: str, room: float) -> str:
        """The text, cut with dots where it is wider than the room in the letters set now."""
        shown = self.words(text)
        if self.get_string_width(shown) <= room:
            return shown
        while shown and self.get_string_width(shown + "…") > room:
            shown = shown[:-1]
        return shown.rstrip() + "…"

    def heading(self, text: str, rows: int = 0) -> None:
        """A heading that stays with the lines after it, and with as many `rows` of a table."""
        if self.will_page_break(max(16.0, 10 + rows * (LINE + 0.8))):
            self.add_page()
        self.ln(2.2)
        self.letters(11, bold=True)
        self.cell(self.epw, 6, self.words(text), new_x="LMARGIN", new_y="NEXT")

    def paragraph(self, text: str, *, size: float = BODY, bold: bool = False, colour: str = LOOK.text) -> None:
        """Words over the whole width."""
        self.letters(size, bold=bold, colour=colour)
        self.multi_cell(self.epw, size * 0.49, self.words(text), align="L", new_x="LMARGIN", new_y="NEXT")

    def bullets(self, lines: Iterable[str], *, size: float = BODY) -> None:
        """One line or more each, with a hanging indent."""
        self.letters(size)
        height = size * 0.48
        for line in lines:
            if self.will_page_break(height):  # before the dot, which else stays behind on the page before
                self.add_page()
            self.set_fill_color(*rgb(LOOK.ink))
            self.ellipse(self.l_margin + 1, self.get_y() + 1.6, 1.1, 1.1, style="F")
            self.set_x(self.l_margin + 4)
            self.multi_cell(self.epw - 4, height, self.words(line), align="L", new_x="LMARGIN", new_y="NEXT")

    def rows(self, rows: Sequence[tuple[str, str]], *, last_bold: bool = False) -> None:
        """Words on the left, a value on the right, a thin rule under each."""
        for number, (name, value) in enumerate(rows):
            self.letters(bold=last_bold and number == len(rows) - 1)
            if self.will_page_break(LINE + 1):
                self.add_page()
            shown, width = self.words(value), self.epw
            room = width - self.get_string_width(shown) - 4
            top = self.get_y()
            self.cell(room, LINE + 0.8, self.fitted(name, room))
            self.cell(width - room, LINE + 0.8, shown, align="R", new_x="LMARGIN", new_y="NEXT")
            self.rule(top + LINE + 0.8)

    def rule(self, at: float) -> None:
        """A thin line over the whole width."""
        self.set_draw_color(*rgb(LOOK.grid))
        self.set_line_width(0.2)
        self.line(self.l_margin, at, self.l_margin + self.epw, at)

    def grid(self, heads: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float]) -> None:
        """A small table: heads, rows, and the share of the width of each column; the first is words, the rest right."""
        self._row(heads, widths, bold=True)
        for row in rows:
            if self.will_page_break(LINE + 1):
                self.add_page()
                self._row(heads, widths, bold=True)
            self._row(row, widths, bold=False)

    def _row(self, cells: Sequence[str], widths: Sequence[float], *, bold: bool) -> None:
        self.letters(SMALL + 0.5, bold=bold, colour=LOOK.muted if bold else LOOK.text)
        top = self.get_y()
        for number, (cell, share) in enumerate(zip(cells, widths, strict=True)):
            room = self.epw * share
            self.cell(room, LINE + 0.6, self.fitted(cell, room - 2), align="L" if number == 0 else "R")
        self.ln(LINE + 0.6)
        self.rule(top + LINE + 0.6)

    def as_bytes(self) -> bytes:
        """The finished paper."""
        return bytes(self.output())
