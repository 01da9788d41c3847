"""What was read is kept by content: a merge reads only what is new, and nothing else changes."""

from __future__ import annotations

import datetime as dt
import gzip
import shutil
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any, get_type_hints

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.returns.test_rules import CASES, SAVED, answers
from tests.small_program import CONTENT, WORDS
from workbook_tools.contract.findings import Finding, Phrase
from workbook_tools.contract.guard import Refusal
from workbook_tools.contract.load import templates_folder, templates_from
from workbook_tools.demo.fill import fill
from workbook_tools.field_book.issue import Order, issue
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.setup_book import setup_workbook
from workbook_tools.returns import workers
from workbook_tools.returns.intake import Intake, take_in
from workbook_tools.returns.kept import Pack, load_kept, rules_digest
from workbook_tools.returns.read import BlockRead, ReadReturn
from workbook_tools.returns.workers import Reading
from workbook_tools.rollup.write import write_rollup

RULES = "0" * 64
AS_OF = dt.date(2026, 3, 9)


AFRESH, KEEPING = Reading(), Reading(keep=True)


@pytest.fixture(scope="module")
def sent(tmp_path_factory: pytest.TempPathFactory) -> ProgramFolder:
    """A program with a return for every case of the rules, and three files that are none; nothing merged yet."""
    folder = ProgramFolder(tmp_path_factory.mktemp("sent"))
    people = [{"merchandiser": f"Person {number}"} for number in range(1, len(CASES) + 1)]
    stores = [
        {"store": f"{number:03d}", "name": case.name, "merchandiser": f"Person {number}"}
        for number, case in enumerate(CASES, start=1)
    ]
    folder.setup.write_bytes(setup_workbook(WORDS, {**CONTENT, "stores": stores, "merchandisers": people}))
    folder.returns.mkdir()
    issued = issue(folder, Order(now=dt.datetime(2026, 3, 1, tzinfo=dt.UTC)), WORDS)
    for case, book in zip(CASES, issued.books, strict=True):
        data = (folder.root / book.file).read_bytes()
        (folder.returns / f"{case.name}.xlsx").write_bytes(fill(data, answers(case), SAVED))
    (folder.returns / "empty.xlsx").write_bytes(b"")
    (folder.returns / "cut.xlsx").write_bytes((folder.returns / "all is well.xlsx").read_bytes()[:9_000])
    (folder.returns / "a text.xlsx").write_text("store,answer", encoding="utf-8")
    return folder


@pytest.fixture
def folder(sent: ProgramFolder) -> Iterator[ProgramFolder]:
    """The same folder, with nothing kept."""
    shutil.rmtree(sent.rollup, ignore_errors=True)
    yield sent
    shutil.rmtree(sent.rollup, ignore_errors=True)


def pack_up(path: Path, reads: Iterable[ReadReturn]) -> None:
    """Keep these results."""
    pack = Pack(RULES)
    for read in reads:
        pack.add(read)
    pack.save(path, WORDS)


def files_of(folder: ProgramFolder) -> list[Path]:
    """All that came back."""
    return sorted(folder.returns.iterdir())


def said_by(intake: Intake) -> tuple[object, ...]:
    """All that an intake says but how many files were read for it."""
    tables = {key: table.whole.to_dicts() for key, table in intake.tables.items()}
    dtypes = {key: table.whole.schema for key, table in intake.tables.items()}
    return intake.results, tables, dtypes, intake.photos


