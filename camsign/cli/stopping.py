"""Ctrl+C: leave within a second wherever it comes, and say what stands.

Python's own handler waits while a statement runs in the database or a picture is decoded. So a
thread hears the signal too, and ends the program if that takes longer: what was said is on the
disk, what is half made is made again, as after a crash (docs/design.md).
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from socket import socket, socketpair
from types import FrameType
from typing import NoReturn

from camsign.errors import STOPPED

UNTIL_THEN = "nothing that you noted before is lost; run it again"
_GRACE_S = 0.7


class Stopped(BaseException):
    """Somebody pressed Ctrl+C. No KeyboardInterrupt: typer leaves at one without a word."""


class _Now:
    pressed = False
    heard = False
    stands = UNTIL_THEN


def on_ctrl_c(sig: int, frame: FrameType | None) -> None:
    """Stop in order at the first one, at once at the second.

    Libraries in C abort where an error comes while they are loaded: that is left at once too.
    """
    if _Now.pressed:
        os._exit(STOPPED)
    if _loads(frame):
        _leave()
    _Now.pressed = True
    raise Stopped


def _loads(frame: FrameType | None) -> bool:
    """Say whether a module is being loaded."""
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False


def _leave() -> NoReturn:
    os.write(sys.stderr.fileno(), f"{words()}\n".encode())
    os._exit(STOPPED)


def pressed() -> bool:
    """Say whether Ctrl+C was pressed; an error after that may be only of its making."""
    return _Now.pressed


def stop_if_pressed() -> None:
    """Stop where somebody took a Ctrl+C for a fault of the database and went on.

    Raises:
        Stopped: it was pressed.
    """
    if _Now.pressed:
        raise Stopped


def words() -> str:
    """Give the line that says what stands."""
    return f"camsign: stopped; {_Now.stands}"


def under_way(stands: str | None) -> None:
    """Say what stands if the work that begins now is stopped, and listen if Ctrl+C is ours."""
    _Now.stands = stands or UNTIL_THEN
    if signal.getsignal(signal.SIGINT) is not on_ctrl_c or _Now.heard:
        return
    hears, tells = socketpair()
    tells.setblocking(False)
    signal.set_wakeup_fd(tells.fileno(), warn_on_full_buffer=False)
    threading.Thread(target=_end_late, args=(hears, tells), daemon=True).start()
    _Now.heard = True


def _end_late(hears: socket, tells: socket) -> None:
    """End the program some time after the first Ctrl+C, or at the second."""
    while hears.recv(1) != bytes([signal.SIGINT]):
        pass
    hears.settimeout(_GRACE_S)
    try:
        hears.recv(1)
    except TimeoutError:
        _leave()
    os._exit(STOPPED)
