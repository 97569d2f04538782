"""Mutation fuzzer of the readers and the mapping: `python tests/benchmarks/fuzz_files.py --count 20000 --seed 1`.

Files of tests/data, and the same tables as workbooks, Parquet, JSON lines and archives, are mutated: bytes
flipped, pieces cut, doubled, moved, special characters put in, members of archives mutated inside. Each is
read as a firm's file would be, proposed for, and mapped. Asserted for each: nothing but BadInput is raised,
every record is a row or a broken row, every line of a text file is covered, and nothing is written.
"""

from __future__ import annotations

import argparse
import io
import random
import sys
import tempfile
import time
import traceback
import zipfile
from dataclasses import dataclass
from pathlib import Path

import polars as pl

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))  # so that the file can be run as a command

from pipeline.contract.findings import BadInput  # noqa: E402
from pipeline.mapping.apply_mapping import apply_mapping  # noqa: E402
from pipeline.mapping.mapping_file import mapping_text  # noqa: E402
from pipeline.mapping.propose import propose  # noqa: E402
from pipeline.readers.files import FoundTable, find_tables  # noqa: E402
from pipeline.readers.text_tables import TextTable  # noqa: E402

SEEDS_IN_CI = 300
DATA = ROOT / "tests" / "data"
_PUT_IN = (
    b'"',
    b'""',
    b'\n"',
    b',"',
    b";",
    b",",
    b"\t",
    b"\n",
    b"\r\n",
    b"\r",
    b"\x00",
    b"\xff",
    b"\xef\xbb\xbf",
    b"\xff\xfe",
    b"\xed\xa0\x80",
    b"=cmd()",
    b"1e999",
    b"-0",
    b"NaN",
    b"31/02/2025",
    b"45720",
    b"{",
    b"}",
    b"[[[[",
    b"\\u0000",
    b"<c",
    b'r="XFD1048576"',
    b"&amp;",
    b'table:number-rows-repeated="999999"',
    b"../",
    b" " * 50,
    b"9" * 400,
    "°µ²".encode(),
)
_SUFFIXES = (".csv", ".tsv", ".txt", ".jsonl", ".xlsx", ".ods", ".parquet", ".zip")


