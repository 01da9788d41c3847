"""One cell as it was found becomes one clean value, or the name of the rule it breaks; nothing is guessed."""

from __future__ import annotations

import datetime as dt
import math
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.look import default_look
from workbook_tools.contract.model import Field, FieldType
from workbook_tools.contract.sheets import read_blocks
from workbook_tools.contract.values import (
    BLANK,
    Reading,
    Value,
    clean_text,
    counted_from_1900,
    is_as_typed,
    is_blank,
    plain_form,
    read_value,
)
from workbook_tools.contract.writing import BookWriter, number_format

NOTHING_SEEN = "\u200b\u2060\ufeff\u00ad\u200e"
"""Zero-width space, word joiner, byte-order mark, soft hyphen, left-to-right mark."""


def _read(kind: FieldType, raw: object, language: str = "en") -> Reading:
    return read_value(Field(key="it", type=kind), raw, language)


@pytest.mark.parametrize("kind", get_args(FieldType))
@pytest.mark.parametrize(
    "raw", [None, "", "  ", "\t\r\n", "\u00a0\u202f\u3000", NOTHING_SEEN, f" {NOTHING_SEEN}\u00a0"]
)
def test_a_cell_in_which_nothing_is_seen_is_blank(kind: FieldType, raw: str | None) -> None:
    """White space, non-breaking spaces and zero-width characters alone are a blank cell of any type."""
    assert is_blank(raw)
    assert _read(kind, raw) == BLANK


@pytest.mark.parametrize("raw", [0, 0.0, False, "0", "-", dt.time(0, 0)])
def test_zero_is_not_blank(raw: object) -> None:
    """Only nothing is blank."""
    assert not is_blank(raw)


@pytest.mark.parametrize(
    ("raw", "read"),
    [
        ("9:40", "9:40"), ("09:40", "9:40"), ("9.40", "9:40"), ("9h40", "9:40"), ("9 h 40", "9:40"), ("9 40", "9:40"),
        ("940", "9:40"), ("0940", "9:40"), ("1055", "10:55"), ("9:40:30", "9:40"), ("9: 40", "9:40"),
        ("9:40 am", "9:40"), ("9:40AM", "9:40"), ("9:40 a.m.", "9:40"), ("9:40 a. m.", "9:40"), ("9:40p", "21:40"),
        ("9.40 pm", "21:40"), ("940 pm", "21:40"), ("12:05 am", "0:05"), ("12:05 pm", "12:05"), ("12 pm", "12:00"),
        ("21h05", "21:05"), ("21 h 05", "21:05"), ("21h", "21:00"), ("9", "9:00"), ("9 am", "9:00"), ("0:00", "0:00"),
        ("23:59", "23:59"), ("\uff19\uff1a\uff14\uff10", "9:40"), ("\u00a09:40\u200b", "9:40"),
        (940, "9:40"), (940.0, "9:40"), (9.4, "9:40"), (9.05, "9:05"), (21, "21:00"), (1055.0, "10:55"), (0, "0:00"),
        (0.5, "12:00"), (0.4027777777777778, "9:40"), (0.9999999, "23:59"), (1439 / 1440, "23:59"),
        (dt.date(1902, 7, 28), "9:40"), (dt.datetime(1902, 11, 20), "10:55"), (dt.datetime(1900, 1, 9, 9, 36), "9:40"),
        (dt.date(1900, 1, 9), "9:00"), (dt.date(1906, 6, 16), "23:59"),
        (dt.time(9, 40, 59), "9:40"), (dt.datetime(2027, 3, 1, 9, 40, 31), "9:40"), (dt.timedelta(minutes=580), "9:40"),
        (dt.timedelta(hours=23, minutes=59, seconds=45), "23:59"),
    ],
)  # fmt: skip
def test_a_time_is_read_in_every_way_people_write_it(raw: object, read: str) -> None:
    """With colon, point, h, am and pm or run together, as a fraction of a day or as a time; seconds are left out.

    In a cell formatted as a time, the number 940 is stored as the 940th day: 28 July 1902.
    """
    hour, minute = map(int, read.split(":"))
    assert _read("time", raw).value == dt.time(hour, minute)


@pytest.mark.parametrize(
    "raw",
    [
        "25:00", "24:00", "9:60", "9:4", "2460", "99", "9:40:75", "0:30 am", "13:00 pm", "9 m", "soon", "9-40", "-9:40",
        "12345", 24, 960, 2400, -1, -0.5, 9.404, 45992.4028, 1e300, math.nan, math.inf, True,
        dt.date(2027, 3, 1), dt.timedelta(hours=24), dt.timedelta(minutes=-1),
    ],
)  # fmt: skip
def test_what_is_no_time_of_day_is_refused(raw: object) -> None:
    """Hours above 23, minutes above 59, halves of the day that do not go with the hour, numbers that mean no time."""
    assert _read("time", raw) == Reading(problem="not_a_time")


