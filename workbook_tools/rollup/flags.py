"""What is not as it should be in a store: one function a kind of flag, over the positions and visits of all returns."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import polars as pl

from workbook_tools.contract.load import default_contract
from workbook_tools.program.model import Program
from workbook_tools.returns.answers import KEY, is_broken, is_settled

NO_LABEL = "no label"
OTHER_ITEM = "other item"
TAG_NOT_ON_TRAY = ("asked store", "store cannot print", "no tag")
TOLD_FIELDS = ("label", "tag", "product")
"""What a position that is not "as planned" has to tell."""

QUESTION_OF = {"photo_missing": "photo", "not_built": "built", "place_changed": "place"}
"""The question of the visit whose answer raises a flag about the visit as a whole."""

FLAG_SCHEMA = {
    "return": pl.UInt32,
    "position": pl.String,
    "kind": pl.String,
    "due": pl.String,
    "found": pl.String,
    "item_code": pl.String,
    "brand": pl.String,
    "note": pl.String,
}


def with_planned(positions: pl.DataFrame, visits: pl.DataFrame, program: Program) -> pl.DataFrame:
    """The positions of built displays, with what is planned, what stands there and what is therefore due.

    `label_told`, `tag_told` and `product_told` fill in what "as planned: yes" says; `due_brand` and `due_code` are
    those of the item that stands there (null when it is not an item of the program).
    """
    walk = [(position, program.item_at(position)) for position in program.walk]
    planned = pl.DataFrame(
        [(p.key, i.item, i.item_code, i.brand, p.units, list(i.substitutes)) for p, i in walk],
        schema={
            KEY: pl.String,
            "planned_item": pl.String,
            "planned_code": pl.String,
            "planned_brand": pl.String,
            "planned_units": pl.Int64,
            "substitutes": pl.List(pl.String),
        },
        orient="row",
    )
    others = pl.DataFrame(
        [(item.item_code, item.item, item.brand) for item in program.items],
        schema={"other_item": pl.String, "other_name": pl.String, "other_brand": pl.String},
        orient="row",
    )
    built = visits.select("return", "built")
    yes = (pl.col("as_planned") == "yes").fill_null(False)
    table = positions.join(built, on="return", how="left").filter(pl.col("built").ne_missing("no"))
    table = table.join(planned, on=KEY, how="inner").join(others, on="other_item", how="left")
    table = table.with_columns(
        _told("label", pl.col("planned_brand"), yes),
        _told("tag", pl.lit("on tray"), yes),
        _told("product", pl.lit("set"), yes),
        yes.alias("yes"),
    )
    other = (pl.col("product_told") == OTHER_ITEM).fill_null(False)
    return table.with_columns(
        other.alias("other"),
        pl.when(other).then("other_brand").otherwise("planned_brand").alias("due_brand"),
        pl.when(other).then("other_item").otherwise("planned_code").alias("due_code"),
    )


def _told(field: str, as_planned: pl.Expr, yes: pl.Expr) -> pl.Expr:
    told = pl.when(pl.col(field).is_null() & yes & ~is_broken(field)).then(as_planned).otherwise(pl.col(field))
    return told.alias(f"{field}_told")


def _flags(table: pl.DataFrame, kind: str, **columns: pl.Expr) -> pl.DataFrame:
    named = {"due": pl.lit(""), "found": pl.lit(""), "item_code": pl.lit(""), "brand": pl.lit(""), "note": pl.lit("")}
    made = {**named, "position": pl.col(KEY), "kind": pl.lit(kind), **columns}
    texts = [expression.cast(pl.String).fill_null("").alias(name) for name, expression in made.items()]
    return table.select("return", *texts).select(*FLAG_SCHEMA)


_STANDING = {"item_code": pl.col("due_code"), "brand": pl.col("due_brand")}
_PLANNED = {"item_code": pl.col("planned_code"), "brand": pl.col("planned_brand")}


def label_mismatch(table: pl.DataFrame) -> pl.DataFrame:
    """The label is of another brand than the item that stands there."""
    label, due = pl.col("label_told"), pl.col("due_brand")
    wrong = table.filter((label != NO_LABEL) & (label != due))
    return _flags(wrong, "label_mismatch", due=due, found=label, **_STANDING)


def label_missing(table: pl.DataFrame) -> pl.DataFrame:
    """There is no label on the tray."""
    bare = table.filter(pl.col("label_told") == NO_LABEL)
    return _flags(bare, "label_missing", due=pl.col("due_brand"), found=pl.col("label_told"), **_STANDING)


def tag_missing(table: pl.DataFrame) -> pl.DataFrame:
    """There is no shelf tag and none was asked for, or the store cannot print it."""
    bare = table.filter(pl.col("tag_told").is_in(("no tag", "store cannot print")))
    return _flags(bare, "tag_missing", due=pl.col("due_code"), found=pl.col("tag_told"), **_STANDING)


def tag_asked(table: pl.DataFrame) -> pl.DataFrame:
    """The store was asked to print the shelf tag."""
    asked = table.filter(pl.col("tag_told") == "asked store")
    return _flags(asked, "tag_asked", due=pl.col("due_code"), found=pl.col("tag_told"), **_STANDING)


def tag_mismatch(table: pl.DataFrame) -> pl.DataFrame:
    """The code on the tag is not the item code of the item that stands there."""
    on_tray = pl.col("tag_told").is_in(TAG_NOT_ON_TRAY).not_().fill_null(True)
    wrong = table.filter(on_tray & (pl.col("tag_code") != pl.col("due_code")))
    return _flags(wrong, "tag_mismatch", due=pl.col("due_code"), found=pl.col("tag_code"), **_STANDING)


def item_missing(table: pl.DataFrame) -> pl.DataFrame:
    """Nothing stands there."""
    bare = table.filter(pl.col("product_told") == "none")
    return _flags(bare, "item_missing", due=pl.col("planned_units"), found=pl.col("product_told"), **_PLANNED)


def item_short(table: pl.DataFrame) -> pl.DataFrame:
    """Fewer units than planned stand there."""
    fewer = (pl.col("product_told") == "set") & (pl.col("units") < pl.col("planned_units"))
    short = table.filter((pl.col("product_told") == "short") | fewer.fill_null(False))
    found = pl.coalesce(pl.col("units").cast(pl.String), pl.lit("short"))
    return _flags(short, "item_short", due=pl.col("planned_units"), found=found, **_PLANNED)


def item_other(table: pl.DataFrame) -> pl.DataFrame:
    """Another item stands there; the note says so when the setup allows it as a substitute."""
    allowed = pl.col("substitutes").list.contains(pl.col("other_name")).fill_null(False)
    note = pl.when(allowed).then(pl.lit("substitute")).otherwise(pl.lit(""))
    others = table.filter("other")
    return _flags(others, "item_other", due=pl.col("planned_code"), found=pl.col("other_item"), note=note, **_PLANNED)


def not_reported(table: pl.DataFrame) -> pl.DataFrame:
    """The position, or a part of it, was left blank; the note names what is not told when the rest is."""
    blank = {field: pl.col(f"{field}_told").is_null() & ~is_broken(field) for field in TOLD_FIELDS}
    names = [pl.when(test).then(pl.lit(field)) for field, test in blank.items()]
    wholly = pl.all_horizontal(*blank.values()) & pl.col("as_planned").is_null()
    note = pl.when(wholly).then(pl.lit("")).otherwise(pl.concat_str(names, separator="; ", ignore_nulls=True))
    left = table.filter(pl.any_horizontal(*blank.values()) & ~is_broken("as_planned"))
    return _flags(left, "not_reported", note=note, **_PLANNED)


POSITION_FLAGS: tuple[Callable[[pl.DataFrame], pl.DataFrame], ...] = (
    label_mismatch,
    label_missing,
    tag_missing,
    tag_asked,
    tag_mismatch,
    item_missing,
    item_short,
    item_other,
    not_reported,
)


TRAY_KINDS = tuple(make.__name__ for make in POSITION_FLAGS)
"""The kinds of flags about a position. Go by them: a part may be called like one, such as A-1-1."""


def part_missing(parts: pl.DataFrame, program: Program) -> pl.DataFrame:
    """Parts are missing or damaged; `position` is the part, `found` how many can be used."""
    counts = pl.DataFrame(
        [(part.part, part.quantity) for part in program.parts], schema={KEY: pl.String, "due": pl.Int64}, orient="row"
    )
    missing, damaged = (pl.col(name).fill_null(0) for name in ("missing", "damaged"))
    lacking = parts.join(counts, on=KEY, how="inner").filter(missing + damaged > 0)
    said = [
        pl.when(count > 0).then(pl.concat_str([pl.lit(f"{name} "), count.cast(pl.String)]))
        for name, count in (("missing", missing), ("damaged", damaged))
    ]
    note = pl.concat_str(said, separator="; ", ignore_nulls=True)
    found = pl.max_horizontal(pl.col("due") - missing - damaged, 0)
    return _flags(lacking, "part_missing", due=pl.col("due"), found=found, note=note)


def visit_flags(visits: pl.DataFrame, program: Program) -> pl.DataFrame:
    """The flags of a visit as a whole: photo, built, place."""
    visits = visits.with_columns(pl.lit("").alias(KEY))
    settings = program.settings
    built = pl.col("built").ne_missing("no")
    asked = settings.photos != "none"
    wanted = built & ~is_broken("photo") & ~is_settled("photo") & pl.lit(asked)
    no_photo = visits.filter(wanted & pl.col("photo").ne_missing("yes"))
    not_built = visits.filter(pl.col("built").is_in(("no", "partly")))
    elsewhere = visits.filter(built & (pl.col("place") == "elsewhere"))
    return pl.concat(
        [
            _flags(no_photo, "photo_missing", due=pl.lit(settings.photos), found=pl.col("photo")),
            _flags(not_built, "not_built", due=pl.lit("yes"), found=pl.col("built"), note=pl.col("why_not")),
            _flags(elsewhere, "place_changed", due=pl.lit(settings.place), found=pl.col("place"), note=pl.col("note")),
        ]
    )


def flag_returns(tables: dict[str, pl.DataFrame], program: Program) -> tuple[pl.DataFrame, pl.DataFrame]:
    """All flags of all returns of one revision, and the positions with what is planned and `right` for each."""
    positions = with_planned(tables["positions"], tables["visit"], program)
    made = [make(positions) for make in POSITION_FLAGS]
    wrong = pl.concat([one.select("return", pl.col("position").alias(KEY)) for one in made]).unique()
    told = pl.all_horizontal(*(pl.col(f"{field}_told").is_not_null() for field in TOLD_FIELDS))
    judged = positions.join(wrong.with_columns(pl.lit(True).alias("flagged")), on=["return", KEY], how="left")
    judged = judged.with_columns((told & pl.col("flagged").is_null()).alias("right"))
    flags = pl.concat([*made, part_missing(tables["parts"], program), visit_flags(tables["visit"], program)])
    return flags, judged


def owners(flags: pl.DataFrame, program: Program) -> pl.DataFrame:
    """Who puts each flag right: as the contract says; a missing label is the office's when the kit was short."""
    trays = Counter(program.item_at(position).brand for position in program.walk)
    short = [one.brand for one in program.labels if one.packed is not None and one.packed < trays[one.brand]]
    by_kind = pl.col("kind").replace_strict(default_contract().flag_owners, return_dtype=pl.String)
    kit = (pl.col("kind") == "label_missing") & pl.col("brand").is_in(short)
    return flags.with_columns(pl.when(kit).then(pl.lit("office")).otherwise(by_kind).alias("who"))
