"""CSV and TSV as firms export them: delimiters, encodings, line ends, quotation marks that do not close."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contract.findings import BadInput
from pipeline.readers.delimited import read_delimited
from pipeline.readers.quotation_marks import UNCLOSED, scan_record
from pipeline.readers.text_tables import LINE, TextTable


def read(data: bytes) -> TextTable:
    return read_delimited(data, "jobs.csv")


def rows(text: TextTable) -> list[tuple[object, ...]]:
    return text.frame.rows()


def broken(text: TextTable) -> list[tuple[int, str]]:
    return [(row.line, row.reason) for row in text.broken]


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_the_delimiter_is_told_from_heading_and_first_lines(mark: str) -> None:
    data = "job_id,note,mass\nA,x,1\nB,y,2\n".replace(",", mark).encode()

    assert rows(read(data)) == [("A", "x", "1", 2), ("B", "y", "2", 3)]


@pytest.mark.parametrize(
    ("text", "headings"),
    [
        ("weight, kg;time, min\n1,5;2,5\n1,25;3,5\n", ("weight, kg", "time, min")),
        ("job_id,note\n1,a;b;c\n2,d;e;f\n", ("job_id", "note")),
        ('a,"b;c;d"\n1,2\n', ("a", "b;c;d")),
        ("only\n1\n2\n", ("only",)),
        ("sep=;\na,b;c\n1;2\n", ("a,b", "c")),
    ],
)
def test_delimiters_inside_cells_do_not_mislead(text: str, headings: tuple[str, ...]) -> None:
    assert read(text.encode()).headings == headings


@pytest.mark.parametrize(
    ("encoding", "said"),
    [
        ("utf-8", ""),
        ("utf-8-sig", ""),
        ("cp1252", "Windows-1252"),
        ("utf-16", "UTF-16 LE"),
        ("utf-16-le", "UTF-16 LE"),
        ("utf-16-be", "UTF-16 BE"),
    ],
)
def test_the_encoding_is_decided_for_the_file_and_said_when_it_is_not_utf8(encoding: str, said: str) -> None:
    text = read("höhe,temp °f\r\n½,“x”\r\n".encode(encoding))

    assert (text.headings, rows(text)) == (("höhe", "temp °f"), [("½", "“x”", 2)])
    assert [finding.facts["encoding"] for finding in text.findings] == ([said] if said else [])


def test_one_wrong_byte_in_a_utf8_file_breaks_its_line_only() -> None:
    text = read("a,b\nä,1\n".encode() + b"\xe4,2\nx,3\n")

    assert [row[-1] for row in rows(text)] == [2, 4]
    assert broken(text) == [(3, "the line is not UTF-8 text")]


def test_a_byte_that_windows_1252_does_not_have_breaks_its_line_only() -> None:
    text = read(b"a,b\n\xfc,1\n\x81\xfc,2\n\xe4\xf6\xfc\xe4\xf6\xfc\xe4\xf6\xfc,3\n")

    assert [row[-1] for row in rows(text)] == [2, 4]
    assert broken(text) == [(3, "the line is not Windows-1252 text")]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_of_every_kind_count_alike(end: str) -> None:
    text = read(end.join(["a,b", "1,2", "", '3,"x', 'y"', "4", "5,6", ""]).encode())

    assert rows(text) == [("1", "2", 2), ("3", "x\ny", 4), ("5", "6", 7)]
    assert broken(text) == [(6, "the line has 1 fields, the heading has 2")]


@pytest.mark.parametrize(
    ("lines", "kept", "lost"),
    [
        (['1,"x,y', "2,b,c", "3,b,c"], [3, 4], [2]),  # never closes
        (['1,"x,y', '2,"ok",c', "3,b,c"], [3, 4], [2]),  # the next mark opens a cell of its own
        (['1,"x,y', "2,b,c", '3,b"', "4,b,c"], [3, 5], [2, 4]),  # closes after a whole record
        (["1,b,c", '2,"x,"y', "3,b,c", '4,"z"",c', "5,b,c"], [2, 4, 6], [3, 5]),
        (["1,b,c", '2,b,"'], [2], [3]),
        (['1,5" pipe,c', '2,"open,c', "3,b,c"], [2, 4], [3]),
    ],
)
def test_a_mark_that_does_not_close_costs_its_own_line(lines: list[str], kept: list[int], lost: list[int]) -> None:
    text = read("\n".join(["a,b,c", *lines, ""]).encode())

    assert [row[-1] for row in rows(text)] == kept
    assert [row.line for row in text.broken] == lost
    assert UNCLOSED in {row.reason for row in text.broken}


def test_marks_are_found_alike_wherever_the_blocks_end(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = ["a,b,c", '1,"x,y', '2,"ok",c', '3,"two\nlines",c', '4,"z"",c', "5,b,c"] * 3
    data = "\n".join(lines).encode()
    whole = read(data)
    for size in range(1, 40):
        monkeypatch.setattr("pipeline.readers.quotation_marks._BLOCK", size)
        assert (rows(read(data)), broken(read(data))) == (rows(whole), broken(whole))


@pytest.mark.parametrize("cell", ["x\ny", "x\n\ny", 'say ""hi""\nagain', "two\nthree,four", "\n", "a,b\nc,d"])
def test_a_cell_with_line_breaks_is_whole(cell: str) -> None:
    text = read(f'a,b,c\n1,"{cell}",2\n3,4,5\n'.encode())

    assert rows(text)[0][1] == cell.replace('""', '"')
    assert (rows(text)[1][-1], text.broken) == (3 + cell.count("\n"), ())


def test_a_broken_record_over_several_lines_moves_the_lines_after_it() -> None:
    text = read(b'a,b\n1,2,"x\ny\nz"\n3,4\n5\n')

    assert [row[-1] for row in rows(text)] == [5]
    assert [row.line for row in text.broken] == [2, 6]


def test_an_empty_heading_is_named_by_its_place_and_the_name_line_is_not_lost() -> None:
    assert read(b"a,,line\n1,2,3\n").headings == ("a", "(column 2)", "(line)")


@pytest.mark.parametrize(
    ("text", "headings", "line"),
    [
        ("Log of 2025;;;\n;;;\njob;no;mass;note\nA;1;2;x\n", ("job", "no", "mass", "note"), 3),
        ("\n\njob,no\nA,1\n", ("job", "no"), 3),
        (",,\njob,no,x\nA,1,2\n", ("job", "no", "x"), 2),
    ],
)
def test_headings_below_a_title_or_blank_lines_are_found_and_said(
    text: str, headings: tuple[str, ...], line: int
) -> None:
    table = read(text.encode())

    assert (table.headings, table.frame[LINE].to_list()) == (headings, [line + 1])
    assert [finding.facts["line"] for finding in table.findings] == [line]


def test_a_heading_with_one_name_over_rows_of_figures_is_no_title() -> None:
    assert read(b"job,,\nA,1,2\nB,3,4\n").headings == ("job", "(column 2)", "(column 3)")


def test_a_record_longer_than_the_readers_block_is_read() -> None:
    cells = ["x" * 900_000, "y" * 900_000, "z" * 900_000]
    text = read(b"a,b,c\n" + ",".join(cells).encode() + b"\n")

    assert rows(text)[0][:3] == tuple(cells)


def test_a_heading_without_records_is_an_empty_table() -> None:
    text = read(b"a;b")

    assert (text.headings, text.rows) == (("a", "b"), 0)


def test_a_file_of_nothing_is_refused() -> None:
    with pytest.raises(BadInput, match="is empty"):
        read(b"\xff\xfe")


def test_the_scanner_splits_a_record_as_the_standard_reader_does() -> None:
    lines = ["a,b", '"a,""b",c', '"x\ny",', "", '""', '"a""",b,"c"']
    for line in lines:
        record = scan_record(line.encode() + b"\nnext", 0, ord(","))
        expected = next(csv.reader(io.StringIO(line, newline="")), [""])
        assert (record.fields, record.end, record.is_open) == (max(len(expected), 1), len(line), False)


