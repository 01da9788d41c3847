"""Everything that is written can be read: contrast by the formula of WCAG, in every cell and state of a book."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO

import openpyxl
import pytest

from tests.field_book.programs import book_of, made_program
from workbook_tools.contract.look import default_look

LOOK = default_look()
ENOUGH = 4.5
"""Least contrast of text, WCAG 2.2, success criterion 1.4.3 (w3.org/WAI/WCAG22/Understanding/contrast-minimum)."""


def luminance(colour: str) -> float:
    """Relative luminance of RRGGBB (w3c.github.io/wcag/guidelines/relative-luminance.html)."""
    parts = [int(colour[start : start + 2], 16) / 255 for start in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("colour", "ratio"),
    # Published: 000000 WCAG definition; 595959 a contrast page; 767676 auditbuffet.com; 1E293B unitcalctools.com.
    [("000000", 21.0), ("595959", 7.0), ("767676", 4.54), ("1E293B", 14.63)],
)
def test_the_formula_gives_the_published_ratios(colour: str, ratio: float) -> None:
    """On white, to the decimals published."""
    assert contrast(colour, "FFFFFF") == pytest.approx(ratio, abs=0.006)


def test_brand_labels_can_be_read() -> None:
    """The ink of each brand's band keeps 4.5 : 1 against its fill."""
    assert min(contrast(paint.fill, paint.ink) for paint in LOOK.brands) >= ENOUGH


def test_brand_fills_are_a_palette_for_colour_blind_eyes() -> None:
    """The colours of Okabe and Ito (as khroma lists them), black as a grey that can carry words; none twice."""
    okabe_ito = {"E69F00", "56B4E9", "009E73", "F0E442", "0072B2", "D55E00", "CC79A7"}
    fills = [paint.fill for paint in LOOK.brands]
    assert set(fills[:-1]) == okabe_ito
    assert len(set(fills)) == len(fills)


STATES = [("right_ink", "right"), ("again_ink", "again"), ("ink", "waiting"), ("ink", "settled"), ("ink", "todo")]


@pytest.mark.parametrize(("ink", "fill"), STATES)
def test_states_can_be_read(ink: str, fill: str) -> None:
    """What conditional formats paint keeps 4.5 : 1."""
    assert contrast(LOOK.colours[ink], LOOK.colours[fill]) >= ENOUGH


def texts(book: bytes) -> Iterator[tuple[str, str, str]]:
    """(place, ink, fill) of every cell that people can see with something in it, or that they can type in."""
    workbook = openpyxl.load_workbook(BytesIO(book), rich_text=True)
    for sheet in workbook:
        if sheet.sheet_state != "visible":
            continue
        for cells in sheet.iter_rows():
            for cell in cells:
                hidden = sheet.row_dimensions[cell.row].hidden or (cell.column == 1 and sheet.title == "Return")
                if hidden or (cell.value is None and cell.protection.locked):
                    continue
                fill = cell.fill.fgColor.rgb[2:] if cell.fill.fill_type == "solid" else "FFFFFF"
                inks = [cell.font.color.rgb[2:]]
                for piece in cell.value if isinstance(cell.value, list) else []:
                    inks.append(piece.font.color.rgb[2:])
                yield from ((f"{sheet.title}!{cell.coordinate}", ink, fill) for ink in inks)


@pytest.mark.parametrize("shared", [False, True])
def test_every_text_of_a_book_can_be_read(shared: bool) -> None:
    """Every cell of every sheet, rich text piece by piece."""
    found = list(texts(book_of(made_program(2, 3, 3, brands=12), shared=shared)))
    assert len(found) > 200
    assert {place: contrast(ink, fill) for place, ink, fill in found if contrast(ink, fill) < ENOUGH} == {}


def test_every_colour_also_says_it_in_words() -> None:
    """States differ in mark and words, cautions in their signal word, not in colour alone."""
    from workbook_tools.contract.words import languages, words_for  # noqa: PLC0415

    for language in languages():
        words = words_for(language)
        states = [words(f"state.{name}") for name in ("todo", "right", "again", "not_asked")]
        signals = [words(f"cover.signal_{name}") for name in ("warning", "caution", "notice")]
        assert len({state[0] for state in states}) == len(states)
        assert len(set(signals)) == len(signals)
