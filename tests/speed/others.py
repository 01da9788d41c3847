"""What the program is compared with: loops a person would write, and the bare floor. Each runs as a process of its own:
`python -m tests.speed.others NAME FOLDER [SAMPLE]`.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from io import BytesIO
from pathlib import Path

SHEETS = ("Return", "book")
"""The sheets that a merge reads."""
_CHUNK = 32


def pandas_openpyxl(files: Sequence[Path]) -> int:
    """The loop people write by hand."""
    import pandas as pd

    return sum(len(pd.read_excel(file, sheet_name=list(SHEETS), header=None, engine="openpyxl")) for file in files)


def pandas_calamine(files: Sequence[Path]) -> int:
    """The same loop with the faster reader."""
    import pandas as pd

    return sum(len(pd.read_excel(file, sheet_name=list(SHEETS), header=None, engine="calamine")) for file in files)


def openpyxl_full(files: Sequence[Path]) -> int:
    """Every sheet with all its formats, as people do who want to change a workbook."""
    import openpyxl

    return sum(len(openpyxl.load_workbook(file).sheetnames) for file in files)


def openpyxl_set_and_save(files: Sequence[Path]) -> int:
    """Issuing as people do it by hand: load a workbook, set a few cells, save it under another name."""
    import openpyxl

    size = 0
    for file in files:
        book = openpyxl.load_workbook(file)
        for row in range(2, 6):
            book["book"].cell(row, 3).value = file.name
        saved = BytesIO()
        book.save(saved)
        size += len(saved.getvalue())
    return size


def floor(files: Sequence[Path]) -> int:
    """Nothing but reading the bytes and parsing the same sheets, on as many processes as a merge uses."""
    return _spread(read_bare, files)


def guarded_floor(files: Sequence[Path]) -> int:
    """The floor, and the look at each file that no program should read without."""
    return _spread(read_guarded, files)


def _spread(work: Callable[[Sequence[Path]], int], files: Sequence[Path]) -> int:
    chunks = [files[start : start + _CHUNK] for start in range(0, len(files), _CHUNK)]
    workers = min(len(chunks), os.cpu_count() or 1)
    with ProcessPoolExecutor(workers, multiprocessing.get_context("spawn")) as pool:
        return sum(pool.map(work, chunks))


def read_bare(files: Sequence[Path]) -> int:
    """Bytes read, inflated and parsed."""
    return sum(_parsed(file.read_bytes()) for file in files)


def read_guarded(files: Sequence[Path]) -> int:
    """The same for files that the guard lets pass; it looks into what is read and no more, as in a merge."""
    from workbook_tools.contract.guard import Refusal, opened, vetted

    count = 0
    for file in files:
        data = file.read_bytes()
        package = opened(data)
        if isinstance(package, Refusal):
            continue
        parts = {part for name, part in package.sheets if name in SHEETS}
        if not isinstance(vetted(package, parts), Refusal):
            count += _parsed(data)
    return count


def _parsed(data: bytes) -> int:
    from python_calamine import CalamineWorkbook

    book = CalamineWorkbook.from_filelike(BytesIO(data))
    return sum(len(book.get_sheet_by_name(name).to_python(skip_empty_area=False)) for name in SHEETS)


def build_each(files: Sequence[Path]) -> int:
    """Build the program's book anew for every store; the pictures are scaled down once."""
    from tests.speed.make import read_program
    from workbook_tools.field_book.build import build_template
    from workbook_tools.field_book.issue import prepare_pictures
    from workbook_tools.folder import ProgramFolder

    folder = ProgramFolder(files[0].parents[1])
    program = read_program(folder)
    pictures = prepare_pictures(folder, program)
    return sum(len(build_template(program, "en", pictures)) for _ in files)


def copy(files: Sequence[Path]) -> int:
    """The same bytes as plain copies beside the originals."""
    size = 0
    beside = files[0].parents[1] / "copies"
    beside.mkdir(exist_ok=True)
    for file in files:
        size += (beside / file.name).write_bytes(file.read_bytes())
    return size


LOOPS: dict[str, Callable[[Sequence[Path]], int]] = {
    loop.__name__: loop
    for loop in (
        pandas_openpyxl,
        pandas_calamine,
        openpyxl_full,
        openpyxl_set_and_save,
        floor,
        guarded_floor,
        build_each,
        copy,
    )
}


def main(name: str, folder: str, sample: str = "") -> None:
    """Run one loop over the workbooks under a folder and print its seconds.

    With a sample, the loop runs over the first `sample` files only, after one to warm up, and seconds are per file.
    """
    files = sorted(path for path in Path(folder).rglob("*.xlsx") if "revisions" not in path.parts)
    loop = LOOPS[name]
    if sample:
        files = files[: int(sample)]
        loop(files[:1])
    started = time.perf_counter()
    loop(files)
    seconds = time.perf_counter() - started
    print(seconds / len(files) if sample else seconds)  # noqa: T201


if __name__ == "__main__":
    main(*sys.argv[1:])
