"""The logbook that a command speaks of, opened briefly."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import typer

from camsign.cli.show import note
from camsign.cli.waiting import bar
from camsign.errors import UsageError
from camsign.formats.days import People
from camsign.logbook.folder import Folder, find
from camsign.units import numbered

if TYPE_CHECKING:
    from camsign.logbook.session import Session


_MOST_TOLD = 5


@dataclass(slots=True)
class Asked:
    """What a call of camsign carries along.

    `logbooks` are the folders that --logbook named, `logbook` is the one that is meant now.
    `form`: in which the result is wanted, `why` with all its reasons. `troubled`: part of the
    logbook could not be read. `people`: how the logbook that was opened has its days and hours
    written.
    """

    logbooks: tuple[Path, ...] = ()
    logbook: Path | None = None
    form: Literal["table", "json", "csv"] = "table"
    why: bool = False
    troubled: bool = False
    people: People | None = None


def folder(context: typer.Context) -> Folder:
    """Find the logbook by --logbook, CAMSIGN_LOGBOOK, or the working folder.

    Raises:
        UsageError: there is none, or several were named and the command takes one.
    """
    if len(context.obj.logbooks) > 1 and context.obj.logbook is None:
        raise UsageError("this command takes one logbook at a time", "name one with --logbook")
    return find(context.obj.logbook, Path.cwd())


@contextmanager
def logbook(
    context: typer.Context, compare: bool = False, quiet: bool = False
) -> Iterator[Session]:
    """Open the logbook for one command, with `compare` all its frames compared.

    What could not be read in it is told on stderr, and the exit code will say so.
    """
    from camsign.derive.opening import open_logbook
    from camsign.logbook.history import unread

    with ExitStack() as stack:
        with bar(quiet) as progress:
            if compare:
                from camsign.derive.comparing import compared  # which loads NumPy

                session = stack.enter_context(compared(folder(context), progress=progress))
            else:
                session = stack.enter_context(open_logbook(folder(context), progress))
        if session.changed:
            note(f"camsign: logbook.toml changed: {', '.join(session.changed)}; answers follow it")
        told = unread(session)
        for line in told[:_MOST_TOLD]:
            note(f"camsign: {line}; the rest was read")
            context.obj.troubled = True
        if len(told) > _MOST_TOLD:
            note(f"camsign: and {len(told) - _MOST_TOLD} more of this kind")
        context.obj.people = People(session.settings.units)
        _tell_conflicts(session, context.obj.people)
        yield session


def _tell_conflicts(session: Session, people: People) -> None:
    """Say what two people said that cannot both be so, until it is settled; several in one line."""
    rows = session.con.execute(
        "SELECT what, remedy, waiting FROM conflicts WHERE remedy IS NOT NULL"
        " ORDER BY waiting DESC, what"
    ).fetchall()
    pictures = sum(waiting for _, _, waiting in rows)
    wait = f"; {numbered(pictures, 'picture waits', 'pictures wait')} for it" if pictures else ""
    if len(rows) == 1:
        note(people.prose(f"camsign: {rows[0][0]}{wait}; {rows[0][1]}"))
    elif rows:
        told = "things that can't all be so"
        note(f"camsign: {len(rows)} {told}{wait}; camsign verify --sample 0 lists them")
