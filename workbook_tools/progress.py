"""The bar that shows how far a long command has come."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

_Step = TypeVar("_Step")


@contextmanager
def progress(title: str) -> Iterator[Any]:
    """A function that passes a sequence on, with a bar on stderr when that is a terminal."""
    if not sys.stderr.isatty():
        yield lambda steps, total: steps
        return
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    with Progress(console=Console(stderr=True), transient=True) as bar:

        def watch(steps: Iterable[_Step], total: int) -> Iterator[_Step]:
            return iter(bar.track(steps, total=total, description=title))

        yield watch
