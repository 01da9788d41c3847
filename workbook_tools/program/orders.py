"""orders.xlsx: what has to be ordered, printed and packed for all displays of a program."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from workbook_tools.contract.words import Words
from workbook_tools.program.exact import Number
from workbook_tools.program.fit import Counts, units_of
from workbook_tools.program.label_kit import (
    ProgramCount,
    cases,
    for_program,
    label_kit,
    labels_needed,
    parts_to_make,
    tags_needed,
    units_needed,
    with_spares,
)
from workbook_tools.program.model import Position, Program
from workbook_tools.program.table_book import Column, TableBook

_NAME, _CODE, _COUNT = 240, 120, 90
_MOST_SHARES = 60
"""Districts or merchandisers up to which each has a column of its own; more of them are listed in rows."""


def order_book(program: Program, loss: Number, words: Words) -> bytes:
    """The workbook; `loss` is the share of labels and parts that is expected to be lost or damaged, 0 to below 1.

    Raises ValueError when it is not.
    """
    return _Orders(program, loss, words).write()


class _Orders:
    def __init__(self, program: Program, loss: Number, words: Words) -> None:
        self.program = program
        self.loss = loss
        self.words = words
        self.displays = len(program.stores)
        title = words("orders.title", program=program.settings.name)
        self.book = TableBook(title, words)

    def write(self) -> bytes:
        """All sheets: goods, labels, shelf tags, parts, and who gets how many labels and tags."""
        self._goods()
        self._labels()
        self._tags()
        self._parts()
        brands = labels_needed(self.program.item_at(one).brand for one in self.program.walk)
        codes = tags_needed(self.program.item_at(one).item_code for one in self.program.walk)
        places = [(store.district, store.merchandiser) for store in self.program.stores]
        self._shares("labels", for_program(brands, places))
        self._shares("tags", for_program(codes, places))
        return self.book.close()

    def _sheet(
        self, key: str, columns: Sequence[Column], rows: Sequence[Sequence[object]], about: str = "", **fields: object
    ) -> None:
        about = self.words(f"orders.about.{about or key}", displays=self.displays, **fields)
        name = self.words(f"orders.sheets.{key}")
        self.book.sheet(name, f"{self.program.settings.name} · {name}", about, columns, rows)

    def _column(self, key: str, width: int = _COUNT, *, is_summed: bool = False) -> Column:
        return Column(self.words(f"orders.columns.{key}"), width, is_summed)

    def _goods(self) -> None:
        program = self.program
        units = units_needed((one.item, count) for one in program.walk if (count := _units(one)) is not None)
        packs = {item.item: item.case_pack for item in program.items}
        rows = []
        for one in cases(units, packs, self.displays):
            item = program.item[one.item]
            counts = (one.display_units, one.program_units, one.case_pack, one.program_cases, one.program_surplus)
            whole = (one.display_cases, one.total_cases, one.total_surplus)
            rows.append((one.item, item.item_code, item.gtin, item.brand, *counts, *whole))
        untold = sum(_units(one) is None for one in program.walk)
        named = [self._column(key, width) for key, width in (("item", _NAME), ("item_code", _CODE), ("gtin", _CODE))]
        named.append(self._column("brand", _CODE))
        summed = ("units_display", "units_all", "case_pack", "cases_all", "surplus_all", "cases_display")
        counted = [self._column(key, is_summed=key != "case_pack") for key in (*summed, "cases_total", "surplus_total")]
        about = "goods_in_part" if untold else "goods"
        self._sheet("goods", [*named, *counted], rows, about, untold=untold)

    def _labels(self) -> None:
        program = self.program
        brands = [program.item_at(one).brand for one in program.walk]
        wordings = {label.brand: label.wording for label in program.labels}
        kit = label_kit(brands, {label.brand: label.packed for label in program.labels})
        needed = {one.brand: one.needed * self.displays for one in kit}
        rows = [
            (
                one.brand,
                wordings.get(one.brand, ""),
                one.needed,
                one.packed,
                one.spare,
                needed[one.brand],
                with_spares(needed[one.brand], self.loss),
                None if one.packed is None else one.packed * self.displays,
            )
            for one in kit
        ]
        columns = [self._column("brand", _NAME), self._column("wording", _NAME)]
        counted = ("trays", "packed", "spare", "labels_all", "labels_print", "packed_all")
        columns += [self._column(key, is_summed=True) for key in counted]
        self._sheet("labels", columns, rows, loss=_percent(self.loss))

    def _tags(self) -> None:
        counts = tags_needed(self.program.item_at(one).item_code for one in self.program.walk)
        rows = [
            (code, self.program.item_by_code[code].item, count, count * self.displays) for code, count in counts.items()
        ]
        columns = [self._column("item_code", _CODE), self._column("item", _NAME)]
        columns += [self._column(key, is_summed=True) for key in ("tags_display", "tags_all")]
        self._sheet("tags", columns, rows)

    def _parts(self) -> None:
        program = self.program
        named = {part.part: part for part in program.parts}
        made = parts_to_make({part.part: part.quantity for part in program.parts}, self.displays, self.loss)
        rows = [
            (one.part, named[one.part].name, named[one.part].quantity, one.needed, one.spares, one.to_make)
            for one in made
        ]
        columns = [self._column("part", _CODE), self._column("name", _NAME)]
        columns += [self._column(key, is_summed=True) for key in ("quantity", "parts_all", "spares", "to_make")]
        self._sheet("parts", columns, rows, loss=_percent(self.loss))

    def _shares(self, what: str, counts: ProgramCount) -> None:
        """By district and by merchandiser: a row each with a column for every brand or code, or the other way round."""
        for by, shares in (("district", counts.by_district), ("merchandiser", counts.by_merchandiser)):
            keys = list(counts.total)
            if len(keys) <= _MOST_SHARES:
                rows: list[tuple[object, ...]] = [
                    (who or self.words("orders.without"), *(share[key] for key in keys), sum(share.values()))
                    for who, share in shares.items()
                ]
                columns = [self._column(by, _NAME), *(Column(key, _COUNT, True) for key in keys)]
                columns.append(self._column("total", is_summed=True))
            else:
                rows = list(_listed(shares, self.words("orders.without")))
                columns = [self._column(by, _NAME), self._column("key", _NAME), self._column("count", is_summed=True)]
            self._sheet(f"{what}_by_{by}", columns, rows)


def _listed(shares: dict[str, dict[str, int]], without: str) -> Iterator[tuple[object, ...]]:
    for who, share in shares.items():
        yield from ((who or without, key, count) for key, count in share.items())


def _units(position: Position) -> int | None:
    return units_of(Counts(position.facings, position.deep, position.high, position.units))


def _percent(share: Number) -> str:
    return f"{float(share) * 100:g}"
