"""All returns → the facts of a program: open flags, the state of every store, every position as last reported."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.load import default_contract
from workbook_tools.folder import sha256
from workbook_tools.program.model import Program
from workbook_tools.returns.answers import KEY, is_settled
from workbook_tools.returns.intake import STANDING, Intake
from workbook_tools.returns.judge import FileResult
from workbook_tools.rollup.flags import QUESTION_OF, flag_returns, owners
from workbook_tools.rollup.since import is_told, key_of_flag, with_since

_PLACE = ("store", "visit_number", "order", "standing", "visit_date", "file")
_TOLD = ("label_told", "product_told", "other_item", "due_brand", "planned_code")
_VISIT = (
    "store",
    "visit",
    "merchandiser",
    "visit_date",
    "time_in",
    "time_out",
    "built",
    "place",
    "carton",
    "photo",
    "file",
)


@dataclass(frozen=True)
class Facts:
    """What the roll-up says, in keys. `status` has a row a store, `flags` a row an open flag, both in the
    contract's columns; `positions` a row for every position as last reported; `trays` the same rows in the same order
    with what was told of each, where "as planned" stands for label and product (null: not told); `visits` a row for
    every standing return. `identity` is the same for all merges of one program and of no other.
    """

    program: Program
    as_of: dt.date
    status: pl.DataFrame
    flags: pl.DataFrame
    positions: pl.DataFrame
    findings: tuple[Finding, ...]
    results: tuple[FileResult, ...]
    trays: pl.DataFrame
    visits: pl.DataFrame
    identity: str = ""


def merge(intake: Intake, as_of: dt.date) -> Facts:
    """Merge what was taken in; `as_of` is the day on which a window counts as closed."""
    places = intake.tables["visit"].select("return", *_PLACE)
    flags, positions = _by_revision(intake)
    flags = with_since(flags.join(places, on="return", how="inner"), {**intake.tables, "positions": positions})
    last = _last_reported("positions", positions)
    last_parts = _last_reported("parts", intake.tables["parts"])
    last_asked = _last_asked(intake.tables["visit"])
    held = pl.concat([last.select("return", KEY), last_parts.select("return", KEY), last_asked])
    open_flags = _open(flags, held, intake)
    findings = tuple(intake.findings)
    status = _status(intake, open_flags, last, as_of)
    return Facts(
        intake.program,
        as_of,
        status,
        open_flags,
        _for_readers(last),
        findings,
        intake.results,
        last.select("store", pl.col(KEY).alias("position"), *_TOLD),
        _standing_visits(intake.tables["visit"]),
        _identity(intake),
    )


def _standing_visits(visits: pl.DataFrame) -> pl.DataFrame:
    """The standing returns, by store and visit: who was there and when, and what became of the display."""
    standing = visits.filter("standing").rename({"visit_number": "visit"})
    return standing.select(*_VISIT).sort("store", "visit", maintain_order=True)


def _identity(intake: Intake) -> str:
    """Names the program by the first book ever issued of it: the register is only ever added to."""
    first = intake.register.books[0].token if intake.register.books else ""
    return sha256(f"roll-up {first}".encode())[:32]


def _by_revision(intake: Intake) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Flags and judged positions of all returns, each read against the revision it was issued in."""
    flags, positions = [], []
    for number, program in intake.programs.items():
        tables = {key: table.filter(pl.col("revision") == number) for key, table in intake.tables.items()}
        made, judged = flag_returns(tables, program)
        flags.append(owners(made, program))
        positions.append(judged)
    return pl.concat(flags), pl.concat(positions)


def _last_reported(block: str, rows: pl.DataFrame) -> pl.DataFrame:
    """The rows of standing returns; of several visits of a store, the last one that tells something in the row.

    A row left blank reports nothing, so what was reported before stands; it counts where nothing was.
    """
    standing = rows.filter("standing").with_columns(is_told(block).alias("_told")).with_row_index("_row")
    last = standing.sort("_told", "visit_number", "_row").unique(["store", KEY], keep="last")
    return last.sort("visit_number", "_row").drop("_told", "_row")


def _last_asked(visits: pl.DataFrame) -> pl.DataFrame:
    """For each question with a flag of its own, the standing return of each store that was the last to be asked it."""
    ordered = visits.filter("standing").sort("visit_number", maintain_order=True)
    asked = []
    for question in dict.fromkeys(QUESTION_OF.values()):
        held = ordered.filter(~is_settled(question) | pl.col(question).is_not_null())
        last = held.unique("store", keep="last", maintain_order=True)
        asked.append(last.select("return", pl.lit(question).alias(KEY)))
    return pl.concat(asked)


