"""One LibreOffice process with a private profile and pipe: started, asked, and ended whatever happens."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import signal
import subprocess
import tempfile
import uuid
import weakref
from pathlib import Path
from typing import Any

from tests.apps.locate import clean_environment

SERVER = Path(__file__).with_name("office_server.py")
START_LIMIT = 60.0  # seconds until it listens; a first start from a cold, slow disk takes tens of seconds
AGAIN_LIMIT = 5.0  # seconds until one that was heard before answers again
END_LIMIT = 10.0  # seconds to end by itself before it is killed
SWITCHES = ("headless", "invisible", "norestore", "nologo", "nodefault", "nofirststartwizard")
SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">{}</oor:items>
"""
SETTING = """
<item oor:path="{}"><prop oor:name="{}" oor:op="fuse"><value>{}</value></prop></item>"""


class OfficeError(Exception):
    """LibreOffice did not do what it was asked; the message names the book, where there is one, and says why."""


class OfficeTimeoutError(OfficeError):
    """A call took longer than its limit: LibreOffice was killed, and starts anew at the next call."""


class OfficeCrashError(OfficeError):
    """The script that speaks to LibreOffice was ended by a signal: uno does that now and then, whatever was asked."""


class OfficeProcess:
    """A LibreOffice that was started when this was made; gone at the latest when Python ends."""

    def __init__(self, soffice: Path, python: Path, locale: str) -> None:
        self._python = python
        self._pipe = f"office{uuid.uuid4().hex}"
        self._heard = False
        folder = Path(tempfile.mkdtemp(prefix="office-")).resolve()
        self.traces = [folder, *_sockets(folder / "profile", self._pipe)]
        self.process = _start(soffice, folder / "profile", locale, self._pipe)
        self.kill = weakref.finalize(self, _kill, self.process, self.traces)

    @property
    def alive(self) -> bool:
        """Whether it still runs."""
        return self.process.poll() is None

    def ask(self, commands: list[dict[str, Any]], limit: float) -> dict[str, Any]:
        """Have the commands carried out within `limit` seconds; the answer as office_server.py describes it.

        Raises OfficeTimeoutError or OfficeCrashError, having killed LibreOffice; OfficeError if the server script
        itself failed. Kills what is left of a LibreOffice that no longer answers.
        """
        wait = AGAIN_LIMIT if self._heard else START_LIMIT
        limit = limit if self._heard else limit + wait
        call: list[str | Path] = [self._python, SERVER, self._pipe, str(wait)]
        texts: dict[str, Any] = {"text": True, "encoding": "ascii", "errors": "replace"}
        try:
            done = subprocess.run(
                call,
                input=json.dumps(commands),
                capture_output=True,
                env=clean_environment(),
                timeout=limit,
                check=False,
                **texts,
            )
        except subprocess.TimeoutExpired:
            self.kill()
            raise OfficeTimeoutError(f"LibreOffice took longer than {limit:g} s and was killed") from None
        if done.returncode < 0:
            self.kill()
            raise OfficeCrashError(f"{SERVER.name} was ended by signal {-done.returncode}")
        if done.returncode:
            told = done.stderr.strip() or "it said nothing"
            raise OfficeError(f"{SERVER.name} failed under {self._python} with status {done.returncode}: {told}")
        self._heard = True
        answer: dict[str, Any] = json.loads(done.stdout)
        if not answer.get("alive", True):
            self.kill()
        return answer

    def close(self) -> None:
        """End LibreOffice in its own way, by force if that takes too long, and remove its profile."""
        if self.alive:
            with contextlib.suppress(OfficeError, subprocess.TimeoutExpired):
                self.ask([{"do": "end"}], END_LIMIT)
                self.process.wait(END_LIMIT)
        self.kill()


def _start(soffice: Path, profile: Path, locale: str, pipe: str) -> subprocess.Popen[bytes]:
    settings = profile / "user" / "registrymodifications.xcu"
    settings.parent.mkdir(parents=True)
    settings.write_text(_settings(locale), encoding="utf-8")
    switches = [f"--{switch}" for switch in SWITCHES]
    places = [f"-env:UserInstallation={profile.as_uri()}", f"--accept=pipe,name={pipe};urp;"]
    return subprocess.Popen(
        [soffice, *switches, *places],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=clean_environment(),
        start_new_session=True,  # a group of its own, to be killed together; without effect on Windows
    )


def _settings(locale: str) -> str:
    """The profile's settings: how typed dates and decimals are understood, and no lock files.

    A lock file beside a book keeps a second LibreOffice from opening it, and one that was killed leaves it behind.
    """
    rows = [
        ("/org.openoffice.Setup/L10N", "ooSetupSystemLocale", locale),
        ("/org.openoffice.Office.Common/Misc", "UseDocumentOOoLockFile", "false"),
        ("/org.openoffice.Office.Common/Misc", "UseDocumentSystemFileLocking", "false"),
    ]
    return SETTINGS.format("".join(SETTING.format(*row) for row in rows))


def _sockets(profile: Path, pipe: str) -> list[Path]:
    """The files of its two pipes, which a LibreOffice that is killed leaves behind: ours, and one that it makes itself.

    Named as in LibreOffice's sal/osl/unx/pipe.cxx and desktop/source/app/officeipcthread.cxx; none on Windows.
    """
    if os.name == "nt":
        return []
    digest = hashlib.md5(profile.as_uri().encode("utf-16-le"), usedforsecurity=False).digest()
    own = "SingleOfficeIPC_" + "".join(f"{byte:x}" for byte in digest)
    return [Path("/tmp") / f"OSL_PIPE_{os.getuid()}_{name}" for name in (pipe, own)]


def _kill(process: subprocess.Popen[bytes], traces: list[Path]) -> None:
    """Kill the program with what it started (what is called `soffice` only starts the real one); remove its traces."""
    if process.poll() is None:
        if os.name == "nt":
            subprocess.run(["taskkill", "/PID", str(process.pid), "/T", "/F"], capture_output=True, check=False)
        else:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
        process.wait(END_LIMIT)
    folder, *sockets = traces
    shutil.rmtree(folder, ignore_errors=True)
    for socket in sockets:
        socket.unlink(missing_ok=True)
