"""Files made to do harm: each is refused in one sentence that names the limit, and nothing is written anywhere."""

from __future__ import annotations

import io
import struct
import zipfile
from pathlib import Path

import polars as pl
import pytest

from pipeline.contract.findings import BadInput
from pipeline.readers import limits as limits
from pipeline.readers.files import find_in, find_tables
from tests.benchmarks.fuzz_files import SEEDS_IN_CI, fuzz
from tests.made_files import ods_cell, ods_of_xml, xlsx, xlsx_of_xml, zipped


def refusal(folder: Path, name: str, data: bytes) -> str:
    """The sentence with which a file is refused; nothing but the file is in its folder afterwards."""
    inside = folder / "inside"
    inside.mkdir(exist_ok=True)
    (inside / name).write_bytes(data)
    with pytest.raises(BadInput) as refused:
        [found.read() for found in find_tables(inside / name)]
    assert [path.name for path in folder.rglob("*")] == ["inside", name]
    sentence = str(refused.value)
    assert sentence.count("\n") == 0
    assert sentence.endswith(".")
    return sentence


@pytest.mark.parametrize("text", [b"a,b\n1,\x00\n", b"a,b\x00\n1,2\n", "a\n\0\n".encode("utf-16")])
def test_nul_bytes(text: bytes, tmp_path: Path) -> None:
    assert "NUL byte" in refusal(tmp_path, "jobs.csv", text)


def test_a_nul_byte_in_json_or_parquet(tmp_path: Path) -> None:
    out = io.BytesIO()
    pl.DataFrame({"a": ["\0"]}).write_parquet(out)

    assert "NUL byte" in refusal(tmp_path, "jobs.jsonl", b'{"a": "\\u0000"}')
    (tmp_path / "inside" / "jobs.jsonl").unlink()
    assert "NUL byte" in refusal(tmp_path, "jobs.parquet", out.getvalue())


@pytest.mark.parametrize("quote", ["", '"'])
def test_a_cell_of_more_than_a_million_characters(quote: str, tmp_path: Path) -> None:
    cell = f"{quote}{'x' * (limits.MAX_CELL_CHARACTERS + 1)}{quote}"

    assert "1,000,000 characters" in refusal(tmp_path, "jobs.csv", f"a,b\n{cell},1\n".encode())


def test_a_cell_of_a_million_characters_is_still_read(tmp_path: Path) -> None:
    (tmp_path / "jobs.csv").write_text(f"a,b\n{'é' * limits.MAX_CELL_CHARACTERS},1\n", encoding="utf-8")

    assert find_tables(tmp_path / "jobs.csv")[0].read().rows == 1


@pytest.mark.parametrize("suffix", ["csv", "jsonl", "parquet", "ods"])
def test_more_than_ten_thousand_columns(suffix: str, tmp_path: Path) -> None:
    names = [f"c{i}" for i in range(limits.MAX_COLUMNS + 1)]
    out = io.BytesIO()
    pl.DataFrame({name: ["1"] for name in names}).write_parquet(out)
    repeated = ods_cell("1").replace("-cell", f'-cell table:number-columns-repeated="{len(names)}"', 1)
    data = {
        "csv": (",".join(names) + "\n").encode(),
        "jsonl": ("{" + ",".join(f'"{name}":1' for name in names) + "}").encode(),
        "parquet": out.getvalue(),
        "ods": ods_of_xml({"jobs": f"<table:table-row>{repeated}</table:table-row>"}),
    }[suffix]

    assert "10,000 columns" in refusal(tmp_path, f"jobs.{suffix}", data)


@pytest.mark.parametrize("name", ["../../evil.csv", "/etc/evil.csv", "C:\\evil.csv", "a\\..\\..\\evil.csv"])
def test_archives_that_name_paths_outside_themselves(name: str, tmp_path: Path) -> None:
    assert "outside itself" in refusal(tmp_path, "logs.zip", zipped({name: "a\n1\n"}))


def test_an_archive_that_unpacks_to_far_more_than_it_holds(tmp_path: Path) -> None:
    data = zipped({"jobs.csv": b"a\n" + b"0" * 2 * limits.RATIO_FREE_BYTES})

    assert "200 times its size" in refusal(tmp_path, "logs.zip", data)


