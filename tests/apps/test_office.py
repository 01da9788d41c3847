"""The drivers do what a person at the program would see done, tell what was refused, and leave nothing running."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable
from datetime import date, datetime, time
from pathlib import Path
from typing import get_args

import pytest
import xlsxwriter
from PIL import Image
from python_calamine import CalamineWorkbook

from tests.apps import needed, office_process, render
from tests.apps.gnumeric import Gnumeric, GnumericError
from tests.apps.office import Edit, ErrorCell, Format, Office, Value
from tests.apps.office_process import OfficeCrashError, OfficeError, OfficeProcess, OfficeTimeoutError

GTIN = "00012345678905"
LETTER_LANDSCAPE = (1056, 816)  # 11 x 8.5 inches at 96 dpi
HEADING_FILL, NO_GRID = (32, 64, 96), 2
STALE = 777


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small protected book.

    Form: A1 locked, B1:B3 open (B2 text), C1 = B1*2 with a wrong stored result, D1 true, D2 an error, E1:F2 open and
    merged, row 5 and column H open and hidden, row 1 filled and frozen, three pages. Keys: no locked cell may be
    selected. Lists: hidden.
    """
    path = tmp_path_factory.mktemp("book") / "small ü.xlsx"
    workbook = xlsxwriter.Workbook(path)
    opened = workbook.add_format({"locked": False})
    write_form(workbook, opened)
    keys = workbook.add_worksheet("Keys")
    keys.write_string("A1", "locked")
    keys.write_blank("B1", None, opened)
    keys.protect("", {"select_locked_cells": False})
    lists = workbook.add_worksheet("Lists")
    lists.write_string("A1", "yes", opened)
    lists.hide()
    workbook.close()
    return path


def write_form(workbook: xlsxwriter.Workbook, opened: xlsxwriter.format.Format) -> None:
    """The sheet Form, as `book` describes it."""
    form = workbook.add_worksheet("Form")
    heading = workbook.add_format({"bg_color": "#{:02x}{:02x}{:02x}".format(*HEADING_FILL), "font_color": "white"})
    form.set_row(0, 24, heading)
    form.write_string("A1", "locked", heading)
    form.write_blank("B1", None, opened)
    form.write_blank("B2", None, workbook.add_format({"locked": False, "num_format": "@"}))
    form.write_number("B3", 5, opened)
    form.write_formula("C1", "=B1*2", heading, STALE)
    form.write_boolean("D1", True)
    form.write_formula("D2", "=NA()", None, "#N/A")
    form.merge_range("E1:F2", "merged", opened)
    form.write_string("A5", "hidden row", opened)
    form.set_row(4, None, None, {"hidden": True})
    form.write_string("H3", "hidden column", opened)
    form.set_column("H:H", None, None, {"hidden": True})
    for row in (30, 60):
        form.write_string(row, 0, f"page {row // 30 + 1}")
    form.set_h_pagebreaks([30, 60])
    form.freeze_panes(1, 0)
    form.hide_gridlines(NO_GRID)
    form.set_landscape()
    form.set_paper(1)
    form.protect()


def saved_rows(path: Path, sheet: str) -> list[list[object]]:
    """What another reader finds stored in a sheet, from A1; a blank cell is ""."""
    rows = CalamineWorkbook.from_path(path).get_sheet_by_name(sheet).to_python(skip_empty_area=False)
    return [list(row) for row in rows]


def saved(path: Path, sheet: str, row: int, column: int) -> object:
    """What another reader finds stored in a cell; row and column from 0."""
    return saved_rows(path, sheet)[row][column]


def page_count(pdf: Path) -> int:
    """The number of pages, by poppler's pdfinfo."""
    done = subprocess.run([needed.needed_tool("pdfinfo"), pdf], capture_output=True, text=True, check=True)
    [pages] = [line.split()[1] for line in done.stdout.splitlines() if line.startswith("Pages:")]
    return int(pages)


def test_text_typed_into_an_open_cell_is_saved_and_formulas_follow(office: Office, book: Path, tmp_path: Path) -> None:
    """The report gives the value before and after, and another reader finds it in the saved book."""
    report = office.edit(book, tmp_path / "out.xlsx", [Edit("Form", "B1", "12"), Edit("Keys", "B1", "yes")])
    assert [(result.before, result.after, result.refused) for result in report.results] == [
        (None, 12.0, False),
        (None, "yes", False),
    ]
    assert report.refused == ()
    assert saved(report.target, "Form", 0, 1) == 12
    assert saved(report.target, "Form", 0, 2) == 24
    assert saved(report.target, "Keys", 0, 1) == "yes"