def test_a_merge_reads_only_what_is_new(folder: ProgramFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted where files are read: all of the first, the two new ones of the second, none of the third."""
    read: list[str] = []
    original = workers.read_return
    monkeypatch.setattr(workers, "read_return", lambda data, sha: read.append(sha) or original(data, sha))
    every = files_of(folder)
    for paths, new in ((every[:-2], len(every) - 2), (every, 2), (every, 0)):
        read.clear()
        assert take_in(folder, paths, WORDS, KEEPING).fresh == len(read) == new


def test_the_roll_up_is_the_same_to_the_byte(folder: ProgramFolder) -> None:
    """Workbook and tables written from what was kept equal those of a merge that read everything."""
    for how in (AFRESH, KEEPING, KEEPING):
        write_rollup(folder, take_in(folder, [folder.returns], WORDS, how), AS_OF)
        written = {path.name: path.read_bytes() for path in folder.rollup.iterdir() if path.is_file()}
        assert "rollup.xlsx" in written
        if how is AFRESH:
            expected = written
        assert written == expected


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_whatever_was_merged_before_the_same_is_said(folder: ProgramFolder, data: st.DataObject) -> None:
    """Any returns first, then any others: an intake that knows the first says what one that knows nothing says."""
    every = files_of(folder)
    shutil.rmtree(folder.rollup, ignore_errors=True)
    some = st.lists(st.sampled_from(every), min_size=1, max_size=30, unique=True)
    take_in(folder, data.draw(some), WORDS, KEEPING)
    then = data.draw(some)
    assert said_by(take_in(folder, then, WORDS, KEEPING)) == said_by(take_in(folder, then, WORDS, AFRESH))


def test_the_same_content_under_another_name_is_not_read_again(folder: ProgramFolder, tmp_path: Path) -> None:
    """Content counts, not the name; findings name the file as it is called now."""
    take_in(folder, [folder.returns / "no date.xlsx"], WORDS, KEEPING)
    renamed = shutil.copyfile(folder.returns / "no date.xlsx", tmp_path / "renamed.xlsx")
    intake = take_in(folder, [renamed], WORDS, KEEPING)
    assert intake.fresh == 0
    assert {finding.file for finding in intake.findings} == {renamed.as_posix()}


def test_nothing_is_trusted_across_a_change_of_rules(folder: ProgramFolder, tmp_path: Path) -> None:
    """One changed byte in the contract or its words, and everything is read again."""
    before = rules_digest()
    take_in(folder, [folder.returns], WORDS, KEEPING)
    copied = shutil.copytree(templates_folder(), tmp_path / "templates")
    with templates_from(copied):
        assert rules_digest() == before
        (copied / "rules.toml").write_bytes((copied / "rules.toml").read_bytes() + b"\n")
        assert rules_digest() != before
        assert take_in(folder, [folder.returns], WORDS, KEEPING).fresh == len(files_of(folder))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_what_is_damaged_is_passed_over(tmp_path: Path, data: st.DataObject) -> None:
    """Whatever bytes are changed, cut off or put in, packed or inside: the results as they were, or none at all."""
    path = tmp_path / "reads.json.gz"
    reads = [ReadReturn("a" * 64, None, {"store": "001"}, told=3), ReadReturn("b" * 64, Refusal("empty_file"))]
    pack_up(path, reads)
    packed = data.draw(st.booleans(), label="damage the packed bytes")
    whole = path.read_bytes() if packed else gzip.decompress(path.read_bytes())
    start = data.draw(st.integers(0, len(whole)))
    end = data.draw(st.integers(start, len(whole)))
    damaged = whole[:start] + data.draw(st.binary(max_size=20)) + whole[end:]
    path.write_bytes(damaged if packed else gzip.compress(damaged))
    assert load_kept(path, RULES) in ({}, {read.sha256: read for read in reads})


@pytest.mark.parametrize(
    "data", [b"", b"\x1f\x8b", gzip.compress(b"", mtime=0), gzip.compress(b"[" * 100_000, mtime=0), b"x" * 1000]
)
def test_what_is_no_such_file_is_passed_over(data: bytes, folder: ProgramFolder) -> None:
    """A merge goes on and keeps its results in its place."""
    folder.kept_reads.parent.mkdir(parents=True)
    folder.kept_reads.write_bytes(data)
    assert take_in(folder, files_of(folder)[:2], WORDS, KEEPING).fresh == 2
    assert take_in(folder, files_of(folder)[:2], WORDS, KEEPING).fresh == 0


def test_where_nothing_can_be_kept_the_merge_goes_on(folder: ProgramFolder) -> None:
    """A file stands where the folder should be: everything is read, and nothing is raised."""
    folder.kept_reads.parent.parent.mkdir()
    folder.kept_reads.parent.write_bytes(b"in the way")
    assert take_in(folder, files_of(folder)[:2], WORDS, KEEPING).fresh == 2


@pytest.mark.parametrize("rule", ["unreadable", "reader_died", "reader_too_much", "reader_too_slow"])
def test_what_may_pass_is_not_kept(rule: str, tmp_path: Path) -> None:
    """That a file could not be opened or its reader died is tried again by the next merge."""
    pack_up(tmp_path / "kept", [ReadReturn("a" * 64, Refusal(rule)), ReadReturn("", None)])
    assert load_kept(tmp_path / "kept", RULES) == {}


TEXTS = st.text(st.characters(exclude_categories=()), max_size=12)
VALUES = st.one_of(TEXTS, st.integers(), st.floats(allow_nan=False), st.dates(), st.times())
COLUMNS = st.lists(st.none() | VALUES, max_size=6).map(tuple)
PHRASES = st.builds(Phrase, TEXTS, st.dictionaries(TEXTS, VALUES, max_size=2))
KNOWN: dict[type, st.SearchStrategy[Any]] = {
    Finding: st.builds(
        Finding,
        **{one.name: TEXTS for one in fields(Finding) if one.name != "fields"},
        fields=st.dictionaries(TEXTS, VALUES | PHRASES, max_size=3),
    ),
    BlockRead: st.builds(
        BlockRead,
        sheet=TEXTS,
        columns=st.dictionaries(TEXTS, st.integers(0, 99), max_size=4),
        keys=st.lists(TEXTS, max_size=6).map(tuple),
        rows=st.lists(st.integers(0, 9999), max_size=6).map(tuple),
        values=st.dictionaries(TEXTS, COLUMNS, max_size=4),
        broken=st.frozensets(st.tuples(TEXTS, TEXTS), max_size=3),
    ),
}


def of_type(hint: Any) -> st.SearchStrategy[Any]:
    """Any value of a field of ReadReturn."""
    special = {
        dict[str, BlockRead]: st.dictionaries(TEXTS, KNOWN[BlockRead], max_size=3),
        tuple[Finding, ...]: st.lists(KNOWN[Finding], max_size=3).map(tuple),
        Refusal | None: st.none() | st.builds(Refusal, TEXTS.map("no".__add__), TEXTS),
    }
    if hint in special:
        return special[hint]
    if isinstance(hint, type) and issubclass(hint, str | int):
        return TEXTS if hint is str else st.integers()
    return st.dictionaries(TEXTS, VALUES, max_size=4)


READS = st.builds(ReadReturn, **{name: of_type(hint) for name, hint in get_type_hints(ReadReturn).items()})


def typed(value: object) -> object:
    """A value with the types of all that is in it: 1 is not 1.0, and neither is True."""
    if isinstance(value, Mapping):
        return [(key, typed(one)) for key, one in value.items()]
    if isinstance(value, tuple):
        return [typed(one) for one in value]
    if hasattr(value, "__dataclass_fields__"):
        return [type(value), *(typed(getattr(value, one.name)) for one in fields(value))]
    return type(value), value


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(reads=st.lists(READS, max_size=4, unique_by=lambda read: read.sha256))
def test_what_is_kept_comes_back_as_it_was(tmp_path: Path, reads: list[ReadReturn]) -> None:
    """Every field of every result, to the type, whatever texts and numbers stand in it."""
    pack_up(tmp_path / "kept", reads)
    kept = load_kept(tmp_path / "kept", RULES)
    assert {sha: typed(read) for sha, read in kept.items()} == {one.sha256: typed(one) for one in reads if one.sha256}


def test_columns_that_many_returns_share_are_kept_once(folder: ProgramFolder) -> None:
    """Results that say the same hold the very same column, whether read now or kept."""
    for _ in range(2):
        known = load_kept(folder.kept_reads, rules_digest())
        take_in(folder, [folder.returns], WORDS, KEEPING)
        codes = {id(read.blocks["positions"].values["item_code"]) for read in known.values() if read.blocks}
        assert len(codes) == bool(known)


def test_tables_of_a_kept_merge_have_the_same_types(folder: ProgramFolder) -> None:
    """Nothing turns into another type on the way through the file."""
    first = take_in(folder, [folder.returns], WORDS, KEEPING).tables
    again = take_in(folder, [folder.returns], WORDS, KEEPING).tables
    for key, pieces in first.items():
        table, same = pieces.whole, again[key].whole
        assert isinstance(table, pl.DataFrame)
        assert table.equals(same)
        assert table.schema == same.schema
