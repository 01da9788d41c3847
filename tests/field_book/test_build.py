"""The program's book: built once, for however many stores."""

from __future__ import annotations

import dataclasses

from tests.field_book.programs import made_program
from workbook_tools.field_book.build import build_template
from workbook_tools.program.model import Store


def test_a_book_is_the_same_for_two_stores_and_for_two_thousand() -> None:
    """No book carries the list of all stores, so none grows with their number; only a shared book does."""
    few = made_program()
    stores = tuple(Store(store=f"{number:05d}", name="Shop", merchandiser="Kim") for number in range(2_000))
    many = dataclasses.replace(few, stores=stores)
    assert build_template(many, "en", {}) == build_template(few, "en", {})
    assert len(build_template(many, "en", {}, shared=True)) > len(build_template(few, "en", {}, shared=True))