@pytest.mark.parametrize(
    ("sheet", "cell", "reason", "before"),
    [
        ("Form", "A1", "locked", "locked"),
        ("Form", "C1", "locked", 0.0),
        ("Form", "Z9", "locked", None),
        ("Keys", "A1", "locked", "locked"),
        ("Lists", "A1", "hidden", "yes"),
        ("Form", "A5", "hidden", "hidden row"),
        ("Form", "H3", "hidden", "hidden column"),
        ("Form", "F2", "merged", None),
    ],
)
def test_typing_where_a_person_cannot_is_refused_with_a_reason(
    office: Office, book: Path, tmp_path: Path, sheet: str, cell: str, reason: str, before: Value
) -> None:
    """Nothing changes, not even the cell at which the cursor stood, and the next edit is taken."""
    edits = [Edit("Form", "B1", "0"), Edit(sheet, cell, "typed"), Edit("Form", "B3", "6")]
    report = office.edit(book, tmp_path / "out.xlsx", edits)
    [refused] = report.refused
    assert (refused.edit, refused.reason, refused.before, refused.after) == (edits[1], reason, before, before)
    rows = [row for name in ("Form", "Keys", "Lists") for row in saved_rows(report.target, name)]
    assert (rows[0][1], rows[2][1]) == (0, 6)
    assert not [row for row in rows if "typed" in row]


@pytest.mark.parametrize(
    ("cell", "text", "value"),
    [
        ("B1", "7", 7.0),
        ("B1", "0.5", 0.5),
        ("B1", "7,5", "7,5"),
        ("B1", "3/4/2025", date(2025, 3, 4)),
        ("B1", "10:30", time(10, 30)),
        ("B1", "3/4/2025 10:30", datetime(2025, 3, 4, 10, 30)),
        ("B1", "TRUE", True),
        ("B1", "=1/0", ErrorCell("#DIV/0!")),
        ("B1", GTIN, float(GTIN)),
        ("B2", GTIN, GTIN),
        ("B2", "=1+1", "=1+1"),
        ("B3", "", None),
        ("B3", "Zoë “ok”\u00a0✓", "Zoë “ok”\u00a0✓"),
    ],
)
def test_typed_text_becomes_what_the_program_takes_it_for(
    office: Office, book: Path, tmp_path: Path, cell: str, text: str, value: Value
) -> None:
    """Numbers, dates, times and true/false by the locale; text in a text cell; an empty text clears."""
    [result] = office.edit(book, tmp_path / "out.xlsx", [Edit("Form", cell, text)]).results
    assert result.after == value
    assert type(result.after) is type(value)
    assert not result.refused


def test_two_offices_run_side_by_side_each_in_its_own_locale(office: Office, book: Path, tmp_path: Path) -> None:
    """A decimal comma and a day before its month are understood in the German one, while the other goes on."""
    edits = [Edit("Form", "B1", "7,5"), Edit("Form", "B3", "4.3.2025")]
    first = office.edit(book, tmp_path / "en.xlsx", edits)
    with Office(office.soffice, office.python, "de-DE") as german:
        second = german.edit(book, tmp_path / "de.xlsx", edits)
        assert office.edit(book, tmp_path / "again.xlsx", edits).results == first.results
        assert german.pid != office.pid
    assert [result.after for result in first.results] == ["7,5", "4.3.2025"]
    assert [result.after for result in second.results] == [7.5, date(2025, 3, 4)]


def test_many_books_in_one_go_come_back_in_their_order(office: Office, book: Path, tmp_path: Path) -> None:
    """Each job's edits go to its own target."""
    jobs = [(book, tmp_path / f"{number}.xlsx", [Edit("Form", "B1", str(number))]) for number in range(3)]
    reports = office.edit_many(jobs)
    assert [report.target for report in reports] == [target for _, target, _ in jobs]
    assert [saved(report.target, "Form", 0, 1) for report in reports] == [0, 1, 2]
    assert office.edit_many([]) == []


@pytest.mark.parametrize(("recalculate", "stored"), [(False, STALE), (True, 0)])
def test_a_wrong_stored_result_stays_until_it_is_recalculated(
    office: Office, book: Path, tmp_path: Path, recalculate: bool, stored: int
) -> None:
    """As it does for a person who opens a book and saves it."""
    target = office.resave(book, tmp_path / "out.xlsx", recalculate=recalculate)
    assert saved(target, "Form", 0, 2) == stored