TEXT = st.text(alphabet=st.sampled_from('ab1 ,;\t"\nä°'), max_size=12)
RECORDS = st.lists(st.lists(TEXT, min_size=4, max_size=4), max_size=8)


@settings(max_examples=150, deadline=None)
@given(records=RECORDS, mark=st.sampled_from([",", ";", "\t"]), encoding=st.sampled_from(["utf-8", "utf-16"]))
def test_every_record_written_is_read_back_or_broken(records: list[list[str]], mark: str, encoding: str) -> None:
    """Not only cells without line breaks: what spans lines may be taken for an unclosed mark, but is never lost."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=mark, lineterminator="\n", quoting=csv.QUOTE_ALL)
    writer.writerows([["w", "x", "y", "z"], *records])
    text = read(out.getvalue().encode(encoding))
    expected = [tuple(cell or None for cell in record) for record in records if any(record)]
    if not text.broken:
        assert text.frame.drop(LINE).rows() == expected
    else:
        assert any("\n" in cell for record in records for cell in record)


@settings(max_examples=150, deadline=None)
@given(lines=st.lists(st.text(alphabet=st.sampled_from('a1,"\r '), max_size=15), max_size=10))
def test_every_line_that_holds_anything_is_in_a_row_or_broken(lines: list[str]) -> None:
    data = "\n".join(["p,q,r", *lines]).encode()
    text = read(data)
    universal = data.decode().replace("\r\n", "\n").replace("\r", "\n").split("\n")
    covered = {row.line + i for row in text.broken for i in range(row.text.count("\n") + 1)}
    for row in text.frame.rows():
        breaks = sum(str(cell).count("\n") for cell in row[:-1] if cell)
        covered |= {int(row[-1]) + i for i in range(breaks + 1)}

    filled = {number for number, line in enumerate(universal, 1) if number > 1 and line.replace(",", "").strip('"')}
    assert filled <= covered