@pytest.mark.parametrize(
    ("raw", "language", "read"),
    [
        ("2027-03-04", "en", "2027-03-04"), ("2027-3-4", "en", "2027-03-04"), ("2027/03/04", "en", "2027-03-04"),
        ("2027-03-04T00:00:00", "en", "2027-03-04"), ("2027-03-04 00:00", "en", "2027-03-04"),
        ("13/04/2027", "en", "2027-04-13"), ("04/13/2027", "en", "2027-04-13"), ("13.4.27", "en", "2027-04-13"),
        ("3/3/2027", "en", "2027-03-03"), ("03-03-2027", "en", "2027-03-03"),
        ("03/04/2027", "es", "2027-04-03"), ("3.4.27", "fr", "2027-04-03"), ("04/13/2027", "fr", "2027-04-13"),
        ("\uff12\uff10\uff12\uff17-03-04", "en", "2027-03-04"), ("\u00a02027-03-04 ", "en", "2027-03-04"),
        (dt.date(2027, 3, 4), "en", "2027-03-04"), (dt.datetime(2027, 3, 4, 23, 59), "en", "2027-03-04"),
        (46450, "en", "2027-03-04"), (46450.75, "en", "2027-03-04"), (61, "en", "1900-03-01"),
    ],
)  # fmt: skip
def test_a_date_that_can_mean_one_day_only_is_read(raw: object, language: str, read: str) -> None:
    """ISO, a serial number of the 1900 system, or day and month in the order that only one day can have.

    Serial 61 is 1 March 1900 (ECMA-376 part 1, 18.17.4.1 counts a 29 February 1900 that never was); 46450 by
    COMP: 2027-03-04 is 46450 days after 1899-12-30.
    """
    assert _read("date", raw, language).value == dt.date.fromisoformat(read)


@pytest.mark.parametrize("raw", ["03/04/2027", "3.4.2027", "3-4-27", "3 4 2027", "12/11/2027", "\uff13/\uff14/2027"])
def test_a_date_that_can_mean_two_days_is_not_guessed_in_english(raw: str) -> None:
    """English is written in both orders: such a date goes back to whoever wrote it."""
    assert _read("date", raw, "en") == Reading(problem="date_two_ways")


@pytest.mark.parametrize(
    "raw",
    [
        "2027-02-29", "31/31/2027", "30/02/2027", "2027-13-01", "2027-03", "March", "5 Nov", "13/04.2027", "20270304",
        60, 0, -5, 2958466, 1e18, math.nan, math.inf, True, dt.time(9, 40), dt.timedelta(days=46450),
    ],
)  # fmt: skip
def test_what_is_no_date_is_refused(raw: object) -> None:
    """Days that never were, halves of dates, and serial numbers whose day is not sure."""
    assert _read("date", raw) == Reading(problem="not_a_date")


@pytest.mark.parametrize(
    ("raw", "language", "read"),
    [
        ("7.5", "en", 7.5), ("+7.5", "en", 7.5), (".5", "en", 0.5), ("-7", "en", -7), ("\u22127", "en", -7),
        ("7\u00a0", "en", 7), ("\uff11\uff12", "en", 12), ("1.234", "en", 1.234), (7, "en", 7), (7.25, "en", 7.25),
        ("7,5", "es", 7.5), ("7.5", "es", 7.5), ("0,125", "es", 0.125),
        ("1234,5", "fr", 1234.5), ("1.2345", "fr", 1.2345),
    ],
)  # fmt: skip
def test_a_number_is_read_where_it_is_plain(raw: object, language: str, read: float) -> None:
    """A point, or in languages that write one a comma, between whole and decimals."""
    assert _read("number", raw, language).value == read


@pytest.mark.parametrize(
    ("raw", "language"), [("7,5", "en"), ("1,234", "en"), ("1.234", "es"), ("1,234", "es"), ("-12,000", "fr")]
)
def test_a_number_that_can_be_read_in_two_ways_is_not_guessed(raw: str, language: str) -> None:
    """A comma in English, and a mark before three digits in languages that write both, may part thousands."""
    assert _read("number", raw, language) == Reading(problem="comma_in_number")
    assert _read("integer", raw, language) == Reading(problem="comma_in_number")


@pytest.mark.parametrize(
    "raw",
    ["seven", "7 in", "1 234", "1,234.5", "1e3", "7.", "--7", "9" * 400, math.nan, math.inf, True, dt.time(9, 40)],
)
def test_what_is_no_number_is_refused(raw: object) -> None:
    """Units, words, dates, truth values and what is too large to be a number."""
    assert _read("number", raw) == Reading(problem="not_a_number")
    assert _read("integer", raw) == Reading(problem="not_whole")


