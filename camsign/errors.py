"""What people are told when something goes wrong, and the exit code that scripts see.

Every error says what, where and what to do in one line. Nothing here knows the rest of camsign.

Exit codes: 0 done; 1 done, but something needs attention; 2 wrong usage; 3 nothing taken, input
refused; 4 logbook busy; 5 damaged; 70 a fault of camsign itself (EX_SOFTWARE of BSD's sysexits.h);
130 stopped by Ctrl+C (128 and the signal's number, as shells have it).
"""

from __future__ import annotations

import re
import shlex

DONE = 0
ATTENTION = 1
USAGE = 2
REFUSED = 3
BUSY = 4
DAMAGED = 5
FAULT = 70
STOPPED = 130


_PLAIN = re.compile(r"[A-Za-z0-9_@%+=:,./-]+")
_READ_INTO = re.compile(r'["$`!]|\\\\|\\$')


def quoted(text: str) -> str:
    """Give a word of a command line as a remedy names it: in quotes where it needs them.

    Double quotes, which every shell knows, unless a POSIX shell reads something into them;
    schema.sql has the same for names in the database.
    """
    if _PLAIN.fullmatch(text):
        return text
    return shlex.quote(text) if _READ_INTO.search(text) else f'"{text}"'


class CamsignError(Exception):
    """Something a person can put right; its text is one line: what, where and what to do."""

    exit_code = USAGE

    def __init__(self, what: str, remedy: str = "") -> None:
        self.what = what
        self.remedy = remedy
        super().__init__(f"{what}{' ' if what.endswith('?') else '; '}{remedy}" if remedy else what)


class UsageError(CamsignError):
    """The command's words do not fit: an unknown name, a latitude of 95, no date."""

    exit_code = USAGE


class InputRefused(CamsignError):
    """Nothing was taken in: the file is not what it says it is, or the card has no known camera."""

    exit_code = REFUSED


class LogbookBusy(CamsignError):
    """Another process holds the logbook and did not let go in time."""

    exit_code = BUSY


class Damaged(CamsignError):
    """A file of the logbook is not what was written to it."""

    exit_code = DAMAGED