def test_a_workbook_that_unpacks_to_far_more_than_it_holds(tmp_path: Path) -> None:
    for name, data in (
        ("log.xlsx", xlsx_of_xml(" " * 2 * limits.RATIO_FREE_BYTES)),
        ("log.ods", ods_of_xml({"jobs": " " * 2 * limits.RATIO_FREE_BYTES})),
    ):
        assert "200 times its size" in refusal(tmp_path, name, data)
        (tmp_path / "inside" / name).unlink()


def test_an_archive_that_hides_how_much_it_unpacks_to(tmp_path: Path) -> None:
    """The directory is made to claim ten bytes where there are two hundred thousand."""
    honest = zipped({"jobs.csv": b"a\n" + b"7" * 200_000})
    size = struct.pack("<I", 200_002)
    assert honest.count(size) == 2

    assert "damaged" in refusal(tmp_path, "logs.zip", honest.replace(size, struct.pack("<I", 10)))


def test_an_archive_that_claims_more_than_the_limit(tmp_path: Path) -> None:
    honest = zipped({"jobs.csv": b"a\n" + b"7" * 200_000})
    lying = honest.replace(struct.pack("<I", 200_002), struct.pack("<I", 4_100_000_000))

    assert "4,000,000,000 bytes" in refusal(tmp_path, "logs.zip", lying)


def test_an_archive_of_too_many_files(tmp_path: Path) -> None:
    data = zipped({f"{i}.csv": "a" for i in range(limits.MAX_MEMBERS + 1)}, zipfile.ZIP_STORED)

    assert "at most 2,000" in refusal(tmp_path, "logs.zip", data)


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_an_archive_or_workbook_that_names_the_same_twice(tmp_path: Path) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("jobs.csv", "a\n1\n")
        archive.writestr("jobs.csv", "a\n2\n")

    assert "two files" in refusal(tmp_path, "logs.zip", out.getvalue())
    (tmp_path / "inside" / "logs.zip").unlink()
    two = ods_of_xml({"jobs": "", "Jobs": ""})
    with zipfile.ZipFile(io.BytesIO(two)) as archive:
        members = {name: archive.read(name).replace(b'"Jobs"', b'"jobs"') for name in archive.namelist()}
    assert "two sheets" in refusal(tmp_path, "log.ods", zipped(members))


def test_an_archive_with_a_password_or_a_rare_method(tmp_path: Path) -> None:
    locked = bytearray(zipped({"jobs.csv": "a\n1\n"}))
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        locked[locked.index(mark) + offset] |= 1

    assert "password" in refusal(tmp_path, "logs.zip", bytes(locked))
    assert "ordinary ZIP" in refusal(tmp_path, "logs.zip", zipped({"jobs.csv": "a\n1\n"}, zipfile.ZIP_BZIP2))


@pytest.mark.parametrize(
    ("row", "limit"),
    [
        ('<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>', "10,000 columns"),
        ('<row r="1048576"><c r="CZ1048576"><v>1</v></c></row>', "25,000,000 cells"),
        ("<row r='9999999'><c r = 'Z9999999'><v>1</v></c></row>", "25,000,000 cells"),
    ],
)
def test_a_sheet_whose_two_cells_span_a_huge_rectangle(row: str, limit: str, tmp_path: Path) -> None:
    xml = f'<row r="1"><c r="A1"><v>1</v></c></row>{row}'

    assert limit in refusal(tmp_path, "log.xlsx", xlsx_of_xml(xml))


def test_a_sheet_that_is_kept_under_another_name(tmp_path: Path) -> None:
    honest = zipfile.ZipFile(io.BytesIO(xlsx_of_xml('<row r="1048576"><c r="CZ1048576"><v>1</v></c></row>')))
    here, there = "worksheets/sheet1.xml", "other.xml"
    moved = {
        name.replace(here, there): honest.read(name).replace(here.encode(), there.encode())
        for name in honest.namelist()
    }

    assert "25,000,000 cells" in refusal(tmp_path, "log.xlsx", zipped(moved))


def test_json_lines_each_with_headings_of_its_own(tmp_path: Path) -> None:
    lines = "\n".join(f'{{"c{i}": 1}}' for i in range(9_000))

    assert "81,000,000 cells" in refusal(tmp_path, "jobs.jsonl", lines.encode())