@pytest.mark.parametrize("raw", [7.5, "7.5", 1e16, "12345678901234567"])
def test_a_whole_number_has_no_decimals_and_is_exact(raw: object) -> None:
    """Decimals, and digits that a spreadsheet's number cannot hold, are no whole number."""
    assert _read("integer", raw) == Reading(problem="not_whole")


@pytest.mark.parametrize(
    ("raw", "reading"),
    [
        ("004170", Reading("004170")),
        (" 004170\u00a0", Reading("004170", repair="spaces_removed")),
        ("00\u200b4170", Reading("004170", repair="spaces_removed")),
        ("\uff10\uff10\uff14\uff11", Reading("0041", repair="full_width")),
        ("A-\u00e9", Reading("A-\u00e9")),
        (4170.0, Reading("4170", repair="number_as_text")),
        (4170, Reading("4170", repair="number_as_text")),
        (12.5, Reading("12.5", repair="number_as_text")),
        (dt.date(2027, 3, 4), Reading(problem="not_a_code")),
        (dt.time(9, 40), Reading(problem="not_a_code")),
        (dt.timedelta(hours=30), Reading(problem="not_a_code")),
        (True, Reading(problem="not_a_code")),
        (math.nan, Reading(problem="not_readable")),
    ],
)
@pytest.mark.parametrize("kind", ["code", "gtin"])
def test_a_code_keeps_its_zeros_and_is_never_a_date(kind: FieldType, raw: object, reading: Reading) -> None:
    """Codes are text; a number has lost its zeros, which is noted; a date was made of something else."""
    assert _read(kind, raw) == reading


@pytest.mark.parametrize(
    ("raw", "reading"),
    [
        ("two\r\nlines", Reading("two\nlines")),
        ("cafe\u0301", Reading("caf\u00e9")),
        ("a\u00a0b", Reading("a b", repair="spaces_removed")),
        (" a", Reading("a", repair="spaces_removed")),
        (True, Reading("yes", repair="truth_as_text")),
        (False, Reading("no", repair="truth_as_text")),
        (7.0, Reading("7", repair="number_as_text")),
        (dt.datetime(2027, 3, 5), Reading("2027-03-05T00:00:00", repair="date_as_text")),
        (math.inf, Reading(problem="not_readable")),
        (object(), Reading(problem="not_readable")),
    ],
)
@pytest.mark.parametrize("kind", ["text", "choice"])
def test_a_text_is_kept_as_the_eye_sees_it(kind: FieldType, raw: object, reading: Reading) -> None:
    """Only what cannot be seen changes, and a change beyond line ends and composed accents is a repair."""
    assert _read(kind, raw) == reading


@pytest.mark.parametrize(
    ("raw", "read"),
    [
        ("a; b;c", ("a", "b", "c")),
        ("a\nb", ("a", "b")),
        ("a\uff1bb", ("a", "b")),
        (";a;;", ("a",)),
        ("a, b", ("a, b",)),
        (7, ("7",)),
        (" ; ;", None),
    ],
)
def test_a_list_is_parted_by_semicolons_and_lines(raw: object, read: tuple[str, ...] | None) -> None:
    """Empty entries are passed over, and a list of nothing is blank; a comma belongs to its entry."""
    assert _read("list", raw).value == read


@given(st.text())
def test_cleaning_twice_changes_nothing_more(text: str) -> None:
    """A clean text stays as it is."""
    assert clean_text(clean_text(text)) == clean_text(text)


@pytest.mark.parametrize(
    "raw",
    ["on tray", "On Tray ", "ON\u00a0TRAY", "on\u200b  tray", "\uff4f\uff4e\u3000\uff54\uff52\uff41\uff59"],
)
def test_texts_that_look_alike_compare_alike(raw: str) -> None:
    """Case, width, spaces and what cannot be seen make no difference to a comparison."""
    assert plain_form(raw) == "on tray"


def test_quotes_of_every_kind_compare_alike() -> None:
    """Tablets turn straight quotes into curly ones."""
    assert plain_form("Kim\u2019s \u201cbox\u201d") == plain_form('Kim\'s "box"')


WRITTEN: dict[FieldType, st.SearchStrategy[Value]] = {
    "text": st.text(st.characters(exclude_categories=["Cs", "Cc", "Cn", "Co"]) | st.sampled_from("\n=+-@'_x")),
    "code": st.from_regex(r"[0-9A-Za-z_./-]{1,20}", fullmatch=True),
    "gtin": st.from_regex(r"[0-9]{8,14}", fullmatch=True),
    "choice": st.sampled_from(["on tray", "in, lb", "none"]),
    "list": st.lists(st.text("ab9, .", max_size=9).map(lambda one: f"x{one}x"), min_size=1, max_size=5).map(tuple),
    "integer": st.integers(-(2**53) + 1, 2**53 - 1),
    "number": st.floats(-1e15, 1e15, allow_subnormal=False).map(lambda number: float(f"{number:.15g}")),
    "date": st.dates(dt.date(1900, 3, 1), dt.date(9999, 12, 31)),
    "time": st.builds(dt.time, st.integers(0, 23), st.integers(0, 59)),
}