@dataclass(frozen=True, slots=True)
class Seed:
    """An honest file to begin with."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Told:
    """What a run found: files read and refused, records seen, and the faults, one text each."""

    files: int
    read: int
    refused: int
    rows: int
    faults: tuple[str, ...]


def seeds() -> list[Seed]:
    """Every file of the test data, and its tables in every other form."""
    from tests.made_files import ods, xlsx, zipped

    files = [path for path in sorted(DATA.rglob("*")) if path.suffix in (".csv", ".tsv")]
    found = [Seed(path.name, path.read_bytes()[:6000]) for path in files]
    for path in sorted((DATA / "hand_written").glob("*.csv")):
        frame = pl.read_csv(path, infer_schema_length=0).head(15)
        sheet = [frame.columns, *frame.rows()]
        parquet, archive = io.BytesIO(), path.read_bytes()[:3000]
        frame.write_parquet(parquet)
        found += [
            Seed(f"{path.stem}.xlsx", xlsx({path.stem: sheet, "notes": [["a"], ["1"]]})),
            Seed(f"{path.stem}.ods", ods({path.stem: sheet})),
            Seed(f"{path.stem}.parquet", parquet.getvalue()),
            Seed(f"{path.stem}.jsonl", frame.write_ndjson().encode()),
            Seed(f"{path.stem}.zip", zipped({path.name: archive, "in/log.ods": ods({"jobs": sheet})})),
            Seed(path.name, path.read_text(encoding="utf-8")[:3000].encode("utf-16")),
        ]
    return found


def mutated(seed: Seed, other: Seed, chance: random.Random) -> Seed:
    """One to six mutations of a seed; a tenth get another ending, archives are mostly mutated inside."""
    data = seed.data
    if zipfile.is_zipfile(io.BytesIO(data)) and chance.random() < 0.8:
        data = _inside(data, chance)
    else:
        for _ in range(chance.randint(1, 6)):
            data = _once(data, other.data, chance)
    suffix = chance.choice(_SUFFIXES) if chance.random() < 0.1 else Path(seed.name).suffix
    return Seed(Path(seed.name).stem + suffix, data)


def _inside(data: bytes, chance: random.Random) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        names = old.namelist()
        chosen = chance.choice(names)
        for name in names:
            text = old.read(name)
            for _ in range(chance.randint(1, 4) if name == chosen else 0):
                text = _once(text, text, chance)
            new.writestr(name, text)
    return out.getvalue()


def _once(data: bytes, other: bytes, chance: random.Random) -> bytes:
    if not data:
        return chance.choice(_PUT_IN)
    at, length = chance.randrange(len(data)), chance.randint(1, 60)
    piece = data[at : at + length]
    kind = chance.randrange(8)
    if kind == 0:
        return data[:at] + bytes([data[at] ^ (1 << chance.randrange(8))]) + data[at + 1 :]
    if kind == 1:
        return data[:at] + data[at + length :]
    if kind == 2:
        return data[:at] + piece * chance.randint(2, 30) + data[at:]
    if kind == 3:
        return data[:at]
    if kind == 4:
        start = chance.randrange(len(other)) if other else 0
        return data[:at] + other[start : start + 10 * length] + data[at:]
    if kind == 5:
        lines = data.split(b"\n")
        chance.shuffle(lines)
        return b"\n".join(lines)
    return data[:at] + chance.choice(_PUT_IN) + data[at + (kind == 6) :]


def fuzz(folder: Path, *, count: int, seed: int, every: int = 0, load_every: int = 0) -> Told:
    """Mutate, read, propose and map `count` files; each `load_every`th is loaded into a book of its own too.

    `every` prints progress. The folder is left as it was found.
    """
    chance, honest = random.Random(seed), seeds()
    read = refused = rows = 0
    faults: list[str] = []
    started = time.perf_counter()
    for index in range(count):
        made = mutated(chance.choice(honest), chance.choice(honest), chance)
        path = folder / made.name
        path.write_bytes(made.data)
        try:
            rows += _checked(path)
            if load_every and index % load_every == 0:
                _check_load(path)
            read += 1
        except BadInput as error:
            refused += 1
            if "\n" in str(error) or not str(error):
                faults.append(f"{seed}/{index} {made.name}: a refusal is no sentence: {error!r}")
        except BaseException as error:
            if isinstance(error, KeyboardInterrupt):
                raise
            faults.append(f"{seed}/{index} {made.name}: {traceback.format_exc(limit=-4)}")
        there = [each.name for each in folder.iterdir()]
        if there != [made.name] or path.read_bytes() != made.data:
            faults.append(f"{seed}/{index} {made.name}: the folder was changed: {there}")
        path.unlink()
        if every and (index + 1) % every == 0:
            so_far = f"{index + 1} files, {read} read, {refused} refused, {len(faults)} faults"
            print(f"{so_far}, {time.perf_counter() - started:.0f} s", flush=True)  # noqa: T201
    return Told(count, read, refused, rows, tuple(faults))


def _checked(path: Path) -> int:
    """Read everything in a file and check the account; returns the number of records."""
    found, texts = find_tables(path), []
    for table in found:
        text = table.read()
        texts.append((table, text))
        _check_account(table, text, path)
    proposal = propose(found)
    mapping_text(proposal.mapping, proposal)
    wide = {table.source for table in proposal.mapping.tables if table.numbers}
    try:
        mapped = apply_mapping(proposal.mapping, found)
    except BadInput:
        return sum(text.rows for _, text in texts)
    first: dict[str, TextTable] = {}
    for each in mapped:
        first.setdefault(each.file, each.text)
    for table, text in texts:
        if table.name in first and table.stem not in wide and first[table.name].rows != text.rows:
            raise AssertionError(f"{table.name}: {text.rows} records became {first[table.name].rows}")
    return sum(text.rows for _, text in texts)


def _check_load(path: Path) -> None:
    """Load the file: the states of its rows add up, and nothing is written beside the book."""
    from pipeline.intake.load import load
    from pipeline.store.book import Book

    with tempfile.TemporaryDirectory() as folder:
        report = load([path], Book(Path(folder) / "book"))
        for table, c in report.tables.items():
            if c.rows != c.accepted + c.rejected + c.duplicates + c.waiting + c.superseded:
                raise AssertionError(f"{path.name}: the account of {table} does not add up: {c}")
        if [each.name for each in Path(folder).iterdir()] != ["book"]:
            raise AssertionError(f"{path.name}: something was written beside the book")


def _check_account(table: FoundTable, text: TextTable, path: Path) -> None:
    lines = [int(line) for line in text.frame["line"]]
    if lines != sorted(set(lines)) or text.rows != len(lines) + len(text.broken):
        raise AssertionError(f"{table.name}: lines stand twice or out of order, or rows do not add up")
    if table.suffix not in (".csv", ".tsv", ".txt") or table.member:
        return
    data = path.read_bytes()
    if text.findings or data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return  # another encoding: the lines of the bytes are not those of the text
    raw = data.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    covered = {row.line + i for row in text.broken for i in range(row.text.rstrip("\n").count("\n") + 1)}
    for line, *cells in text.frame.select("line", pl.exclude("line")).rows():
        covered.update(range(line, line + 1 + sum(cell.count("\n") for cell in cells if cell)))
    first = min(covered, default=len(raw) + 1)
    filled = {n for n, line in enumerate(raw, 1) if n >= first and line.translate(None, b'",;\t ')}
    if not filled <= covered:
        raise AssertionError(f"{table.name}: lines {sorted(filled - covered)[:5]} are in no row")


def main() -> int:
    """Run from the command line; status 1 when anything was wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--load-every", type=int, default=0, help="load each such file into a book of its own")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        told = fuzz(Path(folder), count=chosen.count, seed=chosen.seed, every=1000, load_every=chosen.load_every)
    for fault in told.faults[:20]:
        print(fault)  # noqa: T201
    read = f"{told.read} read ({told.rows} records)"
    print(f"{told.files} files: {read}, {told.refused} refused, {len(told.faults)} faults")  # noqa: T201
    return 1 if told.faults else 0


if __name__ == "__main__":
    sys.exit(main())
