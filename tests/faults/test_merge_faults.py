"""Whatever lies in returns/, a merge ends, every file has one outcome with its reason, and good answers are in.

`MUTATED_RETURNS=20000 pytest tests/faults/test_merge_faults.py` reads that many mutated returns instead of 2,000.
"""

from __future__ import annotations

import csv
import errno
import multiprocessing
import os
import random
import re
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from xml.sax.saxutils import escape

import openpyxl
import polars as pl
import pytest

from tests.faults.hostile import HOSTILE
from tests.faults.packages import entry, pack
from tests.returns.scene import Scene, parts_of, with_cell
from tests.small_program import WORDS
from workbook_tools.contract.guard import REFUSALS
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder
from workbook_tools.returns import intake as intake_module
from workbook_tools.returns.candidate import Candidate
from workbook_tools.returns.intake import count_outcomes, take_in
from workbook_tools.returns.read import ReadReturn
from workbook_tools.returns.workers import SECONDS_A_FILE, read_candidate
from workbook_tools.rollup.merge import merge
from workbook_tools.rollup.write import write_rollup

pytestmark = pytest.mark.processes

MUTATED = int(os.environ.get("MUTATED_RETURNS", "2000"))
SEED = 20_260_303
BATCH = 250
AS_MAIL = {"mail": "nothing_attached"}
"""Files in which returns are looked for: they get a reason of their own."""
INVISIBLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


