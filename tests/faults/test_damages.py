"""Each damage that spreadsheet programs, readers and mails were seen to do is a case somewhere; here is the list.

`VALUES` and `FILES` name every damage and the test that holds against it; what no other test holds is tried here, on a
real return: what is sure is read as meant, and nothing else is.
"""

from __future__ import annotations

import datetime as dt
import importlib
import re
from collections.abc import Callable, Mapping

import pytest

from tests.faults.hostile import HOSTILE
from tests.faults.packages import STRINGS, made, strings
from tests.returns.scene import Scene, changed, part_of, rules, with_cell
from tests.small_program import differs
from workbook_tools.contract.guard import guard
from workbook_tools.returns.judge import FileResult
from workbook_tools.returns.read import ReadReturn, read_return

OTHER = {"label": "Pellwood", "tag": "on tray", "product": "other item"}


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    """The small program, issued."""
    return Scene(tmp_path_factory.mktemp("damages"))


def told(data: bytes, block: str, row: str, field: str) -> object:
    """What a return says in one cell, as it was read."""
    read: ReadReturn = read_return(data, "")
    assert read.refusal is None, read.refusal
    found = read.blocks[block]
    return dict(zip(found.keys, found.values[field], strict=True)).get(row)


def cell(scene: Scene, place: tuple[str, str, str], inside: str) -> bytes:
    """A good return with one cell's XML otherwise."""
    return with_cell(scene.filled(positions={"A-1-1": differs(**OTHER, other_item="000102")}), *place, inside)


def text(words: str, attributes: str = "") -> str:
    """The XML of a cell that holds a text."""
    return f't="inlineStr"><is><t{attributes}>{words}</t></is>'


NOTE = ("positions", "A-1-1", "note")
CODE = ("positions", "A-1-1", "other_item")
UNITS = ("positions", "A-1-1", "units")
DAY = ("visit", "visit_date", "answer")

# name: (cell, what stands in it, what is read there, the rules of the findings)
CELLS: Mapping[str, tuple[tuple[str, str, str], str, object, list[str]]] = {
    "a code as a number": (CODE, "><v>102</v>", "102", ["number_as_text", "zeros_restored"]),
    "a code of twenty digits as a number": (
        CODE,
        "><v>1.2345678901234567e+19</v>",
        "1.2345678901234567e+19",
        ["code_shortened", "number_as_text"],
    ),
    "leading zeros in a text": (CODE, text("000102"), "000102", []),
    "N/A": (NOTE, text("N/A"), "N/A", []),
    "None": (NOTE, text("None"), "None", []),
    "nan": (NOTE, text("nan"), "nan", []),
    "null": (NOTE, text("null"), "null", []),
    "spaces that are not kept": (NOTE, text("  no room "), "no room", []),
    "spaces that are kept": (NOTE, text("  no room ", ' xml:space="preserve"'), "no room", ["spaces_removed"]),
    "an escaped line end": (NOTE, text("no_x000D_room"), "no\nroom", []),
    "a formula with a stored result": (UNITS, "><f>2*2</f><v>4</v>", 4, []),
    "a stale result": (UNITS, "><f>2*2</f><v>3</v>", 3, []),
    "day 0": (DAY, "><v>0</v>", None, ["not_a_date"]),
    "a day before the first": (DAY, "><v>-5</v>", None, ["not_a_date"]),
    "a day beyond all calendars": (DAY, "><v>1e18</v>", None, ["not_a_date"]),
    "29 February 1900": (DAY, "><v>60</v>", None, ["not_a_date"]),
    "a day in a cell for numbers": (DAY, "><v>46084</v>", dt.date(2026, 3, 3), ["number_as_date"]),
    "pasted over, format and lock lost": (("positions", "A-1-1", "as_planned"), text("no"), "no", []),
}


@pytest.mark.parametrize("name", CELLS)
def test_a_damaged_cell_is_read_as_it_is_meant_or_goes_back(name: str, scene: Scene) -> None:
    """What the reader gives, and what is found."""
    place, inside, meant, expected = CELLS[name]
    data = cell(scene, place, inside)
    data = unstyled(data, place) if place == DAY else data
    assert told(data, *place) == meant
    result = scene.only(data)
    assert sorted(set(rules(result.findings)) - {"required"}) == expected
    assert result.outcome == ("merged" if not {"not_a_date", "code_shortened"} & set(expected) else "to correct")


