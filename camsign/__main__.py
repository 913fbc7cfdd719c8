"""`python -m camsign` and the `camsign` command."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import warnings

from camsign.cli.stopping import Stopped, on_ctrl_c
from camsign.errors import STOPPED


def main() -> None:
    """Run the command line and leave with its exit code; Ctrl+C leaves with 130, at any point."""
    code = STOPPED
    with contextlib.suppress(Stopped):
        signal.signal(signal.SIGINT, on_ctrl_c)
        _hush_libraries()
        # Only now: to load it takes longer than anything before, and Ctrl+C may come meanwhile.
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
