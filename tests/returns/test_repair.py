"""What spreadsheet programs and keyboards do to answers, put right where it is provable and never guessed."""

from __future__ import annotations

import copy
import datetime as dt
import re
from collections.abc import Callable, Mapping
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.returns.scene import Scene, changed, rules, with_cell
from tests.small_program import CONTENT, WORDS, differs
from workbook_tools.contract.words import words_for
from workbook_tools.returns.codes import CodeList
from workbook_tools.returns.intake import Intake
from workbook_tools.rollup.flags import flag_returns

LONG = ("400012345678", "0007312345678901", "12345678901234567890", "2E5")
"""Item codes that numbers cannot keep: 12 digits, 16 with zeros in front, 20, and one that is a number in disguise."""
SPANISH, FRENCH = words_for("es").choice("carton", "damaged").upper(), words_for("fr").choice("built", "yes").upper()
ITEMS = ("Wax", "Salt", "Twine", "Jars")


def content(language: str = "en") -> dict[str, list[dict[str, object]]]:
    """The small program with long item codes, a place with an apostrophe, and books in a language."""
    made = copy.deepcopy(CONTENT)
    for item in made["items"]:
        if item["item"] in ITEMS:
            item["item_code"] = LONG[ITEMS.index(item["item"])]
    made["program"][0]["other_places"] = "Kim's corner; Front"
    for person in made["merchandisers"]:
        person["language"] = language
    return made


@pytest.fixture(scope="module")
def scenes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Scene]:
    """The program issued in English and in Spanish."""
    return {code: Scene(tmp_path_factory.mktemp(code), content(code)) for code in ("en", "es")}


def taken_in(scene: Scene, data: bytes) -> Intake:
    """One return taken in alone."""
    scene.clear()
    scene.put(one=data)
    return scene.take_in()


OTHER = {"label": "Pellwood", "tag": "on tray", "product": "other item"}
TAG = {"label": "Pellwood", "tag": "on tray", "product": "set"}


# name: (question or field of A-1-1, what is typed, what is meant, the notice, what else stands at A-1-1)
REPAIRS: Mapping[str, tuple[str, object, object, str, Mapping[str, object]]] = {
    "surrounding spaces": ("why_not", "  no room ", "no room", "spaces_removed", {}),
    "no-break spaces": ("why_not", "\u00a0no room\u202f", "no room", "spaces_removed", {}),
    "zero-width characters": ("why_not", "\u200bno\ufeff room", "no room", "spaces_removed", {}),
    "zero-width in a choice": ("carton", "fou\u200bnd", "found", "spaces_removed", {}),
    "curly quotes in a choice": ("place", "Kim\u2019s corner", "Kim's corner", "choice_recognised", {}),
    "letter case": ("as_planned", "YES", "yes", "choice_recognised", {}),
    "full-width letters": ("as_planned", "\uff59\uff45\uff53", "yes", "choice_recognised", {}),
    "doubled spaces": ("place", "End  of aisle", "End of aisle", "choice_recognised", {}),
    "another language, in capitals": (
        "carton",
        words_for("es").choice("carton", "damaged").upper(),
        "damaged",
        "choice_recognised",
        {},
    ),
    "a third language, in capitals": (
        "built",
        words_for("fr").choice("built", "yes").upper(),
        "yes",
        "choice_recognised",
        {},
    ),
    "full-width digits": ("units", "\uff12", 2, "text_as_number", TAG | {"product": "short"}),
    "number as text": ("units", "2", 2, "text_as_number", TAG | {"product": "short"}),
    "whole number with decimals": ("units", "2.0", 2, "text_as_number", TAG | {"product": "short"}),
    "full-width code": ("other_item", "\uff10\uff10\uff10\uff11\uff10\uff12", "000102", "full_width", OTHER),
    "lost zeros in a text": ("other_item", "102", "000102", "zeros_restored", OTHER),
    "a code's decimals": ("other_item", "102.0", "000102", "zeros_restored", OTHER),
    "a code's mark of text": ("other_item", "'000102", "000102", "zeros_restored", OTHER),
    "a code in groups": ("other_item", "000-102", "000102", "zeros_restored", OTHER),
    "a shortened code": ("tag_code", "4.00E+11", LONG[0], "code_restored", TAG),
    "shortened with a comma": ("tag_code", "4,00E+11", LONG[0], "code_restored", TAG),
    "shortened to one digit": ("tag_code", "4E+11", LONG[0], "code_restored", TAG),
    "shortened, zeros lost": ("tag_code", "7.3E+12", LONG[1], "code_restored", TAG),
    "digits lost after the 15th": ("tag_code", "12345678901234500000", LONG[2], "code_restored", TAG),
    "a code that became its number": ("other_item", "200000", "2E5", "zeros_restored", OTHER),
    "a date as text": ("visit_date", "2026-03-03", dt.date(2026, 3, 3), "text_as_date", {}),
    "a date with a month's name": ("visit_date", "3 marzo 2026", dt.date(2026, 3, 3), "text_as_date", {}),
    "a date in full-width digits": (
        "visit_date",
        "\uff12\uff10\uff12\uff16-3-3",
        dt.date(2026, 3, 3),
        "text_as_date",
        {},
    ),
    "a time with a point": ("time_in", "9.05", dt.time(9, 5), "text_as_time", {}),
    "a time in halves of the day": ("time_in", "9:05 a.m.", dt.time(9, 5), "text_as_time", {}),
    "a time with an h": ("time_in", "9h05", dt.time(9, 5), "text_as_time", {}),
    "a time run together": ("time_in", "905", dt.time(9, 5), "text_as_time", {}),
}


