"""What goes into the carton and to the stores: brand labels, shelf tags, goods by the case, parts with spares.

Every tray carries one label of the brand that stands on it and at most one shelf tag of its item code, so a position
of the planogram counts once for each. Counts are whole; nothing is rounded but whole labels, cases and parts up.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from workbook_tools.program.exact import Number, exact, not_negative

KitVerdict = Literal["enough", "short", "not_needed", "unknown"]


@dataclass(frozen=True, slots=True)
class LabelCount:
    """The labels of one brand in one display's carton.

    packed: None when it is not told. spare: packed less needed, below 0 when labels are short; None when not known.
    verdict: 'not_needed' when labels are packed but no tray holds the brand; 'unknown' when `packed` is.
    """

    brand: str
    needed: int
    packed: int | None
    spare: int | None
    verdict: KitVerdict


@dataclass(frozen=True, slots=True)
class ProgramCount:
    """Something counted by its key (a brand, an item code, a part) for the whole program and shared out."""

    total: dict[str, int]
    by_district: dict[str, dict[str, int]]
    by_merchandiser: dict[str, dict[str, int]]


@dataclass(frozen=True, slots=True)
class Cases:
    """The goods of one item.

    display_units, program_units: what stands on one display, and on all.
    case_pack: None when it is not told; then all that follows is None.
    program_cases, program_surplus: when all units come from one stock in which cases are opened.
    display_cases, display_surplus: when whole cases go to each store; total_cases, total_surplus: that for all stores.
    """

    item: str
    display_units: int
    program_units: int
    case_pack: int | None
    program_cases: int | None = None
    program_surplus: int | None = None
    display_cases: int | None = None
    display_surplus: int | None = None
    total_cases: int | None = None
    total_surplus: int | None = None


@dataclass(frozen=True, slots=True)
class PartCount:
    """One part of the display for the whole program: needed in the stores, and to be made so that enough arrive."""

    part: str
    needed: int
    to_make: int

    @property
    def spares(self) -> int:
        """Made beyond what is needed."""
        return self.to_make - self.needed


def labels_needed(brands: Iterable[str]) -> dict[str, int]:
    """Labels on one display by brand, from the brand of each of its trays, in the order they are first met."""
    return dict(Counter(brands))


def tags_needed(item_codes: Iterable[str]) -> dict[str, int]:
    """Shelf tags on one display by item code, from the item code of each of its trays; a blank code has no tag."""
    return dict(Counter(code for code in item_codes if code))


def label_kit(brands: Iterable[str], packed: Mapping[str, int | None]) -> tuple[LabelCount, ...]:
    """Labels needed, one a tray, against those packed; brands in the order of the trays, then those only packed.

    Raises:
        ValueError: a packed count is below 0.
    """
    needed = labels_needed(brands)
    return tuple(_label_count(brand, needed.get(brand, 0), packed.get(brand)) for brand in {**needed, **packed})


def for_program(per_display: Mapping[str, int], stores: Iterable[tuple[str, str]]) -> ProgramCount:
    """Share out what one display takes over the stores, each (district, merchandiser) with one display.

    A store without a district or merchandiser counts under "".
    """
    places = list(stores)
    return ProgramCount(
        total=_times(per_display, len(places)),
        by_district=_shared(per_display, (district for district, _ in places)),
        by_merchandiser=_shared(per_display, (merchandiser for _, merchandiser in places)),
    )


def units_needed(units: Iterable[tuple[str, int]]) -> dict[str, int]:
    """Units on one display by item, from (item, units) of each position."""
    total: Counter[str] = Counter()
    for item, count in units:
        total[item] += count
    return dict(total)


def cases(per_display: Mapping[str, int], case_packs: Mapping[str, int | None], displays: int) -> tuple[Cases, ...]:
    """Units and whole cases by item for `displays` displays, in the order of `per_display`.

    Raises:
        ValueError: a case pack is not above 0, or a count is below 0.
    """
    not_negative(displays)
    return tuple(_cases(item, units, case_packs.get(item), displays) for item, units in per_display.items())


def parts_to_make(quantities: Mapping[str, int], displays: int, loss_rate: Number = 0) -> tuple[PartCount, ...]:
    """Parts for `displays` displays, with spares for an expected loss.

    `loss_rate` is the share of the parts made that is expected not to reach its display whole, from 0 to below 1: the
    least number is made of which that share can be lost and enough is left (100 needed, 0.02 lost: 103, not 102).

    Raises:
        ValueError: the loss rate is not from 0 to below 1, or a count is below 0.
    """
    return tuple(
        PartCount(part, quantity * displays, with_spares(quantity * displays, loss_rate))
        for part, quantity in quantities.items()
    )


def with_spares(needed: int, loss_rate: Number) -> int:
    """The least count of which `needed` are left after the share `loss_rate` of it is lost.

    Raises:
        ValueError: the loss rate is not from 0 to below 1, or `needed` is below 0.
    """
    lost = exact(loss_rate)
    if not 0 <= lost < 1:
        raise ValueError(f"expected a loss rate from 0 to below 1, got {loss_rate!r}")
    return math.ceil(not_negative(needed) / (1 - lost))


def _label_count(brand: str, needed: int, packed: int | None) -> LabelCount:
    if packed is None:
        return LabelCount(brand, needed, None, None, "unknown")
    spare = int(not_negative(packed)) - needed
    verdict: KitVerdict = "short" if spare < 0 else "enough" if needed or not packed else "not_needed"
    return LabelCount(brand, needed, packed, spare, verdict)


def _cases(item: str, units: int, pack: int | None, displays: int) -> Cases:
    total = int(not_negative(units)) * displays
    if pack is None:
        return Cases(item, units, total, None)
    if pack <= 0:
        raise ValueError(f"expected a case pack above 0, got {pack!r}")
    for_all, for_one = -(-total // pack), -(-units // pack)
    return Cases(
        item,
        units,
        total,
        pack,
        program_cases=for_all,
        program_surplus=for_all * pack - total,
        display_cases=for_one,
        display_surplus=for_one * pack - units,
        total_cases=for_one * displays,
        total_surplus=(for_one * pack - units) * displays,
    )


def _shared(per_display: Mapping[str, int], groups: Iterable[str]) -> dict[str, dict[str, int]]:
    return {group: _times(per_display, stores) for group, stores in sorted(Counter(groups).items())}


def _times(per_display: Mapping[str, int], stores: int) -> dict[str, int]:
    return {key: count * stores for key, count in per_display.items()}
