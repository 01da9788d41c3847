"""Where the spreadsheet programs and the PDF tools are installed, on Linux, macOS and Windows."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

PROBE_LIMIT = 30.0  # seconds for one Python to say whether it can import uno


def find_soffice() -> Path | None:
    """The LibreOffice program, or None."""
    return next(_existing(_soffice_places()), None)


def find_uno_python(soffice: Path) -> Path | None:
    """A Python that can `import uno`: the one that LibreOffice brings along, else the system's; None if neither can."""
    return next((python for python in _existing(_python_places(soffice)) if _imports_uno(python)), None)


def find_tool(name: str) -> Path | None:
    """A command-line program on the search path (`pdftoppm`, `pdfinfo`, `ssconvert`), or None."""
    found = shutil.which(name)
    return Path(found) if found else None


def clean_environment() -> dict[str, str]:
    """This process's environment without what would lead another Python to this one's libraries."""
    ours = {"PYTHONHOME", "PYTHONPATH", "VIRTUAL_ENV", "__PYVENV_LAUNCHER__"}
    return {key: value for key, value in os.environ.items() if key not in ours}


def _existing(places: Iterator[Path]) -> Iterator[Path]:
    return (place for place in places if place.is_file())


def _soffice_places() -> Iterator[Path]:
    for name in ("soffice", "libreoffice"):
        found = shutil.which(name)
        if found:
            yield Path(found).resolve()
    for variable in ("PROGRAMFILES", "PROGRAMFILES(X86)"):
        if variable in os.environ:
            yield Path(os.environ[variable]) / "LibreOffice" / "program" / "soffice.exe"
    yield Path("/Applications/LibreOffice.app/Contents/MacOS/soffice")
    yield Path("/usr/lib/libreoffice/program/soffice")
    yield from sorted(Path("/opt").glob("libreoffice*/program/soffice"), reverse=True)


def _python_places(soffice: Path) -> Iterator[Path]:
    for place in ("python.exe", "python", "../Resources/python"):
        yield soffice.parent / place
    yield Path("/usr/bin/python3")
    found = shutil.which("python3")
    if found:
        yield Path(found)


def _imports_uno(python: Path) -> bool:
    try:
        probe = subprocess.run(
            [python, "-c", "import uno"], capture_output=True, env=clean_environment(), timeout=PROBE_LIMIT, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return probe.returncode == 0
