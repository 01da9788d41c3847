"""The cover says how to move the carton and the built display, each by its own size, and the display only empty."""

from __future__ import annotations

from io import BytesIO

import openpyxl
import pytest

from tests.field_book.programs import book_of, made_program
from workbook_tools.contract.words import words_for

WORDS = words_for("en")
CARTON = {"carton_length": 20.0, "carton_width": 14.0, "carton_height": 6.0, "carton_weight": 24.0}
BUILT = {"display_width": 24.0, "display_depth": 20.0, "display_height": 60.0}


def facts(**settings: object) -> dict[str, str]:
    """What the cover says beside the headings of the carton's half."""
    sheet = openpyxl.load_workbook(BytesIO(book_of(made_program(1, 1, 1, **settings))))["Cover"]
    texts = [cell.value for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)]
    keys = ("carton_lift", "display_size", "display_lift")
    return {key: texts[texts.index(said) + 1] for key in keys if (said := WORDS(f"cover.{key}")) in texts}


@pytest.mark.parametrize(
    ("told", "carton", "built"),
    [
        ({}, "lift_unknown", "move_unknown"),
        (CARTON, "lift_get_help", "move_unknown"),
        (BUILT, "lift_unknown", "move_unknown"),
        (CARTON | BUILT, "lift_get_help", "move_get_help"),
        (CARTON | BUILT | {"carton_weight": 12.0}, "lift_one_person", "move_one_person"),
        (CARTON | BUILT | {"display_width": 40.0, "display_depth": 36.0}, "lift_get_help", "move_do_not_lift"),
    ],
)
def test_each_is_moved_by_its_own_size(told: dict[str, float], carton: str, built: str) -> None:
    """What is built from the carton weighs no more than the carton; where a size is not told, no advice is made up."""
    said = facts(**told)
    assert said["carton_lift"] == WORDS(f"cover.{carton}")
    assert said["display_lift"] == WORDS(f"cover.{built}")


def test_the_size_of_the_built_display_is_shown_where_it_is_told() -> None:
    """So that its place can be measured before it is built."""
    assert facts(**BUILT)["display_size"] == "24 × 20 × 60 in"
    assert "display_size" not in facts()


def test_a_built_display_is_never_moved_with_goods_on_it() -> None:
    """Every advice says so first, in words that do not depend on its size."""
    moves = [WORDS(f"cover.move_{advice}") for advice in ("unknown", "one_person", "get_help", "do_not_lift")]
    assert all(text.startswith("Only while it is empty. CAUTION: ") for text in moves)