def _for_readers(positions: pl.DataFrame) -> pl.DataFrame:
    """Every position as last reported: where, what is planned, the answers as given, and whether it is right."""
    answers = [field.key for field in default_contract().field_book.block("positions").open_fields]
    planned = {"item": "planned_item", "item_code": "planned_code", "brand": "planned_brand"}
    return positions.select(
        "store",
        pl.col("visit_number").alias("visit"),
        pl.col(KEY).alias("position"),
        *(pl.col(column).alias(name) for name, column in planned.items()),
        *answers,
        "planned_units",
        "due_brand",
        "due_code",
        "right",
    )


def _open(flags: pl.DataFrame, last: pl.DataFrame, intake: Intake) -> pl.DataFrame:
    """The flags that stand, in the order of stores, the walk and the kinds, in the contract's columns.

    `last` names the (return, key) in which each position, part and question of the visit was last reported.
    """
    columns = default_contract().tables["flags"]
    kinds = list(default_contract().flag_owners)
    standing = flags.filter("standing").with_columns(key_of_flag())
    standing = standing.join(last, on=["return", KEY], how="semi", maintain_order="left")
    walk = {position.key: number for number, position in enumerate(intake.program.walk)}
    stores = {store.store: number for number, store in enumerate(intake.program.stores)}
    ordered = standing.with_columns(
        pl.col("store").replace_strict(stores, default=len(stores)).alias("_store"),
        pl.col("position").replace_strict(walk, default=len(walk)).alias("_walk"),
        pl.col("kind").replace_strict({kind: number for number, kind in enumerate(kinds)}).alias("_kind"),
    ).sort("_store", "store", "_walk", "position", "_kind")
    return ordered.rename({"visit_number": "visit"}).select(*columns)


def _status(intake: Intake, flags: pl.DataFrame, last: pl.DataFrame, as_of: dt.date) -> pl.DataFrame:
    program = intake.program
    open_by_store = {store: table for (store,), table in flags.group_by("store")}
    right = dict(last.filter("right").group_by("store").len().iter_rows())
    newest = _newest_results(intake)
    uncertain = _uncertain(intake, flags, last)
    dates = dict(intake.tables["visit"].filter("standing").select("return", "visit_date").iter_rows())
    rows = []
    for store in program.stores:
        result = newest.get(store.store)
        owners_open = open_by_store[store.store]["who"].to_list() if store.store in open_by_store else []
        outcome = "to correct" if store.store in uncertain else result.outcome if result else ""
        state = state_of(outcome, owners_open)
        overdue = state != "done" and as_of > program.settings.due
        rows.append(
            (
                store.store,
                store.name,
                store.district,
                store.merchandiser,
                state,
                "yes" if overdue else "no",
                dates.get(result.number) if result else None,
                len(program.walk),
                right.get(store.store, 0),
                len(owners_open),
                result.file if result else "",
            )
        )
    return pl.DataFrame(rows, schema=_STATUS_SCHEMA, orient="row")


def _uncertain(intake: Intake, flags: pl.DataFrame, last: pl.DataFrame) -> set[str]:
    """Stores of which an earlier visit's return is to be corrected, and some position is neither right nor flagged."""
    walk = [position.key for position in intake.program.walk]
    known = pl.concat([last.filter("right").select("store", KEY), flags.select("store", pl.col("position").alias(KEY))])
    counts = dict(known.filter(pl.col(KEY).is_in(walk)).unique().group_by("store").len().iter_rows())
    to_correct = {one.store for one in intake.results if one.store and one.outcome == "to correct"}
    return {store for store in to_correct if counts.get(store, 0) < len(walk)}


def _newest_results(intake: Intake) -> dict[str, FileResult]:
    """The standing return of each store's newest visit."""
    standing = [one for one in intake.results if one.store and one.outcome in STANDING]
    return {one.store: one for one in sorted(standing, key=lambda one: one.visit or 0)}


_STATUS_SCHEMA = {
    "store": pl.String,
    "name": pl.String,
    "district": pl.String,
    "merchandiser": pl.String,
    "state": pl.String,
    "overdue": pl.String,
    "visit_date": pl.Date,
    "positions": pl.Int64,
    "right": pl.Int64,
    "open_flags": pl.Int64,
    "file": pl.String,
}


def state_of(outcome: str, open_owners: Iterable[str]) -> str:
    """A store's state from its standing return's outcome ("" when none came) and who has open flags to put right."""
    who = set(open_owners)
    if not outcome:
        return "not back"
    if outcome == "to correct":
        return "to correct"
    if "merchandiser" in who:
        return "go back"
    return "waiting" if who else "done"
