"""One command that measures everything the project promises about speed and prints it as tables:

python -m tests.speed                       100 and 1,000 stores, about five minutes
python -m tests.speed --stores 10000        ten thousand, about half an hour and 15 GB of disk
python -m tests.speed --stores 100000 --no-pictures --merge-only
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.speed.measure import Figures, measure
from tests.speed.report import report


def main(arguments: Sequence[str]) -> None:
    """Measure every size asked for and print the tables."""
    asked = _parser().parse_args(arguments)
    root = Path(tempfile.mkdtemp(prefix="speed-", dir=asked.folder))
    figures: list[Figures] = []
    try:
        for stores in asked.stores:
            folder = root / str(stores)
            figures.append(measure(folder, stores, pictures=asked.pictures, merge_only=asked.merge_only, say=_say))
            if not asked.keep:
                shutil.rmtree(folder)
    finally:
        if not asked.keep:
            shutil.rmtree(root, ignore_errors=True)
    sys.stdout.write(report(figures))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.speed", description=__doc__)
    parser.add_argument(
        "--stores", type=int, nargs="+", default=[100, 1_000], help="sizes to measure, one after another"
    )
    parser.add_argument(
        "--no-pictures", dest="pictures", action="store_false", help="books without pictures: less disk"
    )
    parser.add_argument("--merge-only", action="store_true", help="leave out the comparisons; issue and merge only")
    parser.add_argument("--folder", default=None, help="where to work; the system's temporary folder if not given")
    parser.add_argument("--keep", action="store_true", help="leave the program folders there afterwards")
    return parser


def _say(text: str) -> None:
    sys.stderr.write(f"{text}\n")
    sys.stderr.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
