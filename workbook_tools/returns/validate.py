"""All returns of one revision, validated in one pass: repairs, the contract's schema, then the rules across cells."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import polars as pl

from workbook_tools.contract.findings import Finding, limits
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import Block, Field
from workbook_tools.contract.names import row_and_column
from workbook_tools.program.model import Program
from workbook_tools.returns.answers import BROKEN, KEY, RETURN, SETTLED, Answers, is_broken, map_column
from workbook_tools.returns.foreign import Owned, by_languages, foreign_choices
from workbook_tools.returns.locked import locked_cells
from workbook_tools.returns.repair import Meant, Repairs

CODE_FIELDS = ("tag_code", "other_item")
NO_TAG = ("asked store", "store cannot print", "no tag")


def validate(answers: Answers, repairs: Repairs) -> list[tuple[int, Finding]]:
    """Repair and validate the tables of `answers` (all of one revision, whose program's the repairs are), in place.

    Rows that were not issued are taken out of them, so that nothing else is said of those.
    Returns (file number, finding) for everything found, when the files were read and now; a value that the contract
    does not allow is taken out of its table and its field marked as broken.
    """
    program = repairs.program
    issued = {"positions": frozenset(p.key for p in program.walk), "parts": frozenset(p.part for p in program.parts)}
    for key, rows in issued.items():
        answers.tables[key] = answers.tables[key].filter(pl.col(KEY).is_in(rows))
    owned = by_languages(answers, program)
    found = list(_found_in_reading(answers, issued))
    for key in ("visit", "positions", "parts"):
        block = default_contract().field_book.block(key)
        found += _repair(answers, block, repairs, owned)
        found += _schema(answers, block, program)
    planned = _planned(program)
    positions = answers.tables["positions"].join(planned, on=KEY, how="left")
    for rule in POSITION_RULES:
        found += rule.find(answers, positions)
    found += _unknown_other_items(answers, program)
    found += _lost_rows(answers, issued)
    found += locked_cells(answers, program)
    for check in (_visits, _tags_asked, _parts):
        found += check(answers, program)
    return found


def _found_in_reading(answers: Answers, issued: Mapping[str, frozenset[str]]) -> Iterator[tuple[int, Finding]]:
    """What was found when the files were read, but for what is wrong in rows that were not issued (keys by block)."""
    for number, source in answers.sources.items():
        strange = {
            (block.sheet, row)
            for key, keys in issued.items()
            if (block := source.read.blocks.get(key)) and not keys.issuperset(block.keys)
            for row, of in zip(block.rows, block.keys, strict=True)
            if of not in keys
        }
        for one in source.read.findings:
            if not strange or _place(one) not in strange:
                yield number, replace(one, file=source.file, store=source.store)


def _place(finding: Finding) -> tuple[str, int | None]:
    """The sheet and 0-based row a finding is about."""
    place = row_and_column(finding.cell)
    return finding.sheet, place[0] if place else None


def _repair(answers: Answers, block: Block, repairs: Repairs, owned: Owned) -> Iterator[tuple[int, Finding]]:
    """Put right what is provable; what cannot be known is taken out and marked as broken."""
    severities = default_contract().rules
    for field in block.answered_fields:
        mend = _mending(field, repairs)
        if mend is None:
            continue
        if field.choices:
            yield from foreign_choices(answers, block, field, repairs.program, owned)
        table = answers.tables[block.key]
        meant = {typed: mend(typed) for typed in table[field.key].drop_nulls().unique().sort()}
        changed = [typed for typed, one in meant.items() if one.rule]
        for number, key, typed in _cells(block, table, field.key, pl.col(field.key).is_in(changed)) if changed else ():
            one = meant[str(typed)]
            about = {"value": typed, "read": one.value, "codes": ", ".join(one.codes)}
            yield number, answers.finding(one.rule, number, block.key, key, field.key, **about)
        table = map_column(table, field.key, {typed: one.value for typed, one in meant.items()})
        lost = [typed for typed, one in meant.items() if one.rule and severities[one.rule] == "must mend"]
        rows = table.select(pl.arg_where(pl.col(field.key).is_in(lost))).to_series().to_list() if lost else []
        answers.tables[block.key] = _taken_out(table, {row: {field.key} for row in rows}) if rows else table


def _mending(field: Field, repairs: Repairs) -> Callable[[str], Meant] | None:
    if field.choices:
        return lambda typed: repairs.choice(field.choices, typed)
    return repairs.item_code if field.key in CODE_FIELDS else None


def _cells(block: Block, table: pl.DataFrame, field: str, where: pl.Expr) -> Iterator[tuple[int, str, object]]:
    """(file number, row key, value) of a field's cells where a condition holds."""
    fixed = block.rows == "fixed"
    key = pl.lit(field) if fixed else pl.col(KEY)
    yield from table.filter(where).select(RETURN, key.alias("_key"), pl.col(field).alias("_value")).iter_rows()


def get_ready() -> None:
    """Load the library that validating needs, which takes half a second: there is time for it while files are read."""
    import workbook_tools.contract.schema  # noqa: F401, PLC0415


def _schema(answers: Answers, block: Block, program: Program) -> Iterator[tuple[int, Finding]]:
    from workbook_tools.contract.schema import block_schema, failures  # noqa: PLC0415 - see get_ready

    contract = default_contract()
    table = answers.tables[block.key]
    broken: dict[int, set[str]] = {}
    for failure in failures(block_schema(contract, block, program.sources), table):
        field = block.by_key[failure.column]
        number, value = table[RETURN][failure.row], table[failure.column][failure.row]
        key = failure.column if block.rows == "fixed" else table[KEY][failure.row]
        broken.setdefault(failure.row, set()).add(failure.column)
        about = limits(contract, field, program.sources)
        about["prompt"] = ""
        yield number, answers.finding(failure.rule, number, block.key, key, field.key, value=value, **about)
    if broken:
        answers.tables[block.key] = _taken_out(table, broken)


def _taken_out(table: pl.DataFrame, broken: Mapping[int, set[str]]) -> pl.DataFrame:
    """The table without the values that are not allowed, each marked as broken."""
    marks = table[BROKEN].to_list()
    gone: dict[str, list[int]] = {}
    for row, fields in broken.items():
        marks[row] = f"{marks[row] or ';'}{';'.join(sorted(fields))};"
        for field in fields:
            gone.setdefault(field, []).append(row)
    index = pl.int_range(pl.len())
    cleared = [
        pl.when(index.is_in(rows)).then(None).otherwise(pl.col(field)).alias(field) for field, rows in gone.items()
    ]
    return table.with_columns(*cleared, pl.Series(BROKEN, marks, dtype=pl.String))


def _planned(program: Program) -> pl.DataFrame:
    """What is planned at each position, by its key."""
    rows = [(p.key, program.item_at(p).brand, program.item_at(p).item_code, p.units) for p in program.walk]
    return pl.DataFrame(
        rows,
        schema={KEY: pl.String, "planned_brand": pl.String, "planned_code": pl.String, "planned_units": pl.Int64},
        orient="row",
    )


@dataclass(frozen=True, slots=True)
class PositionRule:
    """A rule across the cells of one position: where `when` holds, a finding at `field`."""

    name: str
    field: str
    when: pl.Expr

    def find(self, answers: Answers, positions: pl.DataFrame) -> Iterator[tuple[int, Finding]]:
        """The findings of this rule over all positions of all returns."""
        hits = positions.filter(self.when).select(RETURN, KEY, pl.col(self.field).alias("_value"), "planned_units")
        for number, key, value, planned in hits.iter_rows():
            about = {"value": value, "position": key, "planned": planned}
            yield number, answers.finding(self.name, number, "positions", key, self.field, **about)


_YES = pl.col("as_planned") == "yes"
_OTHER = pl.col("product") == "other item"
_NO_CODE = pl.col("other_item").is_null() & ~is_broken("other_item")
_NOT_OTHER = _OTHER.not_().fill_null(True)
POSITION_RULES = (
    PositionRule("right_contradicts", "label", _YES & (pl.col("label") != pl.col("planned_brand"))),
    PositionRule("right_contradicts", "tag", _YES & (pl.col("tag") != "on tray")),
    PositionRule("right_contradicts", "product", _YES & (pl.col("product") != "set")),
    PositionRule("other_item_missing", "other_item", _OTHER & _NO_CODE),
    PositionRule("other_item_planned", "other_item", _OTHER & (pl.col("other_item") == pl.col("planned_code"))),
    PositionRule("other_item_unasked", "other_item", pl.col("other_item").is_not_null() & _NOT_OTHER),
    PositionRule("tag_code_unasked", "tag_code", pl.col("tag_code").is_not_null() & pl.col("tag").is_in(NO_TAG)),
    PositionRule("units_above_plan", "units", pl.col("units") > pl.col("planned_units")),
    PositionRule(
        "short_not_short", "units", (pl.col("product") == "short") & (pl.col("units") >= pl.col("planned_units"))
    ),
)


def _unknown_other_items(answers: Answers, program: Program) -> Iterator[tuple[int, Finding]]:
    known = list(program.item_by_code)
    where = _OTHER & pl.col("other_item").is_not_null() & ~pl.col("other_item").is_in(known)
    block = default_contract().field_book.block("positions")
    for number, key, value in _cells(block, answers.tables["positions"], "other_item", where):
        yield number, answers.finding("other_item_unknown", number, "positions", key, "other_item", value=value)


def _lost_rows(answers: Answers, issued: Mapping[str, frozenset[str]]) -> Iterator[tuple[int, Finding]]:
    """Rows that were issued (keys by block) and are gone, rows that were not issued, whole blocks that are gone."""
    for number, source in answers.sources.items():
        for block, every in issued.items():
            keys = source.asked_of(block, every)
            read = source.read.blocks.get(block)
            if read is None:
                if keys:
                    yield number, answers.finding("block_lost", number, block, "", "", block=block)
                continue
            for key in sorted(keys.difference(read.keys)):
                yield number, answers.finding("row_lost", number, block, key, "", value=key)
            for key in dict.fromkeys(one for one in read.keys if one not in keys):
                yield number, answers.finding("row_strange", number, block, key, "", value=key)
        if "visit" not in source.read.blocks:
            yield number, answers.finding("block_lost", number, "visit", "", "", block="visit")


def _visits(answers: Answers, program: Program) -> Iterator[tuple[int, Finding]]:
    settings = program.settings
    for row in answers.tables["visit"].iter_rows(named=True):
        number = row[RETURN]
        when, time_in, time_out = row["visit_date"], row["time_in"], row["time_out"]
        reversed_times = bool(time_in and time_out and time_out < time_in)
        checks: tuple[tuple[str, str, bool, dict[str, object]], ...] = (
            (
                "out_before_in",
                "time_out",
                reversed_times,
                {"time_in": _hour(time_in)},
            ),
            ("before_window", "visit_date", bool(when and when < settings.starts), {"starts": settings.starts}),
            ("after_window", "visit_date", bool(when and when > settings.due), {"due": settings.due}),
            ("why_not_missing", "why_not", row["built"] == "no" and row["why_not"] is None, {}),
        )
        for rule, field, holds, fields in checks:
            if holds:
                value = _hour(row[field]) if isinstance(row[field], dt.time) else row[field]
                yield number, answers.finding(rule, number, "visit", field, field, value=value, **fields)
        for field in ("visit_date", "built"):
            if row[field] is None and f";{field};" not in row[BROKEN] + row[SETTLED]:
                yield number, answers.finding("required", number, "visit", field, field)


def _hour(time: dt.time | None) -> str:
    return f"{time:%H:%M}" if time else ""


def _tags_asked(answers: Answers, program: Program) -> Iterator[tuple[int, Finding]]:
    """A tag that was asked for needs the visit's answer that tags were asked for."""
    asked = answers.tables["positions"].filter(pl.col("tag") == "asked store").group_by(RETURN, maintain_order=True)
    first = asked.agg(pl.col(KEY).first())
    said = answers.tables["visit"].select(RETURN, "tags_asked")
    for number, key, value in first.join(said, on=RETURN).filter(pl.col("tags_asked") == "no").iter_rows():
        about = {"value": value, "position": key}
        yield number, answers.finding("tags_not_asked", number, "visit", "tags_asked", "tags_asked", **about)


def _parts(answers: Answers, program: Program) -> Iterator[tuple[int, Finding]]:
    quantity = {part.part: part for part in program.parts}
    lacking = pl.col("missing").fill_null(0) + pl.col("damaged").fill_null(0)
    table = answers.tables["parts"].filter(lacking > 0)
    for number, key, count, missing in table.select(RETURN, KEY, lacking.alias("lacking"), "missing").iter_rows():
        part = quantity.get(key)
        if part and count > part.quantity:
            field = "missing" if missing else "damaged"
            about = {"value": count, "part": part.name, "quantity": part.quantity}
            yield number, answers.finding("missing_above_count", number, "parts", key, field, **about)
