"""The field book of a program, built once in each language: a template with placeholders where stores differ."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from workbook_tools import __version__
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.look import default_look
from workbook_tools.contract.model import KEY_COLUMN
from workbook_tools.contract.names import TOKEN_NAME, sheet_name
from workbook_tools.contract.words import words_for
from workbook_tools.contract.writing import TEXT_FORMAT, ListSheet, SheetWriter, hide, write_key_row
from workbook_tools.field_book.canvas import STORE_TEXTS, Canvas, placeholder
from workbook_tools.field_book.cover import write_cover
from workbook_tools.field_book.faces import write_face_sheets
from workbook_tools.field_book.items import write_item_sheet, write_tag_sheet
from workbook_tools.field_book.particulars import PLAIN, Particulars
from workbook_tools.field_book.put_right import write_put_right
from workbook_tools.field_book.return_sheet import write_return_sheet
from workbook_tools.field_book.stamp import Stamp
from workbook_tools.program.joined import joined
from workbook_tools.program.model import Program, Store
from workbook_tools.program.pictures import Picture

LONGEST_FOOTER_TEXT = 100
"""Characters of a store's name that a page footer shows; a footer holds 255 in all, ampersands doubled."""


def build(
    program: Program,
    language: str,
    pictures: Mapping[str, Picture],
    *,
    shared: bool = False,
    particulars: Particulars = PLAIN,
) -> Stamp:
    """Build the program's book in a language, ready to be stamped for each store.

    With particulars it is the book of one store. Raises BuildError when the writing library refuses a part of it.
    """
    return Stamp(build_template(program, language, pictures, shared=shared, particulars=particulars))


def build_template(
    program: Program,
    language: str,
    pictures: Mapping[str, Picture],
    *,
    shared: bool = False,
    particulars: Particulars = PLAIN,
) -> bytes:
    """The book as a whole .xlsx with placeholders where stores differ. Raises BuildError as `build` does."""
    particulars = replace(particulars, shared=shared)
    canvas = Canvas(default_contract(), program, words_for(language), default_look(), dict(pictures), particulars)
    words = canvas.words
    put_right = _sheet(canvas, words("correct.sheet")) if particulars.slips else None
    cover = _sheet(canvas, words("cover.sheet"))
    faces = {face: _sheet(canvas, canvas.face_sheet(face)) for face in program.faces}
    return_sheet = _sheet(canvas, canvas.layout.sheet)
    items, tags = _sheet(canvas, words("items.sheet")), _sheet(canvas, words("tags.sheet"))
    canvas.lists = ListSheet(_sheet(canvas, "lists"))
    _write_lists(canvas)
    trays = write_face_sheets(canvas, faces)
    write_cover(canvas, cover)
    workings = _sheet(canvas, "workings")
    write_return_sheet(canvas, return_sheet, workings, trays)
    workings.protect("", {"objects": True})
    workings.hide()
    write_item_sheet(canvas, items)
    write_tag_sheet(canvas, tags)
    _write_identity(canvas, _sheet(canvas, "book"), language)
    if put_right:
        write_put_right(canvas, put_right)
    (put_right or cover).activate()
    return canvas.finish()


def stamp_values(store: Store | None, program: Program, *, token: str, revision: int, visit: int) -> dict[str, str]:
    """What takes the place of each placeholder in one store's book; `store` is None for a shared book."""
    merchandiser = store.merchandiser if store else ""
    values = store_texts(store) if store else dict.fromkeys(STORE_TEXTS, "")
    return {
        **values,
        "store.line": joined([values["store.store"], values["store.name"]], " ")[:LONGEST_FOOTER_TEXT],
        "person.name": program.person(merchandiser).full_name,
        "visit.store": values["store.store"],
        "visit.merchandiser": merchandiser,
        "book.token": token,
        "book.revision": str(revision),
        "book.visit": str(visit),
    }


def store_texts(store: Store) -> dict[str, str]:
    """The texts of one store that the book shows, by the keys of STORE_TEXTS."""
    return {
        "store.store": store.store,
        "store.name": store.name,
        "store.address": store.address,
        "store.phone": store.phone,
        "store.district": store.district,
    }


def _sheet(canvas: Canvas, name: str) -> SheetWriter:
    return canvas.book.sheet(sheet_name(name))


def _write_lists(canvas: Canvas) -> None:
    """The entries of every drop-down, and the tables that live formulas look up."""
    style = canvas.book.format(num_format=TEXT_FORMAT)
    program, lists = canvas.program, canvas.lists
    for choices in canvas.contract.choices.values():
        if choices.source == "stores" and not canvas.shared:
            continue  # a store is picked in a shared book only; ten thousand of them would weigh down every other
        shown = [canvas.words.choice(choices.key, key) for key in choices.options(program.sources)]
        lists.add(choices.key, shown, style)
    lists.add("item_codes", [item.item_code for item in program.items], style)
    lists.add("item_brands", [item.brand for item in program.items], style)
    if canvas.shared:
        texts = [store_texts(store) for store in program.stores]
        for key in STORE_TEXTS:
            lists.add(key, [one[key] for one in texts], style)
    lists.sheet.hide()


def _write_identity(canvas: Canvas, sheet: SheetWriter, language: str) -> None:
    """The `#book` block on its hidden sheet, and the token once more as a workbook-level name."""
    form = canvas.contract.field_book.sheet_of("book")
    block = canvas.contract.field_book.block("book")
    style = canvas.book.format(num_format=TEXT_FORMAT)
    stamped = {"store": "store.store", "token": "book.token", "revision": "book.revision", "visit": "book.visit"}
    known = {"program": canvas.program.settings.code, "language": language, "made_by": f"workbook-tools {__version__}"}
    known |= {"correction": str(canvas.particulars.correction), "corrects": canvas.particulars.corrects}
    write_key_row(sheet, block, 0)
    for row, field in enumerate(block.fields, start=1):
        sheet.text(row, KEY_COLUMN, field.key)
        if field.key in stamped:
            area = (row, block.value_index, row, block.value_index)
            canvas.stamped(sheet, area, stamped[field.key], style, live=False)
        else:
            sheet.text(row, block.value_index, known[field.key], style)
    canvas.book.name(TOKEN_NAME, f'="{placeholder("book.token")}"')
    sheet.protect("", {"objects": True})
    hide(sheet, form)
