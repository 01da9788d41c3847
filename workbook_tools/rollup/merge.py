"""All returns → the facts of a program: open flags, the state of every store, every position as last reported."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import polars as pl

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.load import default_contract
from workbook_tools.folder import sha256
from workbook_tools.program.model import Program
from workbook_tools.returns.answers import KEY, is_settled
from workbook_tools.returns.intake import Intake
from workbook_tools.returns.judge import FileResult
from workbook_tools.returns.pieces import Pieces
from workbook_tools.returns.settle import STANDING
from workbook_tools.rollup.flags import QUESTION_OF, TRAY_KINDS, flag_returns, owners
from workbook_tools.rollup.since import is_told, key_of_flag, with_since

_PLACE = ("store", "visit_number", "order", "standing", "visit_date", "file")
_VISITED = ("store", "visit", "visit_date")
TOLD = ("label_told", "product_told")
"""Columns of the positions that say what the answers mean, for those who go on reckoning."""
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
    contract's columns; `visits` has a row for every standing return. `positions` has a row for every position as last
    reported, in pieces that hold all of a store; beside the answers as given, `label_told` and `product_told` are what
    they say, where "as planned" stands for label and product (null: not told). `identity` is the same for all merges
    of one program and of no other.
    """

    program: Program
    as_of: dt.date
    status: pl.DataFrame
    flags: pl.DataFrame
    positions: Pieces
    findings: tuple[Finding, ...]
    results: tuple[FileResult, ...]
    visits: pl.DataFrame
    identity: str = ""


def merge(intake: Intake, as_of: dt.date) -> Facts:
    """Merge what was taken in; `as_of` is the day on which a window counts as closed."""
    merged = _Merged(intake)
    for tables in intake.batches():
        merged.add(tables)
    flags = pl.concat(merged.flags)
    return Facts(
        program=intake.program,
        as_of=as_of,
        status=_status(intake, merged, flags, as_of),
        flags=flags,
        positions=merged.positions,
        findings=tuple(intake.findings),
        results=intake.results,
        visits=pl.concat(merged.visits).sort("store", "visit", maintain_order=True),
        identity=_identity(intake),
    )


class _Merged:
    """What the batches gave so far. `right` and `known` count positions by store: those that are right, and those of
    the program's that are right or flagged.
    """

    def __init__(self, intake: Intake) -> None:
        self.intake = intake
        self.flags: list[pl.DataFrame] = []
        self.visits: list[pl.DataFrame] = []
        self.positions = Pieces()
        self.right: dict[str, int] = {}
        self.known: dict[str, int] = {}
        self._walk = {position.key: number for number, position in enumerate(intake.program.walk)}
        self._stores = {store.store: number for number, store in enumerate(intake.program.stores)}

    def add(self, tables: Mapping[str, pl.DataFrame]) -> None:
        """Merge a batch, which holds all returns of its stores."""
        places = tables["visit"].select("return", *_PLACE)
        flags, positions = _by_revision(self.intake, tables)
        flags = with_since(flags.join(places, on="return", how="inner"), {**tables, "positions": positions})
        last = _last_reported("positions", positions)
        last_parts = _last_reported("parts", tables["parts"])
        held = [last.select("return", KEY), last_parts.select("return", KEY), _last_asked(tables["visit"])]
        open_flags = self._in_order(_open(flags, pl.concat(held)), _kind_order())
        self.flags.append(open_flags)
        self.visits.append(_standing_visits(tables["visit"]))
        self.positions.add(self._in_order(_for_readers(last)))
        self._count(open_flags, last)

    def _count(self, flags: pl.DataFrame, last: pl.DataFrame) -> None:
        right = last.filter("right").select("store", KEY)
        self.right |= dict(right.group_by("store").len().iter_rows())
        wrong = flags.filter(pl.col("kind").is_in(TRAY_KINDS)).select("store", pl.col("position").alias(KEY))
        known = pl.concat([right, wrong])
        known = known.filter(pl.col(KEY).is_in(list(self._walk))).unique()
        self.known |= dict(known.group_by("store").len().iter_rows())

    def _in_order(self, rows: pl.DataFrame, *then: pl.Expr) -> pl.DataFrame:
        """In the order of the setup's stores and of the walk around the display, what is in neither at the end."""
        stores = {store: self._stores.get(store, len(self._stores)) for store in rows["store"].unique()}
        store = pl.col("store").replace_strict(stores, return_dtype=pl.Int64)
        place = pl.col("position").replace_strict(self._walk, default=len(self._walk), return_dtype=pl.Int64)
        return rows.sort(store, "store", place, "position", *then, maintain_order=True)