def with_answer(scene: Scene, field: str, typed: object, beside: Mapping[str, object]) -> bytes:
    """A good return with one answer typed otherwise."""
    if field in ("why_not", "carton", "place", "built", "visit_date", "time_in"):
        return scene.filled(visit={field: typed})
    at = {**differs(**beside), field: typed} if beside else {field: typed}
    return scene.filled(positions={"A-1-1": at})


def answer(intake: Intake, field: str) -> object:
    """The answer as it was understood."""
    visit, positions = intake.tables["visit"].whole, intake.tables["positions"].whole
    if field in visit.columns:
        return visit[field][0]
    return positions.row(by_predicate=pl.col("key") == "A-1-1", named=True)[field]


@pytest.mark.parametrize("name", REPAIRS)
def test_what_is_provable_is_put_right_with_a_notice(name: str, scenes: dict[str, Scene]) -> None:
    """The answer is understood, and a notice says what stood in the cell and what it was read as."""
    field, typed, meant, rule, beside = REPAIRS[name]
    intake = taken_in(scenes["en"], with_answer(scenes["en"], field, typed, beside))
    assert answer(intake, field) == meant
    (notice,) = [one for one in intake.results[0].findings if one.rule == rule]
    assert notice.severity == "note"
    assert notice.value == " ".join(str(typed).split())
    shown = f"{meant:%H:%M:%S}" if isinstance(meant, dt.time) else str(meant)
    assert rule in ("spaces_removed",) or str(notice.fields["read"]) == shown
    assert notice.problem(WORDS)
    assert intake.results[0].outcome == "merged"


def test_a_code_typed_into_a_cell_for_numbers_is_known_by_its_digits(scenes: dict[str, Scene]) -> None:
    """As numbers the codes lose zeros, or all digits after the 15th or so; one code of the program fits each."""
    for code, number in ((LONG[0], 400012345678), (LONG[1], 7312345678901), (LONG[2], 1.2345678901234567e19)):
        intake = taken_in(scenes["en"], scenes["en"].filled(positions={"A-1-1": differs(**TAG, tag_code=number)}))
        assert answer(intake, "tag_code") == code
        assert intake.results[0].outcome == "merged"


def test_a_code_that_can_be_two_is_not_guessed(tmp_path: Path) -> None:
    """4.00E+11 is two codes of this program, 101 too: each goes back, and no flag is raised on it."""
    made = content()
    made["items"][0]["item_code"], made["items"][6]["item_code"] = "400087654321", "0000102"
    scene = Scene(tmp_path, made)
    for field, typed, beside in (("tag_code", "4.00E+11", TAG), ("other_item", "102", OTHER)):
        intake = taken_in(scene, with_answer(scene, field, typed, beside))
        (result,) = intake.results
        assert (result.outcome, rules(result.findings)) == ("to correct", ["code_two_ways"])
        assert all(code in result.findings[0].problem(WORDS) for code in result.findings[0].fields["codes"].split(", "))
        assert answer(intake, field) is None


def test_a_shortened_code_that_fits_none_goes_back_without_a_flag(scenes: dict[str, Scene]) -> None:
    """What stands on the tag is not known: neither right nor wrong."""
    for typed in ("5.00E+11", "99999999999999900000", "4.01E+11"):
        intake = taken_in(scenes["en"], with_answer(scenes["en"], "tag_code", typed, TAG))
        (result,) = intake.results
        assert (result.outcome, rules(result.findings)) == ("to correct", ["code_shortened"])
        flags, _ = flag_returns(next(intake.batches()), intake.program)
        assert "tag_mismatch" not in flags["kind"].to_list()


def test_a_whole_code_of_something_else_is_told_as_it_stands(scenes: dict[str, Scene]) -> None:
    """A tag may show any code; that is what the comparison is for."""
    for typed in ("999999", "2E6", "X-17"):
        intake = taken_in(scenes["en"], with_answer(scenes["en"], "tag_code", typed, TAG))
        assert (intake.results[0].outcome, answer(intake, "tag_code")) == ("merged", typed)


