"""Which returns go back to their senders, with what in them: all answers given, and what to put right in each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from email.utils import parseaddr

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.values import clean_text
from workbook_tools.contract.words import DEFAULT_LANGUAGE, languages, words_for
from workbook_tools.field_book.corrections import Correction, Taken, mark_of
from workbook_tools.field_book.particulars import Cell, Particulars, Slip
from workbook_tools.folder import ProgramFolder, sha256
from workbook_tools.program.asked import PARTS, POSITIONS, VISIT
from workbook_tools.program.model import Program
from workbook_tools.program.register import IssuedBook
from workbook_tools.returns.address import Place
from workbook_tools.returns.as_given import AsGiven, as_given
from workbook_tools.returns.collect import Candidate, collect
from workbook_tools.returns.intake import Intake
from workbook_tools.returns.judge import FileResult
from workbook_tools.returns.repair import Repairs
from workbook_tools.rollup.work import to_put_right

_TOGETHER: Mapping[str, tuple[str, ...]] = {
    "out_before_in": ("time_in",),
    "right_contradicts": ("as_planned",),
    "short_not_short": ("product",),
    "other_item_missing": ("product",),
    "other_item_planned": ("product",),
    "other_item_unasked": ("product",),
    "why_not_missing": ("built",),
    "missing_above_count": ("missing", "damaged"),
    "tags_not_asked": ("tag",),
}
"""Rule → other answers that do not go together with the one it names, and may be the wrong ones."""


def corrections(folder: ProgramFolder, intake: Intake, paths: Sequence[Place]) -> list[Correction]:
    """Everything to be sent back of what was taken in from `paths`, in the order of the stores.

    A file that was changed or taken away in the meantime is left out.
    """
    wanted = {result.file: result for result in intake.results if result.outcome == "to correct"}
    if not wanted:
        return []
    found = (one for one in collect(paths, folder.root) if one.origin in wanted)
    repairs = {number: Repairs(program) for number, program in intake.programs.items()}
    made = (_correction(intake, repairs, wanted[one.origin], one) for one in found)
    order = {store.store: number for number, store in enumerate(intake.program.stores)}
    return sorted((one for one in made if one), key=lambda one: (order.get(one.store, len(order)), one.book.visit))


def right_by_now(intake: Intake) -> list[Taken]:
    """The stores and visits whose standing return has nothing to correct, and the returns without a store that were
    corrected.
    """
    right = []
    for one in intake.results:
        if one.outcome == "merged" and one.visit is not None:
            right.append(Taken(one.store, one.visit))
        elif one.outcome == "superseded" and not one.store:
            right.append(Taken(mark=mark_of(one.sha256)))
    return right


def _correction(
    intake: Intake, repairs: Mapping[int, Repairs], result: FileResult, candidate: Candidate
) -> Correction | None:
    try:
        data = candidate.read()
    except OSError:
        return None
    given = as_given(data, sha256(data)) if sha256(data) == result.sha256 else None
    book = intake.register.by_token.get(str(given.read.identity.get("token", ""))) if given else None
    if given is None or book is None:
        return None
    program = intake.programs[book.revision]
    language = _language(given, program, result.store)
    particulars = Particulars(
        visit=book.visit,
        asked=intake.register.asked.get(book.token),
        given=_as_offered(given, repairs[book.revision], language),
        slips=tuple(_slips(result, given, program)),
        correction=given.read.correction + 1,
        corrects=result.sha256,
    )
    return Correction(
        book=book,
        store=result.store,
        language=language,
        particulars=particulars,
        person=_person(given, program, result.store, book),
        sender=parseaddr(result.sender)[1],
        mark=mark_of(result.sha256),
    )


def _language(given: AsGiven, program: Program, store: str) -> str:
    """The language the return was filled in: its answers are words of that language."""
    issued = given.read.language
    if issued in languages():
        return issued
    known = program.store.get(store)
    return program.language_of(known) if known else program.settings.language or DEFAULT_LANGUAGE


def _as_offered(given: AsGiven, repairs: Repairs, language: str) -> dict[Cell, object]:
    """The answers as typed, but every choice that was understood as the book offers it: its live cells know no other
    word, and would ask for that answer again.
    """
    contract, words = default_contract(), words_for(language)
    values = dict(given.values)
    for (block, key, name), typed in given.values.items():
        choices = contract.field_book.block(block).by_key[name].choices
        if choices and isinstance(typed, str):
            meant = repairs.choice(choices, clean_text(typed)).value
            if meant in contract.choices[choices].options(repairs.program.sources):
                values[block, key, name] = words.choice(choices, meant)
    return values


def _person(given: AsGiven, program: Program, store: str, book: IssuedBook) -> str:
    """Who made the visit, as far as the setup knows them; else whose store it is."""
    told = str(given.values.get((VISIT, "merchandiser", "merchandiser"), ""))
    if told in program.merchandiser:
        return told
    return program.store[store].merchandiser if store in program.store else book.merchandiser


def _slips(result: FileResult, given: AsGiven, program: Program) -> Iterator[Slip]:
    """What to put right, in the order of the book: what concerns the whole of it first."""
    walk = {position.key: number for number, position in enumerate(program.walk)}
    slips = [Slip(one, tuple(dict.fromkeys(_cells(one, given, program)))) for one in to_put_right(result)]
    blocks = [POSITIONS, VISIT, PARTS]

    def place(slip: Slip) -> tuple[int, int, int]:
        if not slip.cells:
            return (-1, 0, 0)
        block, key, field = slip.cells[0]
        columns = [one.key for one in default_contract().field_book.block(block).fields]
        return (blocks.index(block), walk.get(key, 0), columns.index(field))

    yield from sorted(slips, key=place)


def _cells(finding: Finding, given: AsGiven, program: Program) -> Iterator[Cell]:
    """The answers a finding is about, the one it names first."""
    book = default_contract().field_book
    if finding.rule in ("store_not_picked", "store_unknown"):
        yield (VISIT, "store", "store")
        return
    if finding.rule == "row_lost":
        block = PARTS if finding.value in {part.part for part in program.parts} else POSITIONS
        yield (block, finding.value, book.block(block).open_fields[0].key)
        return
    named = given.cells.get((finding.sheet, finding.cell))
    if named is None:
        return
    block, key, field = named
    if field in {one.key for one in book.block(block).open_fields}:
        yield named
    else:
        yield from (cell for cell in given.values if cell[:2] == (block, key))
    for other in _TOGETHER.get(finding.rule, ()):
        if block == VISIT and finding.rule == "tags_not_asked":
            yield (POSITIONS, str(finding.fields.get("position", "")), other)
        else:
            yield (block, other if block == VISIT else key, other)