def unstyled(data: bytes, place: tuple[str, str, str]) -> bytes:
    """The same without the cell's format, as a number typed into a cell for numbers."""
    sheet = part_of(data, "Return")
    number = told_row(data, place[1])
    pattern = re.compile(rb'(<c r="[A-Z]+%d") s="\d+"' % number)
    return changed(data, lambda name, part: pattern.sub(rb"\1", part) if name == sheet else part)


def told_row(data: bytes, key: str) -> int:
    """The 1-based row of a question of the visit."""
    read = read_return(data, "").blocks["visit"]
    return read.rows[read.keys.index(key)] + 1


def in_sheet(scene: Scene, change: Callable[[bytes], bytes]) -> bytes:
    """A good return whose Return sheet is changed."""
    data = scene.filled()
    sheet = part_of(data, "Return")
    return changed(data, lambda name, part: change(part) if name == sheet else part)


SHEETS: Mapping[str, Callable[[bytes], bytes]] = {
    "a dimension that says one cell": lambda xml: re.sub(rb'<dimension ref="[^"]*"', b'<dimension ref="A1"', xml),
    "a dimension that says everything": lambda xml: re.sub(
        rb'<dimension ref="[^"]*"', b'<dimension ref="A1:XFD1048576"', xml
    ),
    "no dimension": lambda xml: re.sub(rb"<dimension [^>]*/>", b"", xml),
    "no protection": lambda xml: re.sub(rb"<sheetProtection[^>]*/>", b"", xml),
    "no drop-downs": lambda xml: re.sub(rb"<dataValidations.*</dataValidations>", b"", xml, flags=re.DOTALL),
    "no colours": lambda xml: re.sub(rb"<conditionalFormatting.*</conditionalFormatting>", b"", xml, flags=re.DOTALL),
    "an error in a cell that nobody fills in": lambda xml: re.sub(
        rb'<c r="(\w+)"( s="\d+")? t="str"><f>[^<]*</f><v>[^<]*</v></c>',
        rb'<c r="\1"\2 t="e"><f>#REF!</f><v>#REF!</v></c>',
        xml,
        count=1,
    ),
}


@pytest.mark.parametrize("name", SHEETS)
def test_a_damaged_sheet_says_what_it_said(name: str, scene: Scene) -> None:
    """Nothing of it is needed to read the answers."""
    result = scene.only(in_sheet(scene, SHEETS[name]))
    assert (result.outcome, rules(result.findings)) == ("merged", [])


@pytest.mark.parametrize("inside", ["><v>abc</v>", "><v>NaN</v>", 't="s"><v>99999</v>', 't="s"><v>-1</v>'])
def test_a_cell_that_breaks_a_reader_costs_its_file_with_a_reason(inside: str, scene: Scene) -> None:
    """A number that is none, and a text that is not there: set aside or sent back, never read as something else."""
    result: FileResult = scene.only(cell(scene, UNITS, inside))
    assert result.outcome in ("set aside", "to correct")
    assert result.reason


def test_what_a_number_is_shown_as_does_not_count(scene: Scene) -> None:
    """A format can show any text over any number; the number is what stands in the cell."""
    data = cell(scene, UNITS, "><v>2</v>")
    shown = changed(data, lambda name, xml: xml.replace(b'formatCode="', b'formatCode="&quot;7&quot;', 1))
    assert told(shown, *UNITS) == 2


@pytest.mark.parametrize(("letters", "rule"), [(32_767, None), (100 * 1024 * 1024, "too_large")])
def test_a_long_text_is_held_to_its_bounds(letters: int, rule: str | None) -> None:
    """The longest that spreadsheet programs take passes, a hundred million letters do not."""
    refusal = guard(made({STRINGS: strings(f"<si><t>{'a' * letters}</t></si>")}))
    assert (refusal.rule if refusal else None) == rule


# -- the list: damage → a name in HOSTILE, in CELLS or SHEETS above, or a test as module::function

