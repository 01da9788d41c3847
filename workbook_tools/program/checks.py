"""The checks of a setup: each table against the contract, then the tables against one another."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from workbook_tools.contract.findings import Finding, Phrase, limits, shown
from workbook_tools.contract.limits import limit_of
from workbook_tools.contract.model import KEY_COLUMN, Contract
from workbook_tools.contract.sheets import RawCell
from workbook_tools.contract.tables import BlockReader, Row, Table, did_you_mean
from workbook_tools.contract.words import languages
from workbook_tools.program.gtin import canonical, expand_upc_e, read_gtin
from workbook_tools.program.names_taken import NAMES_TAKEN

NEEDED_BLOCKS = frozenset(("positions", "items", "labels", "stores", "merchandisers"))
"""Blocks no display program can do without; the others may be left empty."""

_GTIN_RULES = {
    "not_digits": "gtin_not_digits",
    "wrong_length": "gtin_length",
    "check_digit": "gtin_check_digit",
    "ambiguous": "gtin_two_ways",
    "shortened": "gtin_shortened",
}

_ROUND = "0" * 6
"""What a number ends with that was shortened to 4.00E+11 and typed or pasted as a number again."""

Tables = Mapping[str, Table]


class TableChecker:
    """Makes findings about the cells of one table."""

    def __init__(self, contract: Contract, file: str, table: Table) -> None:
        self.contract = contract
        self.table = table
        self._reader = BlockReader(contract, "setup", file)

    def at(self, rule: str, row: Row, key: str, **fields: object) -> Finding:
        """A finding at a field's cell in a row."""
        cell = self.cell(row, key) or RawCell(row.number, KEY_COLUMN, "")
        return self._reader.finding(rule, self.table.block, self.table.raw, key, cell, **fields)

    def cell(self, row: Row, key: str) -> RawCell | None:
        """The cell of a field in a row as found, or None when its column is missing."""
        column = self.table.block.value_column if self.table.block.rows == "fixed" else key
        return self.table.raw.cell(row.number, row.cells, column) if column in self.table.raw.columns else None

    def whole(self, rule: str, **fields: object) -> Finding:
        """A finding about the table as a whole."""
        return self._reader.finding(rule, self.table.block, self.table.raw, "", **fields)


def check_tables(contract: Contract, file: str, tables: Tables) -> Iterator[Finding]:
    """Everything that is not as it should be in the values of a setup, pictures aside."""
    for key, table in tables.items():
        checker = TableChecker(contract, file, table)
        if not table.rows and table.block.rows != "fixed":
            yield checker.whole("block_empty" if key in NEEDED_BLOCKS else "block_unused")
            continue
        yield from _required(checker)
        yield from _allowed(checker)
        yield from _unique(checker)
        yield from _references(checker, tables)
    for key, check in _ACROSS.items():
        if key in tables:
            yield from check(TableChecker(contract, file, tables[key]), tables)
    for table in tables.values():
        yield from _reserved(TableChecker(contract, file, table))


def _required(checker: TableChecker) -> Iterator[Finding]:
    """A required cell that is blank; a column that is missing altogether has been found once already."""
    block = checker.table.block
    required = [field.key for field in block.fields if field.required]
    for row in checker.table.rows:
        for key in required:
            is_here = block.rows != "fixed" or row.key == key
            if is_here and key not in row.values and key not in row.broken and checker.cell(row, key):
                yield checker.at("required", row, key)


def _allowed(checker: TableChecker) -> Iterator[Finding]:
    """Choices, bounds, patterns and lengths, as the contract gives them."""
    sources = {"languages": languages()}
    judges = [(field, limit_of(checker.contract, field, sources)) for field in checker.table.block.fields]
    limited = [(field, judge) for field, judge in judges if judge]
    for row in checker.table.rows:
        for field, judge in limited:
            if field.key in row.values:
                for rule in judge(row.values[field.key]):
                    yield checker.at(rule, row, field.key, **limits(checker.contract, field, sources))


def _unique(checker: TableChecker) -> Iterator[Finding]:
    block = checker.table.block
    groups: list[tuple[str, ...]] = [(field.key,) for field in block.fields if field.unique and field.type != "gtin"]
    if block.identity and block.identity not in groups:
        groups.append(block.identity)
    for keys in groups:
        seen: dict[tuple[object, ...], Row] = {}
        for row in checker.table.rows:
            if not all(key in row.values for key in keys):
                continue
            value = tuple(_folded(row.values[key]) for key in keys)
            if value in seen:
                first = checker.table.cell(seen[value], keys[-1])
                named = "-".join(str(row.values[key]) for key in keys)
                yield checker.at("duplicate", row, keys[-1], value=named, first=first)
            else:
                seen[value] = row


