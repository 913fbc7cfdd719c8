"""A server of the pages in a process of its own, and plain HTTP to it."""

from __future__ import annotations

import http.client
import json
import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

_SERVE = """
import sys
from pathlib import Path
from camsign.logbook.folder import Folder
from camsign.page.server import serve
folder = Folder(Path(sys.argv[1])) if sys.argv[1] else None
if sys.argv[2]:
    import camsign.page.jobs as jobs
    jobs.compare = lambda *words, **more: None
serve(folder, Path.cwd(), 0, False, lambda address: print(address, flush=True))
"""


@dataclass
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


@dataclass
class Running:
    """A server that runs: `first` is the address with the token."""

    process: subprocess.Popen[str]
    first: str
    cookie: str = field(default="", init=False)

    def __post_init__(self) -> None:
        answer = self.ask("GET", "/?" + self.first.partition("?")[2])
        self.cookie = answer.headers["set-cookie"].partition(";")[0]

    @property
    def address(self) -> str:
        return self.first.removeprefix("http://").partition("/")[0]

    def ask(
        self,
        method: str,
        path: str,
        body: bytes | None = None,
        headers: Mapping[str, str | None] | None = None,
    ) -> Answer:
        """Ask as the page itself would; a header given as None is left out."""
        shown: dict[str, str | None] = {"Cookie": self.cookie, "Accept": "application/json"}
        if method == "POST":
            shown |= {"Origin": f"http://{self.address}", "Content-Type": "application/json"}
        shown |= headers or {}
        connection = http.client.HTTPConnection(self.address, timeout=30)
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        shown.setdefault("Host", self.address)
        if body is not None:
            shown.setdefault("Content-Length", str(len(body)))
        for name, value in shown.items():
            if value is not None:
                connection.putheader(name, value)
        # The server may refuse before it has read everything.
        with suppress(BrokenPipeError, ConnectionResetError):
            connection.endheaders(body)
        answer = connection.getresponse()
        got = {k.lower(): v for k, v in answer.getheaders()}
        out = Answer(answer.status, got, answer.read())
        connection.close()
        return out

    def get(self, path: str) -> Any:
        answer = self.ask("GET", path)
        assert answer.status == 200, (path, answer.status, answer.body[:300])
        return answer.json

    def post(self, path: str, value: Any = None) -> Any:
        answer = self.ask("POST", path, json.dumps(value if value is not None else {}).encode())
        assert answer.status == 200, (path, answer.status, answer.body[:300])
        return answer.json


@contextmanager
def running(root: Path | None, where: Path, compares: bool = True) -> Iterator[Running]:
    """Serve a logbook until the block ends; the environment's cache and config homes are used.

    A server that does not compare leaves alone what a test said of the frames.
    """
    still = "" if compares else "still"
    words = [sys.executable, "-c", _SERVE, str(root) if root else "", still]
    process = subprocess.Popen(
        words, stdout=subprocess.PIPE, text=True, cwd=where, env=dict(os.environ)
    )
    try:
        assert process.stdout is not None
        first = process.stdout.readline().strip()
        assert first.startswith("http://127.0.0.1:"), first
        yield Running(process, first)
    finally:
        process.kill()
        process.wait()
