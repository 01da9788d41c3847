"""Since when a flag is open: the first of the returns in a row that show it."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from workbook_tools.contract.load import default_contract
from workbook_tools.returns.answers import BROKEN, KEY, is_broken
from workbook_tools.rollup.flags import QUESTION_OF

_FLAG, _WHEN = ("store", "position", "kind"), ("visit_number", "order")


def with_since(flags: pl.DataFrame, tables: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """Each flag with the date of the first return in the unbroken run of returns that show it, as `since`.

    What ends a run is a return that tells something there and does not show the flag; one that was not asked, or left
    it blank, does not. `tables` ("visit", "positions", "parts") hold the answers of all returns with their places.
    """
    several = tables["visit"].filter(pl.col("store").is_duplicated()).select("return")
    again = flags.join(several, on="return", how="semi").with_columns(key_of_flag(), pl.lit(False).alias("ends"))
    shown = again.select("return", KEY, *_FLAG, *_WHEN, "visit_date", "ends").unique([*_FLAG, *_WHEN], keep="first")
    told = pl.concat(_told_at(shown.select("store", KEY).unique(), tables))
    others = told.join(shown.select(*_FLAG, KEY).unique(), on=["store", KEY])
    others = others.join(shown, on=[*_FLAG, *_WHEN], how="anti").with_columns(pl.lit(True).alias("ends"))
    events = pl.concat([shown, others], how="diagonal").sort(*_FLAG, *_WHEN)
    events = events.with_columns(pl.col("ends").cum_sum().over(_FLAG).alias("run"))
    since = pl.col("visit_date").min().over([*_FLAG, "run"]).alias("since")
    runs = events.with_columns(since).filter(~pl.col("ends")).select("return", "position", "kind", "since")
    # A return that is the only one of its store has no run to look for.
    found = flags.join(runs, on=["return", "position", "kind"], how="left", maintain_order="left")
    alone = ~pl.col("return").is_in(several["return"].implode())
    return found.with_columns(pl.when(alone).then("visit_date").otherwise("since").alias("since"))


def key_of_flag() -> pl.Expr:
    """The row of a return that a flag is about, as `key`: a position, a part, or a question of the visit."""
    question = pl.col("kind").replace_strict(QUESTION_OF, default="", return_dtype=pl.String)
    return pl.when(pl.col("position") == "").then(question).otherwise("position").alias(KEY)


def is_told(block: str) -> pl.Expr:
    """True for a row of a keyed block in which something was answered, usable or not."""
    answers = [field.key for field in default_contract().field_book.block(block).open_fields]
    return pl.any_horizontal(pl.col(answers).is_not_null()) | (pl.col(BROKEN) != "")


def _told_at(wanted: pl.DataFrame, tables: Mapping[str, pl.DataFrame]) -> list[pl.DataFrame]:
    """The returns that tell something in one of the wanted rows of stores."""
    stores = pl.col("store").is_in(wanted["store"].implode())
    columns = ("store", KEY, *_WHEN)
    told = [tables[block].filter(stores & is_told(block)).select(columns) for block in ("positions", "parts")]
    for question in dict.fromkeys(QUESTION_OF.values()):
        answered = tables["visit"].filter(stores & (pl.col(question).is_not_null() | is_broken(question)))
        told.append(answered.with_columns(pl.lit(question).alias(KEY)).select(columns))
    return [one.join(wanted, on=["store", KEY], how="semi") for one in told]