def _standing_visits(visits: pl.DataFrame) -> pl.DataFrame:
    """The standing returns: who was there and when, and what became of the display."""
    return visits.filter("standing").rename({"visit_number": "visit"}).select(*_VISIT)


def _identity(intake: Intake) -> str:
    """Names the program by the first book ever issued of it: the register is only ever added to."""
    first = intake.register.books[0].token if intake.register.books else ""
    return sha256(f"roll-up {first}".encode())[:32]


def _by_revision(intake: Intake, tables: Mapping[str, pl.DataFrame]) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Flags and judged positions of returns, each read against the revision it was issued in."""
    flags, positions = [], []
    for number, program in intake.programs.items():
        theirs = {key: table.filter(pl.col("revision") == number) for key, table in tables.items()}
        made, judged = flag_returns(theirs, program)
        flags.append(owners(made, program))
        positions.append(judged)
    return pl.concat(flags), pl.concat(positions)


def _last_reported(block: str, rows: pl.DataFrame) -> pl.DataFrame:
    """The rows of standing returns, in no order; of several visits of a store, the last one that tells something in
    the row.

    A row left blank reports nothing, so what was reported before stands; it counts where nothing was.
    """
    standing = rows.filter("standing")
    several = standing.select("return", "store").unique().filter(pl.col("store").is_duplicated())
    again = pl.col("store").is_in(several["store"].unique().implode())
    told = standing.filter(again).with_columns(is_told(block).alias("_told"))
    ordered = told.sort("_told", "visit_number", maintain_order=True).drop("_told")
    return pl.concat([standing.filter(~again), ordered.unique(["store", KEY], keep="last", maintain_order=True)])


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
        *TOLD,
    )


def _open(flags: pl.DataFrame, last: pl.DataFrame) -> pl.DataFrame:
    """The flags that stand, in the contract's columns.

    `last` names the (return, key) in which each position, part and question of the visit was last reported.
    """
    standing = flags.filter("standing").with_columns(key_of_flag())
    standing = standing.join(last, on=["return", KEY], how="semi", maintain_order="left")
    return standing.rename({"visit_number": "visit"}).select(default_contract().tables["flags"])


def _kind_order() -> pl.Expr:
    kinds = {kind: number for number, kind in enumerate(default_contract().flag_owners)}
    return pl.col("kind").replace_strict(kinds, return_dtype=pl.Int64)


def _status(intake: Intake, merged: _Merged, flags: pl.DataFrame, as_of: dt.date) -> pl.DataFrame:
    program = intake.program
    open_by_store: dict[str, list[str]] = {}
    for store, who in flags.select("store", "who").iter_rows():
        open_by_store.setdefault(store, []).append(who)
    newest = _newest_results(intake)
    uncertain = _uncertain(intake, merged.known)
    dates = {row[:2]: row[2] for visits in merged.visits for row in visits.select(*_VISITED).iter_rows()}
    rows = []
    for store in program.stores:
        result = newest.get(store.store)
        owners_open = open_by_store.get(store.store, [])
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
                dates.get((store.store, result.visit)) if result else None,
                len(program.walk),
                merged.right.get(store.store, 0),
                len(owners_open),
                result.file if result else "",
            )
        )
    return pl.DataFrame(rows, schema=_STATUS_SCHEMA, orient="row")


def _uncertain(intake: Intake, known: Mapping[str, int]) -> set[str]:
    """Stores of which an earlier visit's return is to be corrected, and some position is neither right nor flagged."""
    to_correct = {one.store for one in intake.results if one.store and one.outcome == "to correct"}
    return {store for store in to_correct if known.get(store, 0) < len(intake.program.walk)}


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
