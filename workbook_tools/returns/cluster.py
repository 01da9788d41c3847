"""Reading on a Dask cluster: the same code gives the same results, on more processors than one machine has."""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from functools import lru_cache

from distributed import Client, Future, KilledWorker

from workbook_tools.contract.words import Words
from workbook_tools.errors import ClusterError
from workbook_tools.returns.kept import rules_digest
from workbook_tools.returns.read import ReadReturn
from workbook_tools.returns.workers import (
    SECONDS_A_CHUNK,
    Chunk,
    Said,
    Spread,
    on_this_machine,
    read_chunk,
    read_singly,
)

SECONDS_TO_CONNECT = 10
_LOST = (KilledWorker, CancelledError, TimeoutError, OSError, MemoryError)
"""What a chunk's result is when its worker died with it again and again, hangs, or cannot be reached any more."""


def on_cluster(address: str, words: Words) -> Spread:
    """A way to read chunks on the cluster whose scheduler is at `address` ("tcp://10.0.0.5:8786").

    The workers open the files by their paths or addresses, so they have to see the same folders, or be let into the
    same stores. What no worker can read is read on this machine. When reading starts, raises ClusterError if the
    scheduler cannot be reached, has no workers, or one of its workers would read by other rules than this program.
    """

    @contextmanager
    def spread(chunks: Iterable[Chunk], known: Collection[str]) -> Iterator[Iterator[Sequence[Said]]]:
        try:
            client = Client(address, timeout=SECONDS_TO_CONNECT, set_as_default=False)  # type: ignore[no-untyped-call]
        except (OSError, TimeoutError, ValueError) as slip:
            raise ClusterError(words("messages.no_cluster", address=address, reason=slip)) from None
        with client:
            every = list(chunks)
            futures = _begun(client, address, every, known, words)
            yield _results(client, address, futures, every, known, words)

    return spread


def _begun(
    client: Client, address: str, chunks: Sequence[Chunk], known: Collection[str], words: Words
) -> deque[Future[list[Said] | None]]:
    try:
        client.wait_for_workers(1, timeout=SECONDS_TO_CONNECT)
    except TimeoutError as slip:
        raise ClusterError(words("messages.no_cluster", address=address, reason=slip)) from None
    remembered: Future[frozenset[str]] = client.submit(frozenset, list(known), pure=False)
    return deque(client.map(read_there, chunks, known=remembered, rules=rules_digest(), pure=False))


def _results(
    client: Client,
    address: str,
    futures: deque[Future[list[Said] | None]],
    chunks: Sequence[Chunk],
    known: Collection[str],
    words: Words,
) -> Iterator[Sequence[Said]]:
    for number, chunk in enumerate(chunks):
        try:
            said = _result(futures.popleft(), address, words)
        except _LOST:
            if not client.nthreads():  # type: ignore[no-untyped-call]
                with on_this_machine(chunks[number:], known) as rest:
                    yield from rest
                return
            said = read_singly(chunk)
        yield _had(chunk, said)


def read_there(chunk: Chunk, known: Collection[str], rules: str) -> list[Said] | None:
    """Read some candidates in a worker of the cluster; None when it would read by other rules than it is asked to."""
    return read_chunk(chunk, known) if _rules_here() == rules else None


@lru_cache(maxsize=1)
def _rules_here() -> str:
    return rules_digest()


def _result(future: Future[list[Said] | None], address: str, words: Words) -> Sequence[Said]:
    said = future.result(timeout=SECONDS_A_CHUNK)
    if said is None:
        raise ClusterError(words("messages.cluster_differs", address=address))
    return said


def _had(chunk: Chunk, said: Sequence[Said]) -> list[Said]:
    """What was said of a chunk; files that the worker could not open are read on this machine."""
    missing = [
        candidate
        for candidate, one in zip(chunk, said, strict=True)
        if isinstance(one, ReadReturn) and not one.sha256 and candidate.refusal is None
    ]
    again = iter(read_singly(missing) if missing else ())
    here = {id(candidate) for candidate in missing}
    return [next(again) if id(candidate) in here else one for candidate, one in zip(chunk, said, strict=True)]
