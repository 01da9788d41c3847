"""A choice told in a language that is nobody's here is read all the same, and a notice says what it was read as."""

from __future__ import annotations

import copy
from pathlib import Path

import pytest

from tests.returns.scene import Scene
from tests.small_program import CONTENT
from workbook_tools.contract.findings import Finding
from workbook_tools.contract.words import words_for

SPANISH, FRENCH = (words_for(language) for language in ("es", "fr"))


def scene_in(root: Path, program: str, book: str) -> Scene:
    """The small program with a language of its own and one of its books."""
    content = copy.deepcopy(CONTENT)
    content["program"][0]["language"] = program
    for person in content["merchandisers"]:
        person["language"] = book
    return Scene(root, content)


@pytest.fixture(scope="module")
def scenes(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], Scene]:
    """By the program's language and the book's."""
    pairs = [("en", "en"), ("en", "es"), ("es", "es")]
    return {pair: scene_in(tmp_path_factory.mktemp("-".join(pair)), *pair) for pair in pairs}


def notices(scene: Scene, **visit: str) -> list[Finding]:
    """What is noted of the choices of a return, the visit's told otherwise."""
    result = scene.only(scene.filled(visit=visit))
    assert result.outcome == "merged"
    return [one for one in result.findings if one.rule == "choice_recognised" and one.column in visit]


@pytest.mark.parametrize(
    ("pair", "language"),
    [
        (("en", "en"), "es"),
        (("en", "en"), "fr"),
        (("en", "es"), "fr"),
        (("es", "es"), "fr"),
        (("es", "es"), "en"),
    ],
)
def test_a_word_of_another_language_gives_a_notice(
    pair: tuple[str, str], language: str, scenes: dict[tuple[str, str], Scene]
) -> None:
    """Before and after stand in it, the latter in the words of whoever reads it, and so does the cell."""
    (notice,) = notices(scenes[pair], carton=words_for(language).choice("carton", "found"))
    assert notice.severity == "note"
    assert notice.cell
    assert notice.problem(SPANISH) == f"“{words_for(language).choice('carton', 'found')}” se leyó como “encontrada”."


@pytest.mark.parametrize(
    ("pair", "language"),
    [(("en", "en"), "en"), (("en", "es"), "es"), (("en", "es"), "en"), (("es", "es"), "es")],
)
def test_a_word_of_the_books_own_language_or_the_programs_is_silent(
    pair: tuple[str, str], language: str, scenes: dict[tuple[str, str], Scene]
) -> None:
    """What one's own drop-down offers, and what the office itself says, needs no notice."""
    assert notices(scenes[pair], carton=words_for(language).choice("carton", "found")) == []


def test_a_word_that_several_languages_share_is_ones_own(scenes: dict[tuple[str, str], Scene]) -> None:
    """“no” is Spanish as it is English."""
    assert SPANISH.choice("yes_no", "no") == "no"
    assert notices(scenes["es", "es"], tags_asked="no") == []


def test_each_tray_with_a_foreign_word_has_its_notice(scenes: dict[tuple[str, str], Scene]) -> None:
    """In a French word on two trays of an English book; the trays in its own words have none."""
    scene = scenes["en", "en"]
    yes = FRENCH.choice("yes_no", "yes")
    result = scene.only(scene.filled(positions={"A-1-1": {"as_planned": yes}, "B-2-2": {"as_planned": yes}}))
    noted = [one for one in result.findings if one.rule == "choice_recognised"]
    assert len({one.cell for one in noted}) == len(noted) == 2
    assert {one.value for one in noted} == {yes}