def _folded(value: object) -> object:
    return value.casefold() if isinstance(value, str) else value


def _reserved(checker: TableChecker) -> Iterator[Finding]:
    """Names that mean something else in field books or in the files that hold them."""
    for key, rule, is_taken in NAMES_TAKEN.get(checker.table.block.key, ()):
        for row in checker.table.rows:
            value = row.values.get(key, ())
            for name in value if isinstance(value, tuple) else (str(value),):
                if is_taken(name):
                    yield checker.at(rule, row, key, value=name)


def _references(checker: TableChecker, tables: Tables) -> Iterator[Finding]:
    """A name that does not stand where it should; where nothing stands, that has been found already."""
    for field in checker.table.block.fields:
        if not field.refers:
            continue
        block, _, key = field.refers.partition(".")
        known = _values(tables, block, key)
        if not known:
            continue
        target = Phrase(f"setup.sheets.{block}")
        for row in checker.table.rows:
            value = row.values.get(field.key, ())
            for name in value if isinstance(value, tuple) else (str(value),):
                if name not in known:
                    hint = did_you_mean(name, sorted(map(str, known)))
                    yield checker.at(
                        "refers_nowhere", row, field.key, value=shown(name), target=target, did_you_mean=hint
                    )


def _check_program(checker: TableChecker, tables: Tables) -> Iterator[Finding]:
    rows = {row.key: row for row in checker.table.rows}
    starts, due = (rows[key].values.get(key) if key in rows else None for key in ("starts", "due"))
    if starts and due and str(due) < str(starts):
        yield checker.at("dates_out_of_order", rows["due"], "due", first=starts)


def _check_items(checker: TableChecker, tables: Tables) -> Iterator[Finding]:
    seen: dict[str, str] = {}
    standing = _values(tables, "positions", "item")
    used = standing | {one for value in _values(tables, "items", "substitutes") for one in _entries(value)}
    for row in checker.table.rows:
        if standing and row.values.get("item") and row.values["item"] not in used:
            yield checker.at("item_no_position", row, "item")
        if "gtin" not in row.values:
            continue
        yield from _gtin_findings(checker, row)
        reading = read_gtin(str(row.values["gtin"]))
        if reading.gtin is None:
            continue
        canon = canonical(reading.gtin)
        if canon in seen:
            yield checker.at("gtin_duplicate", row, "gtin", first=seen[canon])
        seen.setdefault(canon, checker.table.cell(row, "gtin"))


def _gtin_findings(checker: TableChecker, row: Row) -> Iterator[Finding]:
    cell = checker.cell(row, "gtin")
    typed = shown(cell.value) if cell else ""
    reading = read_gtin(typed)
    if reading.problem == "check_digit" and typed.endswith(_ROUND):
        yield checker.at("gtin_shortened", row, "gtin")
    elif rule := _GTIN_RULES.get(reading.problem):
        digits = "".join(filter(str.isdigit, typed))
        expanded = expand_upc_e(digits) if reading.problem == "ambiguous" else ""
        yield checker.at(rule, row, "gtin", expected=reading.expected, length=len(digits), expanded=expanded)
    elif reading.repaired:
        yield checker.at("gtin_repaired", row, "gtin", read=reading.gtin)


def _check_labels(checker: TableChecker, tables: Tables) -> Iterator[Finding]:
    standing = _values(tables, "positions", "item")
    brands = {
        row.values.get("brand")
        for row in (tables["items"].rows if "items" in tables else ())
        if row.values.get("item") in standing
    }
    for row in checker.table.rows if brands else ():
        if row.values.get("brand") and row.values["brand"] not in brands:
            yield checker.at("brand_no_positions", row, "brand")


def _check_positions(checker: TableChecker, tables: Tables) -> Iterator[Finding]:
    shelves = tables.get("shelves")
    described = {(row.values.get("face"), row.values.get("shelf")) for row in shelves.rows} if shelves else set()
    told = set()
    for row in checker.table.rows if described else ():
        place = (row.values.get("face"), row.values.get("shelf"))
        if None not in place and place not in described and place not in told:
            told.add(place)
            yield checker.at("shelf_not_described", row, "shelf", value=f"{place[0]}-{place[1]}")


def _entries(value: object) -> tuple[str, ...]:
    return value if isinstance(value, tuple) else ()


def _values(tables: Tables, block: str, key: str) -> set[object]:
    return {row.values[key] for row in tables[block].rows if key in row.values} if block in tables else set()


_ACROSS: dict[str, Callable[[TableChecker, Tables], Iterator[Finding]]] = {
    "program": _check_program,
    "items": _check_items,
    "labels": _check_labels,
    "positions": _check_positions,
}