def test_an_ods_sheet_with_one_wide_row_over_many_narrow_ones(tmp_path: Path) -> None:
    wide = ods_cell("x").replace("-cell", '-cell table:number-columns-repeated="9000"', 1)
    rows = f"<table:table-row>{wide}</table:table-row>" + (
        f'<table:table-row table:number-rows-repeated="9000">{ods_cell("x")}</table:table-row>'
    )

    assert "25,000,000 cells" in refusal(tmp_path, "log.ods", ods_of_xml({"jobs": rows}))


def test_a_stored_text_that_stands_in_very_many_cells(tmp_path: Path) -> None:
    cells = "".join(f'<row r="{i}"><c r="A{i}" t="s"><v>0</v></c></row>' for i in range(1, 9000))
    data = xlsx_of_xml(cells, f"<si><t>{'x' * 300_000}</t></si>")

    assert "2,000,000,000 characters" in refusal(tmp_path, "log.xlsx", data)


def test_one_long_stored_text_among_many_short_ones_is_no_harm(tmp_path: Path) -> None:
    cells = "".join(f'<row r="{i}"><c r="A{i}" t="s"><v>{int(i > 1)}</v></c></row>' for i in range(1, 9000))
    data = xlsx_of_xml(cells, f"<si><t>{'x' * 300_000}</t></si><si><t>y</t></si>")
    (tmp_path / "log.xlsx").write_bytes(data)

    assert find_tables(tmp_path / "log.xlsx")[0].read().rows == 8998


@pytest.mark.parametrize("what", ["rows", "text"])
def test_an_ods_sheet_whose_repeats_unfold_without_end(what: str, tmp_path: Path) -> None:
    cell = ods_cell("x" * 100_000 if what == "text" else "x")
    cell = cell.replace("-cell", '-cell table:number-columns-repeated="100"', 1)
    times = 1000 if what == "text" else 1_000_000
    rows = f'<table:table-row table:number-rows-repeated="{times}">{cell}</table:table-row>'
    limit = "2,000,000,000 characters" if what == "text" else "25,000,000 cells"

    assert limit in refusal(tmp_path, "log.ods", ods_of_xml({"jobs": rows}))


def test_an_ods_sheet_with_entities_of_its_own(tmp_path: Path) -> None:
    entities = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'

    assert "document type" in refusal(tmp_path, "log.ods", ods_of_xml({"jobs": ""}, before=entities))


def test_a_parquet_file_of_a_billion_equal_cells(tmp_path: Path) -> None:
    out = io.BytesIO()
    pl.DataFrame({f"c{i}": pl.repeat(1, 400_000, eager=True) for i in range(60)}).write_parquet(out)

    assert "at most 100 for each byte" in refusal(tmp_path, "jobs.parquet", out.getvalue())


def test_a_file_over_the_size_limit(tmp_path: Path) -> None:
    with (tmp_path / "jobs.csv").open("wb") as file:
        file.truncate(limits.MAX_FILE_BYTES + 1)  # a hole: it takes no room on the disk

    with pytest.raises(BadInput, match="at most 4,000,000,000"):
        find_in([tmp_path])


@pytest.mark.parametrize("name", ["jobs.csv", "jobs.xlsx", "jobs.ods", "jobs.parquet", "jobs.zip"])
@pytest.mark.parametrize("data", [b"", b"PK\x03\x04", b"\xff" * 3000, b"PAR1\x00PAR1", b"\n\n\n", b'""'])
def test_rubbish_under_any_name(name: str, data: bytes, tmp_path: Path) -> None:
    assert name in refusal(tmp_path, name, data)


def test_a_sheet_that_is_damaged_inside_an_archive(tmp_path: Path) -> None:
    good = xlsx({"jobs": [["a"], ["1"]]})

    assert "logs.zip/log.xlsx" in refusal(tmp_path, "logs.zip", zipped({"log.xlsx": good[: len(good) // 2]}))


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.study) for seed in (1, 2))])
def test_mutated_files_are_read_or_refused_and_every_row_is_accounted_for(seed: int, tmp_path: Path) -> None:
    """A hundred mutations find with 95 % chance a fault that three in a hundred set off; all three hundred, one."""
    told = fuzz(tmp_path, count=SEEDS_IN_CI // 3, seed=seed, load_every=20)

    assert told.faults == ()
    assert told.read > 0
    assert told.refused > 0
