"""A clean setup is let alone, however it is filled in; one with a slip is not."""

from __future__ import annotations

import random

import pytest

from tests.program.invented import Blocks, Invented
from tests.program.views import found, view


@pytest.mark.parametrize("seed", range(80))
def test_nothing_is_said_of_a_clean_program_but_notes(seed: int) -> None:
    """Nothing to mend and nothing to look at in programs that are as different as can be."""
    program = Invented(seed)
    said = [
        (one.rule, one.sheet, one.cell) for one in found(view(program.blocks, program.today)) if one.severity != "note"
    ]
    assert said == []


def _digit_too_many(blocks: Blocks) -> bool:
    blocks["items"][1]["item_code"] += "7"
    return len(blocks["items"]) > 5


def _place_skipped(blocks: Blocks) -> bool:
    blocks["positions"][-1]["place"] += 1
    return True


def _label_short(blocks: Blocks) -> bool:
    blocks["labels"][0]["packed"] = blocks["labels"][0].get("packed", 0) - 3
    return blocks["labels"][0]["packed"] >= 0


def _too_wide(blocks: Blocks) -> bool:
    tray = blocks["positions"][0]
    tray["facings"] = tray.get("facings", 1) * 40
    return "width" in blocks["items"][0] and bool(blocks["shelves"])


def _face_skipped(blocks: Blocks) -> bool:
    last = max(row["face"] for row in blocks["positions"])
    for row in blocks["positions"] + blocks["shelves"]:
        row["face"] = "F" if row["face"] == last else row["face"]
    return True


def _no_work(blocks: Blocks) -> bool:
    blocks["merchandisers"].append({"merchandiser": "Zed"})
    return True


def _grams(blocks: Blocks) -> bool:
    blocks["items"][0]["weight"] = blocks["items"][0].get("weight", 0) * 1000
    return "width" in blocks["items"][0]


def _units_switched(blocks: Blocks) -> bool:
    settings = blocks["program"][0]
    settings["units"] = "in, lb" if settings["units"] == "cm, kg" else "cm, kg"
    return "width" in blocks["items"][0] and len(blocks["items"]) > 5 and settings["units"] == "cm, kg"


def _two_visits_an_hour(blocks: Blocks) -> bool:
    blocks["program"][0]["visit_minutes"] = 2
    return True


SLIPS = [
    _digit_too_many, _place_skipped, _label_short, _too_wide, _face_skipped, _no_work, _grams, _units_switched,
    _two_visits_an_hour,
]  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: slip.__name__.strip("_"))
def test_one_slip_in_a_clean_program_is_said(slip: object) -> None:
    """Whatever else the program tells, each slip that it can hold is found in it."""
    assert callable(slip)
    tried = 0
    for seed in random.Random(1).sample(range(200), 25):
        program = Invented(seed)
        if slip(program.blocks):
            tried += 1
            assert {one.severity for one in found(view(program.blocks, program.today))} & {"must mend", "look at"}, seed
    assert tried > 5
