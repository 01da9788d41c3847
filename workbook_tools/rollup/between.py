"""The ways between stores that one person visits: an estimate, and only where the setup tells where stores are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from workbook_tools.program.hours import Visit, workloads
from workbook_tools.program.model import Program, Store


@dataclass(frozen=True, slots=True)
class Between:
    """The minutes on the road between stores, each person going from their first to their last, and the `legs` in it.

    The ways from home and back, and to the `unplaced` stores, of which it is not known where they lie, are not in it.
    """

    minutes: int
    legs: int
    unplaced: int


def between(program: Program, stores: Iterable[Store]) -> Between:
    """The ways of everyone who has some of these stores; program/ways.py states what is assumed of roads."""
    where = program.store_places.trusted
    visits = [
        Visit(store=one.store, merchandiser=one.merchandiser, minutes=0, point=where(one.store)) for one in stores
    ]
    loads = workloads(visits, ())
    return Between(
        minutes=sum(load.travel_minutes for load in loads),
        legs=sum(max(load.visits - load.unplaced - 1, 0) for load in loads),
        unplaced=sum(load.unplaced for load in loads),
    )
