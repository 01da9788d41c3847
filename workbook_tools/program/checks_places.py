"""The places where the display may stand: one named twice, several written as one."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.values import plain_form
from workbook_tools.program.view import View, text, texts


def check_places(view: View) -> Iterator[Finding]:
    """What is likely not meant in the list of other places."""
    row = view.setting_row("other_places")
    if row is None:
        return
    places = texts(row, "other_places")
    seen = {plain_form(text(view.setting_row("place"), "place"))}
    for place in places:
        if plain_form(place) in seen:
            yield view.at("program", "place_twice", row, "other_places", value=place)
        seen.add(plain_form(place))
    if len(places) == 1 and "," in places[0]:
        yield view.at("program", "list_commas", row, "other_places")
