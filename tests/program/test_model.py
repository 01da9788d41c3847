"""What a program tells of its people and stores beyond the rows of the setup."""

from __future__ import annotations

from tests.rollup.invented import Told, facts_of
from workbook_tools.program.joined import joined
from workbook_tools.program.model import Item, Merchandiser, Store


def test_everyone_has_a_name_to_print() -> None:
    """The full name where it is known; the short one of somebody whom the setup lacks."""
    program = facts_of([Told()]).program
    assert program.person("Kim").full_name == "Kim Full"
    assert program.person("Robin") == Merchandiser(merchandiser="Robin")
    assert program.person("Robin").full_name == "Robin"


def test_an_address_is_what_is_told_of_it() -> None:
    """Nothing stands for what is not told: no comma, no space."""
    store = Store(
        store="1", name="", merchandiser="", street="2 Mill Lane", postcode="Q12", city="Newport", region="OH"
    )
    assert store.address == "2 Mill Lane, Q12 Newport, OH"
    assert Store(store="1", name="", merchandiser="", city="Newport").address == "Newport"
    assert joined(["", "a", "", "b"]) == "a · b"


def test_an_item_without_a_description_is_known_by_its_name() -> None:
    """Lists say what people know an item by."""
    assert Item(item="Lids", item_code="1", brand="").described == "Lids"
    assert Item(item="Lids", item_code="1", brand="", description="Lids, 4 in").described == "Lids, 4 in"