def _written(kind: FieldType, values: list[Value]) -> list[object]:
    """The raw cells of a workbook in which `writing` wrote the values as it writes such a field."""
    book = BookWriter(default_look())
    sheet = book.sheet("It")
    style = book.format(num_format=number_format(Field(key="it", type=kind)))
    sheet.text(0, 0, "#it")
    sheet.text(0, 1, "it")
    for row, value in enumerate(values, start=1):
        sheet.text(row, 0, "row")
        if isinstance(value, dt.date | dt.time):
            sheet.write_datetime(row, 1, value, style)
        elif isinstance(value, int | float):
            sheet.write_number(row, 1, value, style)
        else:
            sheet.text(row, 1, "; ".join(value) if isinstance(value, tuple) else value, style)
    (block,) = read_blocks(book.close(), ["it"])
    return [block.cell(number, cells, "it").value for number, cells in block.rows]


@pytest.mark.parametrize("kind", get_args(FieldType))
@given(data=st.data())
@settings(max_examples=25, deadline=None)
def test_what_is_written_reads_back_the_same(kind: FieldType, data: st.DataObject) -> None:
    """A value written by us comes out of the file as the same value of its type, without a repair.

    Numbers have at most 15 digits, as many as spreadsheet programs keep.
    """
    values = data.draw(st.lists(WRITTEN[kind], min_size=1, max_size=20))
    if kind == "text":
        values = [clean_text(str(value)) for value in values]
    read = [_read(kind, raw) for raw in _written(kind, values)]
    assert read == [Reading(value) if value != "" else BLANK for value in values]


def test_every_minute_of_the_day_reads_back_the_same() -> None:
    """No minute is lost to the rounding of fractions of a day."""
    minutes: list[Value] = [dt.time(minute // 60, minute % 60) for minute in range(24 * 60)]
    assert [_read("time", raw).value for raw in _written("time", minutes)] == minutes


@pytest.mark.parametrize("number", [1, 9.4, 23.59, 59, 60, 61, 838, 940, 2359])
def test_a_number_in_a_time_cell_is_the_same_time_in_both_date_systems(number: float) -> None:
    """COMP: a number typed into a cell for times comes as a moment of the first years of the workbook's calendar."""
    from_1900 = dt.datetime(1899, 12, 30) + dt.timedelta(days=number + (number < 60))
    from_1904 = counted_from_1900("time", dt.datetime(1904, 1, 1) + dt.timedelta(days=number))
    assert number == 60 or _read("time", from_1904) == _read("time", from_1900)
    assert isinstance(_read("time", from_1904).value, dt.time) == (number not in (59, 60, 61))


@pytest.mark.parametrize("moment", [dt.datetime(2026, 3, 3, 9, 40), dt.date(2026, 3, 3), dt.time(9, 40), 0.5, "9:40"])
def test_a_time_that_is_one_is_the_same_in_both_date_systems(moment: object) -> None:
    """Only numbers that turned into moments are counted anew."""
    assert counted_from_1900("time", moment) == moment


def test_every_type_of_the_contract_can_be_read() -> None:
    """A type that fields may have has a reader: no field of the contract stops it with an error."""
    contract = default_contract()
    for block in (*contract.setup.blocks, *contract.field_book.blocks):
        for field in block.fields:
            assert read_value(field, "x") != BLANK


def test_control_characters_are_no_part_of_a_text() -> None:
    """They cannot be seen, and tables break on some; tabs and line ends stay."""
    assert clean_text("\x00no\x07 ro\x1bom\x7f\n\tnow \x0b") == "no room\n\tnow"
    assert clean_text("\x00s\u00ed\x1f") == "s\u00ed"
    assert is_blank("\x00\x07")


TYPED = st.one_of(
    st.text(alphabet="aA1 .,;\t\r\n\x01\x7f\u00e9\u00a0\uff11\u200b-=", max_size=5),
    st.floats(),
    st.booleans(),
    st.integers(),
)


@given(st.sampled_from(get_args(FieldType)), TYPED)
def test_what_is_as_typed_is_read_as_it_is(kind: FieldType, raw: object) -> None:
    """The quick answer is never another than the reading: the same value, and nothing to say about it."""
    if is_as_typed(kind, raw):
        assert _read(kind, raw) == Reading(raw)  # type: ignore[arg-type]
    assert is_as_typed(kind, "00417") == (kind in ("text", "code", "gtin", "choice"))
    assert is_as_typed(kind, 4.5) == (kind == "number")
