"""Plain lists: every store by state, wrong labels, shelf tags, findings, files, what earlier merges counted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import polars as pl

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words
from workbook_tools.rollup.history import DAY, HistoryRow, history_columns
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.notes import facts_of
from workbook_tools.rollup.sheets.page import Page
from workbook_tools.rollup.sheets.place import Place
from workbook_tools.rollup.sheets.tables import TableOptions, write_table
from workbook_tools.rollup.sheets.told import due, found, remark
from workbook_tools.rollup.totals import built_stores
from workbook_tools.rollup.work import TAG_KINDS

_LABELS = ("store", "name", "district", "position", "due", "found", "merchandiser", "since", "remark")
_FINDINGS = ("severity", "file", "store", "sheet", "cell", "column", "value", "problem", "todo", "rule")
_FILES = ("outcome", "file", "store", "visit", "reason", "received", "sender", "sha256")
_TAGS = ("store", "name", "position", "item_code", "item", "brand", "kind", "found", "who", "since", "printed")
_IN_FLAGS = TableOptions(cut=("rows", "flags.csv"))


def write_stores(page: Page, facts: Facts) -> dict[str, Place]:
    """Every store, sorted by state; gives where each state's rows stand."""
    states = default_contract().states
    order = {state: number for number, state in enumerate(states)}
    table = facts.status.with_columns(pl.col("state").replace_strict(order, return_dtype=pl.Int64).alias("_order"))
    table = table.sort("_order", maintain_order=True)
    built = built_stores(facts)
    rows = (
        {
            **row,
            "merchandiser": facts.program.person(row["merchandiser"]).full_name,
            "built": "yes" if row["store"] in built else "no",
        }
        for row in table.iter_rows(named=True)
    )
    columns = (*default_contract().tables["status"], "built")
    sheet = page.head("stores", page.words("rollup.counted.stores", count=table.height))
    whole = write_table(page, sheet, columns, rows, TableOptions(cut=("rows", "status.csv")))
    page.finish(sheet, freeze=(4, 2))
    by_column = {name: whole.column(columns.index(name)) for name in ("built", "right", "overdue")}
    return {"stores": whole, **by_column, **whole.by_key("states", table["state"], states)}


def write_labels(page: Page, facts: Facts) -> Place:
    """Wrong brand labels, tray by tray."""
    wrong = facts.flags.filter(pl.col("kind") == "label_mismatch")
    sheet = page.head("labels", _counted(page, wrong))
    place = write_table(page, sheet, _LABELS, with_stores(page.words, facts, wrong), _IN_FLAGS)
    page.finish(sheet, freeze=(4, 2))
    return place


def write_tags(page: Page, facts: Facts) -> Place:
    """Shelf tags that are missing, asked for or wrong, tray by tray, with a column to tick."""
    tags = facts.flags.filter(pl.col("kind").is_in(TAG_KINDS))
    sheet = page.head("tags", _counted(page, tags))
    rows = ({**row, "item": _described(facts, row["item_code"])} for row in with_stores(page.words, facts, tags))
    place = write_table(page, sheet, _TAGS, rows, _IN_FLAGS)
    page.finish(sheet, freeze=(4, 2))
    return place


def _counted(page: Page, flags: pl.DataFrame) -> str:
    about = page.words("rollup.counted.flags", count=flags.height, stores=flags["store"].n_unique())
    return about if flags.height else ""


def write_findings(page: Page, facts: Facts) -> Place:
    """What has to be put right, looked at or known about the returns."""
    sheet = page.head(
        "findings", page.words("rollup.counted.findings", count=len(facts.findings)) if facts.findings else ""
    )
    rows = (_finding(page.words, one) for one in facts.findings)
    place = write_table(page, sheet, _FINDINGS, rows, TableOptions(cut=("rows", "findings.csv")))
    page.finish(sheet)
    return place


def _finding(words: Words, one: Finding) -> dict[str, object]:
    """A row of findings.csv, with the heading that people read in place of the column's key."""
    heading = f"{one.about}.heading"
    return {**one.row(words), **({"column": words(heading)} if heading in words else {})}


def write_files(page: Page, facts: Facts) -> dict[str, Place]:
    """Every file that came back, sorted by outcome, those set aside first; gives where each outcome's rows stand."""
    outcomes = default_contract().outcomes[::-1]
    order = {outcome: number for number, outcome in enumerate(outcomes)}
    results = sorted(facts.results, key=lambda one: order[one.outcome])
    sheet = page.head("files", page.words("rollup.counted.files", count=len(results)) if results else "")
    rows = ({**one.row(page.words), "received": one.received[:16].replace("T", " ")} for one in results)
    whole = write_table(page, sheet, _FILES, rows, TableOptions(cut=("rows", "files.csv")))
    page.finish(sheet)
    return {"rollup.files": whole, **whole.by_key("outcomes", (result.outcome for result in results), outcomes)}


def write_history(page: Page, history: Sequence[HistoryRow]) -> Place:
    """What each merge counted, a row a day."""
    sheet = page.head("history", page.words("rollup.counted.merges", count=len(history)))
    columns = (DAY, *history_columns())
    headings = {column: page.words(f"tables.history.{column}") for column in columns}
    rows = ({DAY: row.as_of, **row.counts} for row in history)
    place = write_table(page, sheet, columns, rows, TableOptions(headings=headings, charted=True))
    page.finish(sheet)
    return place


def with_stores(words: Words, facts: Facts, flags: pl.DataFrame) -> Iterator[dict[str, object]]:
    """Flags in words, with what is known of their stores; a flag's own note is called its remark."""
    stores = facts.program.store
    for row in flags.iter_rows(named=True):
        store = stores.get(row["store"])
        about: dict[str, object] = {}
        if store:
            person = facts.program.person(store.merchandiser)
            about = {"name": store.name, "district": store.district, "merchandiser": person.full_name}
        told = {"due": due(words, row), "found": found(words, row), "remark": remark(words, row)}
        yield {**row, **about, **told, "facts": facts_of(row["due"], row["found"])}


def _described(facts: Facts, code: object) -> str:
    """What people know an item by, from its code; "" when the program has none of that code."""
    item = facts.program.item_by_code.get(str(code))
    return item.described if item else ""
