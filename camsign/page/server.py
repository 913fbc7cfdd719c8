"""Serves the pages to this machine alone and opens them in the user's browser."""

from __future__ import annotations

import logging
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import uvicorn

from camsign.errors import InputRefused
from camsign.logbook.folder import Folder
from camsign.page.app import make_app
from camsign.page.guard import Keys
from camsign.systems import may_reuse_ports

HOST = "127.0.0.1"


def serve(
    folder: Folder | None,
    where: Path,
    port: int = 0,
    open_browser: bool = True,
    say: Callable[[str], None] = lambda line: None,
) -> None:
    """Serve until interrupted.

    Args:
        folder: the logbook, or None to begin with starting one.
        where: the folder the program was called in.
        port: 0 takes a free one.
        open_browser: whether to open the user's browser.
        say: told the first address, which holds the token of this run.

    Raises:
        CamsignError: the port is taken, or the logbook cannot be opened.
    """
    bound = _bound(port)
    keys = Keys(f"{HOST}:{bound.getsockname()[1]}")
    app = make_app(keys, folder, where)
    config = uvicorn.Config(
        app,
        log_level="error",
        access_log=False,
        server_header=False,
        lifespan="on",
        ws="none",
        timeout_graceful_shutdown=1,
    )
    say(keys.first_address)
    if open_browser:
        threading.Timer(0.2, webbrowser.open, [keys.first_address]).start()
    _Server(config, app.state.hub.end).run([bound])


class _Server(uvicorn.Server):
    """Ends the endless streams first, so that stopping does not wait for them."""

    def __init__(self, config: uvicorn.Config, end: Callable[[], None]) -> None:
        super().__init__(config)
        self._end = end

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        # Whoever presses Ctrl+C twice need not read how the server fell.
        logging.getLogger("uvicorn.error").disabled = True
        super().handle_exit(sig, frame)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._end()
        await super().shutdown(sockets)


def _bound(port: int) -> socket.socket:
    # Only where the protocol is named does asyncio switch Nagle's waiting off, 40 ms an answer.
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if may_reuse_ports():
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((HOST, port))
        bound.listen()  # from here on nobody who comes is sent away, even before all is ready
    except OSError as e:
        bound.close()
        raise InputRefused(
            f"port {port} of this machine cannot be used ({e.strerror})", "leave --port out"
        ) from e
    return bound
