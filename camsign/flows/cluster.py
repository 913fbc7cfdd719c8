"""Workers on other machines: the executor of Dask's distributed, where a person names a scheduler.

A task is some frames of one card, or one batch to compare. The workers read the same folder; what
they find comes back, and the one command that was run writes it. Whoever reaches a scheduler can
run anything on its workers, so it belongs in a network that is trusted, or behind TLS.
"""

from __future__ import annotations

import logging
import platform
import re
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Executor, Future
from contextlib import contextmanager
from functools import cache
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from threading import Event, Thread, Timer
from typing import TYPE_CHECKING, Any, TypeVar
from weakref import WeakSet

from camsign.errors import InputRefused, UsageError
from camsign.flows.far_pictures import reach
from camsign.logbook.folder import Folder
from camsign.logbook.versions import version_of

if TYPE_CHECKING:
    from distributed import Client

T = TypeVar("T")

WAIT_S = 10.0
"""So long a scheduler is waited for, and its first worker [s]."""

ALONE_S = 60.0
"""After so long without any worker the work is given up [s]."""

_LOOK_S = 0.5
"""So often it is looked whether the scheduler still holds the line [s]."""

_WORK = ("camsign.flows.remeasure.look_again", "camsign.flows.remeasure.detect")


@contextmanager
def cluster(
    address: str, folder: Folder, tell: Callable[[str], None], there: str = ""
) -> Iterator[Executor]:
    """Give an executor whose tasks run on a scheduler's workers.

    Args:
        address: of the scheduler, as tcp://HOST:PORT, or tls:// as Dask's own configuration says.
        folder: the logbook; each worker finds it under the same path.
        there: or at this address instead, one that fsspec opens, such as s3://bucket/woods.
        tell: is told in a line when a worker is gone and where its tasks go.

    Raises:
        UsageError: it is no such address.
        InputRefused: nobody answers there, no worker is left, or the workers do not fit.
    """
    client = _client(address)
    from distributed.client import ClosedClientError
    from distributed.scheduler import KilledWorker

    over = Event()
    try:
        far = _Far(client, there or folder.root.resolve())
        client.subscribe_topic("all", lambda event: _hear(event[1], client, far, tell))
        Thread(target=_watch, args=(client, far, over), daemon=True).start()
        yield far
    except KilledWorker as e:
        raise InputRefused(
            f"{e.allowed_failures + 1} workers in turn died at one task",
            "run it without --workers, card by card, to see which picture it is; give workers more "
            "memory if it is all of them",
        ) from None
    except (CancelledError, ClosedClientError):
        raise InputRefused(
            f"the scheduler at {address} is gone, or all its workers are",
            "start them and run the same command again; the cards that were done are kept",
        ) from None
    finally:
        over.set()
        client.close()


def _client(address: str) -> Client:
    if not re.fullmatch(r"(tcp|tls)://[^/\s]+:\d+", address):
        raise UsageError(
            f"--workers {address} is no scheduler's address", "write it as tcp://HOST:8786"
        )
    if find_spec("distributed") is None:
        raise InputRefused(
            "--workers needs Dask's distributed, which is not installed",
            "pip install camsign[cluster], on every machine",
        )
    from distributed import Client

    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what matters is told below
    try:
        client = Client(address, timeout=WAIT_S, set_as_default=False)
    except (OSError, ValueError) as e:
        raise InputRefused(
            f"no scheduler answers at {address} ({type(e).__name__})",
            "start one there: dask scheduler",
        ) from None
    try:
        client.wait_for_workers(1, timeout=WAIT_S)
    except TimeoutError:
        client.close()
        raise InputRefused(
            f"the scheduler at {address} has no workers",
            f"start some: dask worker {address}",
        ) from None
    return client


def _hear(event: dict[str, Any], client: Client, far: _Far, tell: Callable[[str], None]) -> None:
    """Say that a worker is gone; give the work up if none comes back."""
    if event.get("action") != "remove-worker" or event["expected"]:
        return
    tasks = len({*event["processing-tasks"], *event["lost-computed-tasks"]})
    tell(f"the worker {event['worker']} is gone; {tasks} tasks of its go to the others")

    def check() -> None:
        if client.status == "running" and not client.nthreads():
            far.give_up()

    timer = Timer(ALONE_S, check)
    timer.daemon = True
    timer.start()


def _watch(client: Client, far: _Far, over: Event) -> None:
    """Give the work up once the scheduler is gone: Dask leaves tasks without an end at times."""
    while not over.wait(_LOOK_S):
        if far.gone or client.status in ("closing", "closed"):
            far.give_up()


class _Far(Executor):
    """Runs tasks on the workers, each only where it is the same program on the same folder."""

    def __init__(self, client: Client, root: Path | str) -> None:
        self._client, self._pool = client, client.get_executor(pure=False)
        self._root, self._code = root, _code()
        self._open: WeakSet[Future[Any]] = WeakSet()
        self.gone = False

    def submit(self, fn: Callable[..., T], /, *args: Any, **more: Any) -> Future[T]:
        """Hand a task over; like one taken back it fails if scheduler or workers are gone."""
        if self.gone or self._client.status != "running":
            raise CancelledError
        far: Future[T] = self._pool.submit(_task, self._root, self._code, fn, *args, **more)
        near: Future[T] = Future()
        self._open.add(near)
        near.add_done_callback(lambda near: self._take_back(near, far))
        far.add_done_callback(lambda far: _pass_on(far, near))
        return near

    def _take_back(self, near: Future[Any], far: Future[Any]) -> None:
        if near.cancelled() and not self.gone:
            far.cancel()

    def give_up(self) -> None:
        """End all that is waited for; nothing is asked of who no longer answers."""
        self.gone = True
        for near in list(self._open):
            near.cancel()

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Wait for all tasks, or take them back."""
        self._pool.shutdown(wait and not cancel_futures)


def _pass_on(far: Future[T], near: Future[T]) -> None:
    """Give what came back to who waits for it, unless that was given up."""
    if far.cancelled():
        near.cancel()
    elif near.set_running_or_notify_cancel():
        failed = far.exception()
        if failed is None:
            near.set_result(far.result())
        else:
            near.set_exception(failed)


def _task(root: Path | str, code: str, work: Callable[..., T], *args: Any, **more: Any) -> T:
    """Do a task on a worker."""
    if _code() != code:
        raise InputRefused(
            f"{platform.node()} has another version of camsign or of OpenCV than this machine",
            "install the same on every machine",
        )
    if isinstance(root, str):
        _reached(root)
    elif not root.is_dir():
        raise InputRefused(
            f"{platform.node()} does not see {root}", "mount the logbook's folder there, same path"
        )
    return work(*args, **more)


_reached = cache(reach)  # each worker looks once


@cache
def _code() -> str:
    """Say what decides the numbers: our own code, and the library that decodes pictures."""
    return " ".join((*map(version_of, _WORK), version("opencv-python-headless")))