CHANGED = "tests.returns.test_changed_books::test"
VALUES: Mapping[str, str] = {
    "long numbers": "tests.returns.test_repair::test_what_is_provable_is_put_right_with_a_notice",
    "GTIN as number": "a code as a number",
    "GTIN of twenty digits as number": "a code of twenty digits as a number",
    "leading zeros lost in reading": "leading zeros in a text",
    "the answer N/A": "N/A",
    "spaces": "spaces that are not kept",
    "_x000D_": "an escaped line end",
    "no-break, zero-width, full-width": "tests.returns.test_repair::test_what_is_provable_is_put_right_with_a_notice",
    "smart punctuation": "tests.returns.test_repair::test_what_is_provable_is_put_right_with_a_notice",
    "error cells": "tests.returns.test_repair::test_blank_error_and_formula_without_result_are_told_apart",
    "formula with no result": "tests.returns.test_repair::test_blank_error_and_formula_without_result_are_told_apart",
    "stale results": "a stale result",
    "dates": "a day in a cell for numbers",
    "1900-02-29": "29 February 1900",
    "1904 system": "tests.returns.test_repair::test_a_day_in_a_1904_book_is_the_day_it_shows",
    "number display is not the value": "tests.faults.test_damages::test_what_a_number_is_shown_as_does_not_count",
    "position": f"{CHANGED}_what_does_not_change_an_answer_does_no_harm",
    "wrong dimension": "a dimension that says one cell",
    "one bad cell": "tests.faults.test_damages::test_a_cell_that_breaks_a_reader_costs_its_file_with_a_reason",
    "sheet in the strict namespace": "strict form",
    "UTF-16 parts": "UTF-16 sheet",
    "paste": "pasted over, format and lock lost",
    "cut and paste": "an error in a cell that nobody fills in",
    "comparing a return with what was sent": "tests.field_book.test_stamp::test_same_values_same_bytes",
    "corrupted byte in a part": "a number changed in silence",
    "corrupted part that is not read": "a picture's bit changed",
    "wrong container": "legacy workbook",
    "encrypted": "with a password",
    "tablet document": "tablet spreadsheet",
    "zip inside zip": "zip in a zip",
    "photo zip": "zip of photos",
    "web page as workbook": "web page",
    "comma-separated as workbook": "comma-separated",
    "part name case": "names in capitals",
    "part name backslashes": "names with backslashes",
    "sender-chosen attachment names": "tests.returns.test_odd_files::test_a_book_in_any_zip_is_read",
    "same name from two people": "tests.returns.test_odd_files::test_a_name_twice_in_a_zip_is_two_files",
    "duplicated attachments": "tests.returns.test_outcomes::test_every_file_of_any_mix_has_exactly_one_outcome",
    "renamed sheets, inserted rows": f"{CHANGED}_what_does_not_change_an_answer_does_no_harm",
    "saved by others": "tests.faults.test_resaved::test_books_saved_by_a_program_that_drops_things",
}
FILES: Mapping[str, str] = {
    "empty": "empty",
    "truncated": "cut in half",
    "text": "text",
    "encrypted OLE": "with a password",
    "real .xls": "legacy workbook",
    "bomb of spaces": "bomb of spaces",
    "bomb of cells": "bomb of cells",
    "bomb of one string": "bomb of one string",
    "bomb of short strings": "bomb of short strings",
    "billion laughs in strings": "billion laughs in strings",
    "billion laughs in the sheet": "billion laughs in a sheet",
    "quadratic entity": "quadratic laughs",
    "external entity": "file from outside",
    "1,000,000 blank formatted rows": "million blank formatted rows",
    "cell of 32,767": "tests.faults.test_damages::test_a_long_text_is_held_to_its_bounds",
    "cell of 32,768": "cell of 32,768 letters",
    "cell of a million": "cell of a million letters",
    "cell of 100 million": "tests.faults.test_damages::test_a_long_text_is_held_to_its_bounds",
    "sheet part missing": "no sheet part",
    "duplicate member name": "doubled part",
    "false dimension": "false dimension",
    "cell in the last corner": "far corner",
    "cell in the last row": "far row",
    "merge of everything": "merge of everything",
    "merge of ten columns": "merge of ten columns",
    "promise of 4 billion strings": "promise of 4 billion strings",
    "100,000 attributes": "100,000 attributes",
    "100,000 namespaces": "100,000 namespaces",
    "200,000 validations": "200,000 validations",
    "open document bomb": "open document bomb",
    "65,000 members": "65,000 members",
    "member that climbs": "name that climbs",
    "pixel bomb": "pixel bomb",
}


@pytest.mark.parametrize("damage", [*VALUES, *FILES])
def test_every_damage_is_a_case(damage: str) -> None:
    """The list leads to something that is there."""
    case = VALUES.get(damage) or FILES[damage]
    module, _, function = case.partition("::")
    if function:
        assert callable(getattr(importlib.import_module(module), function))
    else:
        assert case in {*HOSTILE, *CELLS, *SHEETS}