@pytest.fixture(scope="module")
def issued(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    """The small program, issued once."""
    return Scene(tmp_path_factory.mktemp("faults"))


@pytest.fixture
def scene(issued: Scene) -> Scene:
    """The small program with nothing in returns/."""
    issued.clear()
    return issued


@pytest.fixture(scope="module")
def good(issued: Scene) -> bytes:
    """A good return of store 001."""
    return issued.filled("001")


def read(data: bytes) -> ReadReturn:
    """One file read in this process, the guard first."""
    found = read_candidate(Candidate(origin="returns/x.xlsx", received="2026-03-04T00:00:00Z", data=data))
    assert isinstance(found, ReadReturn)
    return found


def assert_refused_or_unchanged(data: bytes, whole: ReadReturn, what: object) -> None:
    """A damaged file is refused for a known reason, or says all that it said."""
    found = read(data)
    if found.refusal:
        assert found.refusal.rule in REFUSALS, what
    else:
        assert (found.answers, found.identity) == (whole.answers, whole.identity), what


def test_hostile_files_beside_good_returns_do_no_harm(scene: Scene) -> None:
    """All of them at once, in worker processes: good answers are in, each other file is set aside for its reason."""
    names = {f"h{number:03d}": name for number, name in enumerate(HOSTILE)}
    scene.put(**{short: HOSTILE[name][0]() for short, name in names.items()})
    scene.put(**{f"good{store}": scene.filled(store) for store in scene.books})
    intake = take_in(scene.folder, [scene.folder.returns], WORDS)
    assert sum(count_outcomes(intake.results).values()) == len(intake.results)
    found: dict[str, list[str]] = {}
    for one in intake.results:
        found.setdefault(Path(one.file.split(" → ")[0]).stem, []).append(one.outcome)
        if one.outcome == "set aside":
            reason = str(one.row(WORDS)["reason"])
            assert reason.endswith("."), reason
            assert "{" not in reason
            assert "Traceback" not in reason
    assert [found.pop(f"good{store}") for store in scene.books] == [["merged"]] * len(scene.books)
    assert {names[short] for short in names if short not in found} == {"picture", "zip of photos"}
    assert intake.photos == 3
    assert {outcome for outcomes in found.values() for outcome in outcomes} == {"set aside"}
    by_file = {one.file: one.reason for one in intake.results}
    for short, name in names.items():
        expected = HOSTILE[name][1]
        reason = by_file.get(f"returns/{short}.xlsx")
        if expected and reason is not None:
            assert getattr(reason, "rule", "") == AS_MAIL.get(name, expected), name
    merge(intake, intake.program.settings.due)


def test_a_return_cut_anywhere_is_refused(good: bytes) -> None:
    """A real return cut at each per cent of its length, and the whole one."""
    passed = [percent for percent in range(100) if read(good[: len(good) * percent // 100]).refusal is None]
    assert passed == []
    assert read(good).refusal is None


def test_a_changed_byte_never_changes_an_answer(good: bytes) -> None:
    """At 300 places of a real return: it is refused, or says what it said."""
    rng, whole = random.Random(SEED), read(good)
    for place in rng.sample(range(len(good)), 300):
        damaged = bytearray(good)
        damaged[place] ^= rng.randrange(1, 256)
        assert_refused_or_unchanged(bytes(damaged), whole, place)


@pytest.mark.parametrize("how", ["removed", "renamed", "doubled", "emptied"])
def test_a_part_of_a_return_removed_renamed_doubled_or_emptied_never_changes_an_answer(good: bytes, how: str) -> None:
    """Every part of a real return, one after another."""
    parts, whole = parts_of(good), read(good)
    entries = {name: entry(name, data, 1) for name, data in parts.items()}
    for name in parts:
        made = dict(entries)
        if how == "removed":
            del made[name]
        elif how != "doubled":
            made[name] = entry(f"{name}x", parts[name], 1) if how == "renamed" else entry(name, b"")
        data = pack([*made.values(), *([entries[name]] if how == "doubled" else [])])
        assert_refused_or_unchanged(data, whole, name)


PIECES = (b"", b"<", b">", b'"', b"\0", b"&", b"<c", b"</row>", b' t="s"', b' t="e"', b"<v>999999</v>", b"#book", b"-1")


def mutated(good: bytes, count: int) -> Iterator[bytes]:
    """Returns whose parts had pieces cut out, doubled, moved or overwritten; every zip is sound."""
    rng = random.Random(SEED)
    parts = {name: data for name, data in parts_of(good).items() if not name.startswith(("xl/media/", "xl/drawings/"))}
    entries = {name: entry(name, data, 1) for name, data in parts.items()}
    likely = [name for name in parts if "worksheets/sheet" in name or "strings" in name.lower() or "workbook" in name]
    for _ in range(count):
        name = rng.choice(likely if rng.random() < 0.9 else list(parts))
        xml = parts[name]
        for _ in range(rng.choice((1, 1, 2, 5))):
            start = rng.randrange(len(xml) + 1)
            end = min(len(xml), start + rng.choice((0, 1, 3, 20, 200, 5000)))
            piece = rng.choice((*PIECES, xml[start:end] * 2, bytes([rng.randrange(256)]), xml[end : end + 300]))
            xml = xml[:start] + piece + xml[end:]
        yield pack(entry(name, xml, 1) if one == name else packed for one, packed in entries.items())


def test_mutated_returns_never_stop_a_merge(scene: Scene, good: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    """In batches beside a good return: no exception, no file without an outcome, none that takes long."""
    sound = Candidate(origin="returns/good.xlsx", received="2026-03-04T00:00:00Z", data=scene.filled("002"))
    books = mutated(good, MUTATED)
    outcomes: dict[str, int] = {}
    for start in range(0, MUTATED, BATCH):
        batch = [data for _, data in zip(range(BATCH), books, strict=False)]
        candidates = [
            Candidate(origin=f"returns/{start + number}.xlsx", received="2026-03-04T00:00:00Z", data=data)
            for number, data in enumerate(batch)
        ]
        monkeypatch.setattr(intake_module, "collect", lambda *_, found=(*candidates, sound): found)
        began = time.monotonic()
        taken = take_in(scene.folder, [], WORDS)
        assert time.monotonic() - began < SECONDS_A_FILE * 2
        counted = count_outcomes(taken.results)
        assert sum(counted.values()) == len(batch) + 1
        assert taken.results[-1].outcome == "merged"
        assert "reader_died" not in {getattr(one.reason, "rule", "") for one in taken.results}
        merge(taken, taken.program.settings.due)
        outcomes = {key: outcomes.get(key, 0) + count for key, count in counted.items()}
    assert outcomes["set aside"] > MUTATED / 10
    assert outcomes["superseded"] + outcomes["duplicate"] > MUTATED / 10


# -- what is written


def rollup_files(folder: ProgramFolder) -> dict[str, bytes]:
    """What lies in rollup/, by name; files that were being written have names of their own."""
    return {path.name: path.read_bytes() for path in folder.rollup.iterdir() if not path.name.startswith(".")}


def write(scene: Scene) -> None:
    """Merge what lies in returns/."""
    taken = scene.take_in()
    write_rollup(scene.folder, taken, taken.program.settings.due)


def replaced(nth: int, instead: Callable[[], None]) -> Callable[[Path, Path], Path]:
    """A stand-in for Path.replace that does something else at the nth file put into its place, counted from 0."""
    real, count = Path.replace, iter(range(1_000))

    def replace(self: Path, target: Path) -> Path:
        if next(count) == nth:
            instead()
        return real(self, target)

    return replace


def disk_full() -> None:
    """What a full disk says."""
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_full_disk_leaves_every_file_whole(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whichever of the files cannot be written: it says so, and each is as it was or as it should become."""
    scene.put(one=scene.filled("001"))
    write(scene)
    old = rollup_files(scene.folder)
    scene.put(two=scene.filled("002", positions={"A-1-1": {"as_planned": None}}))
    taken = scene.take_in()
    for nth in range(len(old)):
        with monkeypatch.context() as patch:
            patch.setattr(Path, "replace", replaced(nth, disk_full))
            with pytest.raises(FolderError, match="No space left"):
                write_rollup(scene.folder, taken, taken.program.settings.due)
        found = rollup_files(scene.folder)
        assert found.keys() == old.keys()
        assert nth or found == old
        assert not [path for path in scene.folder.rollup.iterdir() if path.name.startswith(".") and path.is_file()]
        with zipfile.ZipFile(scene.folder.rollup / "rollup.xlsx") as archive:
            assert archive.testzip() is None
    write(scene)
    assert rollup_files(scene.folder)["files.csv"] != old["files.csv"]


def merge_and_die(root: str, nth: int) -> None:
    """In a process of its own: a merge that is killed when it puts its nth file into its place."""
    Path.replace = replaced(nth, lambda: os._exit(9))  # type: ignore[method-assign]
    folder = ProgramFolder(Path(root))
    taken = take_in(folder, [folder.returns], WORDS)
    write_rollup(folder, taken, taken.program.settings.due)


def test_a_killed_merge_leaves_the_roll_up_whole(scene: Scene) -> None:
    """Killed before the first file is in its place, nothing is changed, and the next merge does it all."""
    scene.put(one=scene.filled("001"))
    write(scene)
    old = rollup_files(scene.folder)
    scene.put(two=scene.filled("002"))
    process = multiprocessing.get_context("spawn").Process(target=merge_and_die, args=(str(scene.folder.root), 0))
    process.start()
    process.join(60)
    assert process.exitcode == 9
    assert rollup_files(scene.folder) == old
    write(scene)
    assert b"returns/two.xlsx" in rollup_files(scene.folder)["files.csv"]


TEXTS = (
    *("=1+1", "@x", "-5", "+1", '=HYPERLINK("http://example.com")', "\t=2", "\uff1d1+1", 'a\nb,"c"'),
    *("_x0007_bell", "_x000B_tab_x0000_"),
)
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


@pytest.mark.filterwarnings("ignore:.*not supported and will be removed:UserWarning")
def test_no_text_from_the_field_becomes_a_formula_or_breaks_a_table(scene: Scene) -> None:
    """In notes, names and codes: texts stay texts in the workbook, and tables keep their columns."""
    book = scene.filled("001", visit={"built": "partly", "carton": "damaged"})
    keys = ("A-1-1", "A-1-2", "A-2-1", "A-2-2", "B-1-1", "B-1-2", "B-2-1", "B-2-2")
    places = [("positions", key, "note") for key in keys] + [
        ("visit", "why_not", "answer"),
        ("visit", "note", "answer"),
    ]
    more = [("visit", "merchandiser", "answer"), ("visit", "spoke_to", "answer"), ("visit", "time_in", "answer")]
    codes = [("positions", key, field) for key in keys[1:4] for field in ("tag_code", "other_item", "label", "units")]
    for place, text in (*zip(places, TEXTS, strict=True), *((place, "=1+1") for place in (*more, *codes))):
        inside = f't="inlineStr"><is><t xml:space="preserve">{escape(text)}</t></is>'
        book = with_cell(book, *place, inside)
    scene.put(one=book)
    write(scene)
    workbook = openpyxl.load_workbook(scene.folder.rollup / "rollup.xlsx")
    cells = [cell for sheet in workbook for row in sheet.iter_rows() for cell in row if cell.value is not None]
    texts = [cell.value for cell in cells if isinstance(cell.value, str) and cell.data_type != "f"]
    formulas = [str(cell.value) for cell in cells if cell.data_type == "f"]
    assert any("=1+1" in text for text in texts)
    notes = pl.read_parquet(scene.folder.rollup / "positions.parquet")["note"].to_list()
    assert {"=1+1", "@x", "-5", "+1"} <= set(notes)
    assert [one for one in formulas if any(text in one for text in ("=1+1", "@x", "example.com", "=2"))] == []
    assert [text for text in texts if INVISIBLE.search(text)] == []
    for path in scene.folder.rollup.glob("*.csv"):
        with path.open(encoding="utf-8-sig", newline="") as stream:
            heading, *rows = csv.reader(stream)
        assert {len(row) for row in rows} <= {len(heading)}, path.name
        values = [value for row in rows for value in row]
        assert [one for one in values if one.startswith(STARTS_A_FORMULA) and not is_number(one)] == [], path.name
        assert [one for one in values if INVISIBLE.search(one)] == [], path.name


def is_number(text: str) -> bool:
    """True for a plain number, which a table may hold as such."""
    return bool(re.fullmatch(r"-?\d+(\.\d+)?", text))
