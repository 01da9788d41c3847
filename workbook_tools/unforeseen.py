"""What nobody foresaw, mostly a mistake of the program: its details in a file, and one sentence to whoever ran it."""

from __future__ import annotations

import os
import platform
import sys
import tempfile
import traceback
from pathlib import Path

from workbook_tools import __version__
from workbook_tools.contract.words import Words

_MOST_SAID = 200
"""Characters of an error that the sentence repeats; all of it stands in the file."""


def unforeseen(slip: BaseException, words: Words) -> str:
    """One sentence that says what went wrong and what to do next.

    The details are written to a file in the temporary folder, which the sentence names; when that cannot be written,
    the sentence does without.
    """
    what = " ".join(f"{type(slip).__name__}: {slip}".split()).removesuffix(":")
    what = what if len(what) <= _MOST_SAID else f"{what[:_MOST_SAID]}…"
    try:
        path = _written(slip)
    except OSError:
        return words("messages.unforeseen_alone", what=what)
    return words("messages.unforeseen", what=what, path=path)


def _written(slip: BaseException) -> Path:
    """Write what a maintainer needs to find the cause. Raises OSError."""
    handle, name = tempfile.mkstemp(prefix="workbook-tools-", suffix=".txt")
    with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as file:
        file.write(f"workbook-tools {__version__}, Python {platform.python_version()}, {platform.platform()}\n")
        file.write(f"{sys.argv[1:]}\n\n")
        file.writelines(traceback.format_exception(slip))
    return Path(name)