@pytest.mark.parametrize("file_format", get_args(Format))
def test_values_survive_a_resave_in_every_format(
    office: Office, book: Path, tmp_path: Path, file_format: Format
) -> None:
    """Text with leading zeros, numbers, dates, true/false, an error and what stands on a hidden sheet."""
    edits = [Edit("Form", "B2", GTIN), Edit("Form", "B3", "3/4/2025"), Edit("Keys", "B1", "10:30")]
    filled = office.edit(book, tmp_path / "filled.xlsx", edits).target
    target = office.resave(filled, tmp_path / f"out.{file_format}", file_format)
    rows = office.values(target, "Form")
    assert rows[0][:6] == ["locked", None, 0.0, True, "merged", None]
    assert rows[1][:4] == [None, GTIN, None, ErrorCell("#N/A")]
    assert rows[2][1] == date(2025, 3, 4)
    assert office.values(target, "Keys") == [["locked", time(10, 30)]]
    assert office.values(target, "Lists") == [["yes"]]


@pytest.mark.parametrize(("sheet", "pages"), [(None, 4), ("Form", 3), ("Keys", 1), ("Lists", 1)])
def test_a_pdf_has_the_pages_of_the_sheets_asked_for(
    office: Office, book: Path, tmp_path: Path, sheet: str | None, pages: int
) -> None:
    """All sheets that are not hidden, or one alone, hidden or not; broken where the page set-up breaks it."""
    assert page_count(office.pdf(book, tmp_path / "out.pdf", sheet)) == pages


@pytest.mark.parametrize(("dpi", "scale"), [(96, 1), (192, 2)])
def test_a_rendered_page_is_as_large_as_its_paper(
    office: Office, book: Path, tmp_path: Path, dpi: int, scale: int
) -> None:
    """One PNG a page, in order, named after the book and the sheet; letter, landscape, at the resolution asked for."""
    needed.needed_tool("pdftoppm")
    pages = render.render(office, book, tmp_path / "new" / "folder", "Form", dpi)
    assert [page.name for page in pages] == [f"small ü-Form-{number}.png" for number in (1, 2, 3)]
    width, height = LETTER_LANDSCAPE
    for page in pages:
        with Image.open(page, formats=["PNG"]) as picture:
            assert picture.size == (width * scale, height * scale)


def test_a_screenful_begins_at_the_first_cell_and_keeps_what_is_frozen(
    office: Office, book: Path, tmp_path: Path
) -> None:
    """The filled heading row reaches from edge to edge at the top of each screenful; print breaks do not count."""
    needed.needed_tool("pdftoppm")
    pages = render.render(office, book, tmp_path, "Form", screen=(300, 400))
    assert len(pages) > 1
    for page in pages:
        with Image.open(page, formats=["PNG"]) as picture:
            assert picture.size == (300, 400)
            assert picture.convert("RGB").getpixel((2, 2)) == HEADING_FILL
            assert picture.convert("RGB").getpixel((2, 60)) == (255, 255, 255)