@pytest.mark.parametrize(
    ("inside", "meant"),
    [('t="b"><f>TRUE()</f><v>1</v>', "yes"), ('t="b"><f>FALSE()</f><v>0</v>', "no"), ("><f>TRUE()</f>", "yes")],
)
def test_a_truth_value_that_became_a_formula_is_read(scenes: dict[str, Scene], inside: str, meant: str) -> None:
    """As some programs save every truth value."""
    scene = scenes["en"]
    intake = taken_in(scene, with_cell(scene.filled(), "visit", "photo", "answer", inside))
    assert answer(intake, "photo") == meant
    assert rules(intake.results[0].findings) == ["truth_as_text"]


@pytest.mark.parametrize(
    ("inside", "rule"), [('t="e"><v>#REF!</v>', "error_cell"), ("><f>A1&amp;B1</f>", "formula_without_result")]
)
@pytest.mark.parametrize(
    ("block", "row", "field"),
    [("positions", "A-1-1", "as_planned"), ("visit", "built", "answer"), ("parts", "P1", "missing")],
)
def test_blank_error_and_formula_without_result_are_told_apart(
    scenes: dict[str, Scene], inside: str, rule: str, block: str, row: str, field: str
) -> None:
    """The reader gives all three as empty. Only the blank one says that nothing was reported."""
    scene = scenes["en"]
    (result,) = taken_in(scene, with_cell(scene.filled(), block, row, field, inside)).results
    assert (result.outcome, rules(result.findings)) == ("to correct", [rule])
    assert result.findings[0].cell
    blank = rules(taken_in(scene, with_cell(scene.filled(), block, row, field, ">")).results[0].findings)
    assert blank == (["required"] if row == "built" else [])


def test_texts_are_read_by_the_language_of_the_book(scenes: dict[str, Scene]) -> None:
    """03/04 is 3 April in a Spanish book and two dates in an English one; "2,0" is a number in the first only."""
    told = {"visit": {"visit_date": "03/04/2026"}, "positions": {"A-1-1": differs(**TAG, units="4,0")}}
    spanish = taken_in(scenes["es"], scenes["es"].filled(**told))
    assert (answer(spanish, "visit_date"), answer(spanish, "units")) == (dt.date(2026, 4, 3), 4)
    (english,) = taken_in(scenes["en"], scenes["en"].filled(**told)).results
    assert {"date_two_ways", "comma_in_number"} <= set(rules(english.findings))
    assert english.outcome == "to correct"


@pytest.mark.parametrize("styled", [True, False])
def test_a_day_in_a_1904_book_is_the_day_it_shows(scenes: dict[str, Scene], styled: bool) -> None:
    """In a cell with a date's format and as a bare number: the same number is a day four years later there."""
    scene = scenes["en"]
    book = scene.filled(visit={"visit_date": dt.date(2026, 3, 3) - dt.timedelta(days=1462)})
    intake = taken_in(scene, changed(book, _counting_from_1904(styled)))
    assert answer(intake, "visit_date") == dt.date(2026, 3, 3)
    assert rules(intake.results[0].findings) == ([] if styled else ["number_as_date"])


def _counting_from_1904(styled: bool) -> Callable[[str, bytes], bytes]:
    """Makes a book count its days from 1904; without styles, of a date's cell too."""
    number = str((dt.date(2026, 3, 3) - dt.date(1904, 1, 1)).days).encode()

    def change(name: str, part: bytes) -> bytes:
        if name == "xl/workbook.xml":
            return re.sub(rb"<workbookPr[^>]*/>", b'<workbookPr date1904="1"/>', part)
        return part if styled else re.sub(rb' s="\d+"(><v>%b</v>)' % number, rb"\1", part)

    return change


def test_a_time_typed_without_its_colon_is_the_same_time_in_a_1904_book(scenes: dict[str, Scene]) -> None:
    """838 in a cell for times is 8:38, not the hour of the day of 1906 that it turns into."""
    scene = scenes["en"]
    book = scene.filled(visit={"visit_date": dt.date(2026, 3, 3) - dt.timedelta(days=1462), "time_in": 838})
    intake = taken_in(scene, changed(book, _counting_from_1904(styled=True)))
    assert answer(intake, "time_in") == dt.time(8, 38)


@given(st.integers(1, 10**20), st.integers(0, 8), st.sampled_from(".,"))
def test_the_code_itself_always_fits_what_became_of_it(code: int, decimals: int, point: str) -> None:
    """Whatever number of digits a program shows, the code it came from is among the candidates."""
    codes = CodeList([str(code), f"00{code}", str(code + 1), "none"])
    shown = f"{float(code):.{decimals}E}".replace(".", point)
    assert {str(code), f"00{code}"} <= set(codes.fitting(shown))
    cut = str(code)[:15] + "0" * (len(str(code)) - 15)
    assert str(code) in codes.fitting(cut)
