"""How long `check` takes on a large setup, against the bare reading of its sheets, in one run:

python -m tests.speed.check                          10,000 stores and 400 positions, about a minute
python -m tests.speed.check --stores 20000 --times 3

The promise: at most three times the bare reading and one second more. Processor seconds are compared, of whole
processes for `check`, which finds its byte code as an installed package does, and of nothing but the reading for the
other, so that a machine that is not quiet does not decide.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from statistics import median

from tests.speed.make import PERSON_STORES
from tests.speed.watch import ROOT
from workbook_tools.contract.words import words_for
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.gtin import check_digit
from workbook_tools.program.setup_book import Content, setup_workbook

ALLOWED_TIMES, ALLOWED_SECONDS = 3, 1.0
_BARE = """
import time
from io import BytesIO
from pathlib import Path
from python_calamine import CalamineWorkbook
data = Path({path!r}).read_bytes()
started = time.process_time()
book = CalamineWorkbook.from_filelike(BytesIO(data))
for name in book.sheet_names:
    book.get_sheet_by_name(name).to_python(skip_empty_area=False)
print(time.process_time() - started)
"""
_CHECK = """
import time
from workbook_tools.cli import main
main(["check", {path!r}, "--as-of", "2027-02-01"], standalone_mode=False)
print(time.process_time())
"""


def large_setup(stores: int, positions: int) -> Content:
    """A clean setup of any size: every store has an address, coordinates and a merchandiser whose hours are told."""
    rng = random.Random(1)
    people = -(-stores // PERSON_STORES)
    middles = [(rng.uniform(38, 44), rng.uniform(-90, -80)) for _ in range(people)]
    items = max(positions // 2, 1)
    return {
        "program": [
            {
                "name": "Large", "code": "LARGE", "units": "in, lb", "starts": "2027-03-01", "due": "2027-03-28",
                "contact": "Robin", "place": "End of aisle", "photos": "one", "visit_minutes": 60, "country": "US",
                "carton_length": 46, "carton_width": 32, "carton_height": 6, "carton_weight": 30,
            }
        ],
        "shelves": [
            {"face": chr(65 + n // 10), "shelf": n % 10 + 1, "width": 60, "depth": 12, "height": 10, "load": 400}
            for n in range(-(-positions // 10))
        ],
        "positions": [
            {
                "face": chr(65 + n // 100), "shelf": n // 10 % 10 + 1, "place": n % 10 + 1, "item": f"Item {n % items}",
                "facings": 2, "deep": 4, "high": 2, "units": 16,
            }
            for n in range(positions)
        ],
        "items": [
            {
                "item": f"Item {n}", "item_code": f"{n:06}", "gtin": _gtin(n), "brand": f"Brand {n % 20}",
                "description": f"Article {n} in a box", "width": 3, "depth": 3, "height": 5, "weight": 1.5,
                "case_pack": 16,
            }
            for n in range(items)
        ],
        "labels": [{"brand": f"Brand {n}", "packed": positions // 20 + 1} for n in range(20)],
        "parts": [{"part": f"P{n}", "name": f"Part {n}", "quantity": 2} for n in range(20)],
        "steps": [{"step": n, "do": f"Step {n}", "minutes": 5} for n in range(1, 11)],
        "stores": [_store(rng, n, middles) for n in range(stores)],
        "merchandisers": [
            {"merchandiser": f"Person {n}", "email": f"person{n}@example.com", "hours": 80} for n in range(people)
        ],
    }  # fmt: skip


def _gtin(number: int) -> str:
    body = f"952{number:09}"
    return body + check_digit(body)


def _store(rng: random.Random, number: int, middles: Sequence[tuple[float, float]]) -> dict[str, object]:
    person = number // PERSON_STORES
    north, east = middles[person]
    return {
        "store": f"{number:06}", "name": f"Store {number}", "street": f"{number + 1} High Street",
        "city": f"Town {person}",
        "region": "EX", "postcode": f"{number:05}", "district": f"District {person // 5}", "phone": "555-0100",
        "merchandiser": f"Person {person}", "latitude": round(north + rng.uniform(-0.2, 0.2), 4),
        "longitude": round(east + rng.uniform(-0.2, 0.2), 4),
    }  # fmt: skip


def measure(stores: int, positions: int, times: int) -> str:
    """Make a setup, read it bare and check it, in turns, and say what that took."""
    with tempfile.TemporaryDirectory(prefix="speed-check-") as name:
        folder = ProgramFolder(Path(name))
        folder.images.mkdir()
        folder.setup.write_bytes(setup_workbook(words_for("en"), large_setup(stores, positions)))
        environment = _as_installed(str(Path(name) / "byte code"))
        codes = _BARE.format(path=str(folder.setup)), _CHECK.format(path=name)
        # The first of each writes the byte code.
        spent = [[_seconds(code, environment) for code in codes] for _ in range(times + 1)][1:]
        size = folder.setup.stat().st_size / 1_000_000
    floor, whole = (median(column) for column in zip(*spent, strict=True))
    allowed = ALLOWED_TIMES * floor + ALLOWED_SECONDS
    return (
        f"{stores:,} stores, {positions} positions, {size:.1f} MB; processor seconds, median of {times}\n"
        f"bare reading of all sheets            {floor:.2f}\n"
        f"check, whole process                  {whole:.2f}\n"
        f"allowed ({ALLOWED_TIMES} x bare reading + {ALLOWED_SECONDS:g} s)   {allowed:.2f}\n"
        f"check / allowed                       {whole / allowed:.2f}\n"
    )


def _as_installed(kept: str) -> dict[str, str]:
    """The environment of a process that finds its byte code, as that of an installed package does."""
    named = {"PYTHONDONTWRITEBYTECODE", "PYTHONPYCACHEPREFIX"}
    return {**{key: value for key, value in os.environ.items() if key not in named}, "PYTHONPYCACHEPREFIX": kept}


def _seconds(code: str, environment: dict[str, str]) -> float:
    """What a process that runs some code prints last."""
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True, check=True
    )
    return float(done.stdout.split()[-1])


def main(arguments: Sequence[str]) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.speed.check", description=__doc__)
    parser.add_argument("--stores", type=int, default=10_000)
    parser.add_argument("--positions", type=int, default=400)
    parser.add_argument("--times", type=int, default=5, help="runs of each, of which the middle one counts")
    asked = parser.parse_args(arguments)
    sys.stdout.write(measure(asked.stores, asked.positions, asked.times))


if __name__ == "__main__":
    main(sys.argv[1:])