def test_the_picture_command_lists_what_it_made(
    office: Office, book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit status 0 and the paths; 2 and one line that names the book and the reason where it cannot be done."""
    needed.needed_tool("pdftoppm")
    assert render.main([str(book), str(tmp_path), "--sheet", "Keys", "--dpi", "50"]) == 0
    assert capsys.readouterr().out == f"{tmp_path / 'small ü-Keys-1.png'}\n"
    assert render.main([str(book), str(tmp_path), "--sheet", "Nowhere"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert str(book) in told.err
    assert "'Nowhere'" in told.err
    assert "Form, Keys, Lists" in told.err


@pytest.mark.parametrize(
    ("content", "edit", "told"),
    [
        (None, Edit("Form", "B1", "1"), "no such file"),
        (b"no spreadsheet", Edit("Form", "B1", "1"), ""),
        (b"%PDF-1.4", Edit("Form", "B1", "1"), ""),
        ("book", Edit("Nowhere", "B1", "1"), "no sheet 'Nowhere'"),
        ("book", Edit("Form", "B1:B2", "1"), "not the address of one cell"),
        ("book", Edit("Form", "b1", "1"), "not the address of one cell"),
    ],
)
def test_what_cannot_be_done_is_an_error_that_names_the_book(
    office: Office, book: Path, tmp_path: Path, content: bytes | str | None, edit: Edit, told: str
) -> None:
    """Nothing is saved, and the next call finds the program in order."""
    source = book if content == "book" else tmp_path / "source.xlsx"
    if isinstance(content, bytes):
        source.write_bytes(content)
    with pytest.raises(OfficeError) as caught:
        office.edit(source, tmp_path / "out.xlsx", [edit])
    assert str(caught.value).startswith(f"{source}: ")
    assert told in str(caught.value)
    assert not (tmp_path / "out.xlsx").exists()
    assert office.values(book, "Lists") == [["yes"]]


def remains(group: int) -> list[str]:
    """The processes of a process group that still run, as `ps` lists them."""
    listed = subprocess.run(["ps", "-A", "-o", "pgid=,stat=,comm="], capture_output=True, text=True, check=True)
    rows = [line.split(None, 2) for line in listed.stdout.splitlines()]
    return [" ".join(row) for row in rows if row[0] == str(group) and not row[1].startswith("Z")]


def run_out_of_time(process: OfficeProcess) -> None:
    """A call that LibreOffice cannot finish in time."""
    with pytest.raises(OfficeTimeoutError):
        process.ask([], 0.001)


@pytest.mark.skipif(os.name == "nt", reason="process groups are listed by ps, which Windows has not")
@pytest.mark.parametrize("finish", [OfficeProcess.close, run_out_of_time])
def test_nothing_is_left_after_the_end(office: Office, finish: Callable[[OfficeProcess], None]) -> None:
    """No process, profile or pipe after `close` or a call that took too long; all are seen to be there before."""
    process = OfficeProcess(office.soffice, office.python, "en-US")
    try:
        assert process.ask([], 30) == {"results": []}
        assert remains(process.process.pid)
        assert all(trace.exists() for trace in process.traces)
        finish(process)
        assert remains(process.process.pid) == []
        assert not process.alive
        assert not [trace for trace in process.traces if trace.exists()]
    finally:
        process.kill()


def test_after_a_call_that_took_too_long_the_next_one_starts_anew(office: Office, book: Path) -> None:
    """The limit holds for the first call as well, once the time to start is over."""
    with Office(office.soffice, office.python) as other:
        assert other.values(book, "Lists") == [["yes"]]
        first, other.limit = other.pid, 0.001
        with pytest.raises(OfficeTimeoutError):
            other.values(book, "Lists")
        assert other.pid is None
        other.limit = 60
        assert other.values(book, "Lists") == [["yes"]]
        assert other.pid not in (None, first)


@pytest.mark.skipif(os.name == "nt", reason="a process ends by a signal only elsewhere")
def test_what_a_crash_left_without_answer_is_asked_once_more(
    office: Office, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The script that speaks to LibreOffice dies at its first call only; a second crash is an error."""
    crash = "import os, pathlib, runpy, signal, sys\nonce = pathlib.Path(__file__ + '.once')\n"
    crash += "if not once.exists():\n    once.touch()\n    os.kill(os.getpid(), signal.SIGKILL)\n"
    script = tmp_path / "crashing.py"
    script.write_text(f"{crash}runpy.run_path({str(office_process.SERVER)!r}, run_name='__main__')\n")
    monkeypatch.setattr(office_process, "SERVER", script)
    with Office(office.soffice, office.python) as other:
        assert other.values(book, "Lists") == [["yes"]]
        script.write_text("import os, signal\nos.kill(os.getpid(), signal.SIGKILL)\n")
        with pytest.raises(OfficeCrashError):
            other.values(book, "Lists")


@pytest.mark.parametrize(("ci", "outcome"), [("true", pytest.fail.Exception), ("", pytest.skip.Exception)])
def test_a_missing_program_fails_in_ci_and_is_skipped_elsewhere(
    monkeypatch: pytest.MonkeyPatch, ci: str, outcome: type[BaseException]
) -> None:
    """With a reason that names it."""
    monkeypatch.setenv("CI", ci)
    with pytest.raises(outcome, match="no-such-program is not installed"):
        needed.needed_tool("no-such-program")


def test_gnumeric_keeps_text_numbers_and_stored_results(gnumeric: Gnumeric, book: Path, tmp_path: Path) -> None:
    """Resaved as it is, the wrong stored result stays; recalculated, it is put right."""
    kept = gnumeric.resave(book, tmp_path / "kept.xlsx")
    right = gnumeric.resave(book, tmp_path / "right.xlsx", recalculate=True)
    assert [saved(path, "Form", 0, 2) for path in (kept, right)] == [STALE, 0]
    assert (saved(kept, "Form", 0, 0), saved(kept, "Form", 2, 1)) == ("locked", 5)


def test_gnumeric_says_which_book_it_could_not_open(gnumeric: Gnumeric, tmp_path: Path) -> None:
    """Its own words are kept in the error."""
    source = tmp_path / "cut.xlsx"
    source.write_bytes(b"PK\x03\x04")
    with pytest.raises(GnumericError, match=r"cut\.xlsx: ."):
        gnumeric.resave(source, tmp_path / "out.xlsx")
