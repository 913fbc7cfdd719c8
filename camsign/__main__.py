"""`python -m camsign` and the `camsign` command."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import warnings

_STOPPED = 130  # camsign.errors.STOPPED, before anything is loaded


def main() -> None:
    """Run the command line and leave with its exit code; Ctrl+C leaves with 130, at any point."""
    signal.signal(signal.SIGINT, lambda *_: os._exit(_STOPPED))
    # Only now and one after the other: to load them takes time, and Ctrl+C may come meanwhile.
    from camsign.cli.stopping import Stopped, on_ctrl_c

    signal.signal(signal.SIGINT, on_ctrl_c)
    code = _STOPPED
    with contextlib.suppress(Stopped):
        _hush_libraries()
        from camsign.cli.app import run

        code = run(sys.argv[1:])
    sys.exit(code)


def _hush_libraries() -> None:
    """Keep stderr for camsign's own words: decoders in C write theirs to its number, which is shut.

    A damaged picture is told by camsign itself, in one line. Python's warnings are for programmers,
    who ask for them with -W.
    """
    if not sys.warnoptions:
        warnings.simplefilter("ignore")
    with contextlib.suppress(OSError, AttributeError, ValueError):
        sys.stderr.flush()
        words = os.fdopen(os.dup(2), "w", encoding=sys.stderr.encoding, buffering=1)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        os.close(nowhere)
        sys.stderr = words


if __name__ == "__main__":
    main()
