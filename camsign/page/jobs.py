"""Long work that goes on while the user looks at something else, and can be come back to; frames
compared in the background, so that pages show scores without anybody asking for them."""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import BaseRoute, Route

from camsign.derive.comparing import compare
from camsign.errors import CamsignError
from camsign.logbook.database import first_line
from camsign.logbook.far import Progress
from camsign.logbook.folder import Folder
from camsign.page.events import Hub

Work = Callable[[Progress], Any]
_TELL_EVERY_S = 0.1
_KEPT = 20
_WAIT_S, _COMPARED_S = 20.0, 60.0


class _ClosingError(Exception):
    """The pages are being closed; work ends where it can be gone on with later."""


@dataclass(slots=True)
class Job:
    """One piece of long work. state: running, done or failed; `result` is what JSON can hold.

    `begun` is seconds of the Unix clock; `left_s` an estimate from the pace so far [s].
    """

    job: str
    title: str
    begun: float
    state: str = "running"
    done: int = 0
    total: int = 0
    left_s: float | None = None
    words: str = ""
    result: Any = None


class Jobs:
    """All long work since the page was opened, the latest last."""

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._jobs: dict[str, Job] = {}
        self._lock = threading.Lock()
        self._threads: list[threading.Thread] = []
        self._closing = False

    def start(self, title: str, work: Work) -> Job:
        """Begin `work` on a thread of its own; it is given a function to say how far it is."""
        job = Job(secrets.token_hex(4), title, time.time())
        with self._lock:
            self._jobs[job.job] = job
            for old in [k for k, j in self._jobs.items() if j.state != "running"][:-_KEPT]:
                del self._jobs[old]
        thread = threading.Thread(target=self._run, args=(job, work), name=title, daemon=True)
        self._threads = [t for t in self._threads if t.is_alive()] + [thread]
        thread.start()
        return job

    def close(self) -> None:
        """Let work end at its next step, and wait for that."""
        self._closing = True
        for thread in self._threads:
            thread.join(_WAIT_S)

    def all(self) -> list[Job]:
        """Give every job that is remembered."""
        with self._lock:
            return list(self._jobs.values())

    def _run(self, job: Job, work: Work) -> None:
        last = 0.0

        def progress(done: int, total: int) -> None:
            nonlocal last
            if self._closing:
                raise _ClosingError
            job.done, job.total = done, total
            now = time.time()
            if done:
                job.left_s = (now - job.begun) / done * (total - done)
            if now - last > _TELL_EVERY_S or done == total:
                last = now
                self._hub.tell("job", **asdict(job))

        try:
            job.result = work(progress)
            job.state = "done"
        except (CamsignError, OSError) as e:
            job.state, job.words = "failed", str(e)
        except _ClosingError:
            job.state, job.words = "failed", "the pages were closed; begin it again to go on"
        except BaseException:
            job.state, job.words = "failed", "it stopped for a reason that camsign does not know"
            raise
        finally:
            job.left_s = None
            self._hub.tell("job", **asdict(job))


class Comparer:
    """Compares what is new whenever it is told that something may be; one round at a time."""

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._guard = threading.Lock()
        self._next: Folder | None = None
        self._thread: threading.Thread | None = None
        self._closing = False

    def want(self, folder: Folder) -> None:
        """Compare a logbook's frames soon; returns at once."""
        with self._guard:
            self._next = folder
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="comparer", daemon=True)
                self._thread.start()

    def close(self) -> None:
        """Begin nothing more, and wait for what is under way."""
        with self._guard:
            self._next, thread, self._closing = None, self._thread, True
        if thread is not None:
            thread.join(_COMPARED_S)

    def _work(self) -> None:
        while (folder := self._take()) is not None:
            try:
                compare(folder, progress=self._go_on)
            except _ClosingError:
                return
            # Whatever it is: a thread that died would never compare again.
            except Exception as e:  # noqa: BLE001
                what = f"frames could not be compared: {first_line(e)}"
                self._hub.tell("trouble", what=what)

    def _go_on(self, done: int, total: int) -> None:
        """Stop between two pieces if the pages are being closed, so that Ctrl+C is quick."""
        if self._closing:
            raise _ClosingError

    def _take(self) -> Folder | None:
        with self._guard:
            folder, self._next = self._next, None
            if folder is None:
                self._thread = None
            return folder


async def _list(request: Request) -> JSONResponse:
    jobs: Jobs = request.app.state.jobs
    return JSONResponse({"jobs": [asdict(j) for j in jobs.all()]})


ROUTES: list[BaseRoute] = [Route("/jobs", _list)]
