"""The command line: its families of commands, and what a person sees when something is wrong."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from camsign import __version__
from camsign.cli import stopping
from camsign.cli.families import Families
from camsign.cli.opened import Asked
from camsign.cli.show import note, say
from camsign.errors import FAULT, REFUSED, STOPPED, CamsignError
from camsign.formats.days import People
from camsign.logbook.database import first_line, is_full
from camsign.logbook.placing import unpromised
from camsign.systems import bear_any_text

app = typer.Typer(
    name="camsign",
    cls=Families,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


@app.callback()
def _options(
    context: typer.Context,
    logbook: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="DIR",
            help="The logbook's folder; else CAMSIGN_LOGBOOK, else the nearest one above here. "
            "`visits`, `compare` and other answers can take several.",
        ),
    ] = None,
    version: Annotated[bool, typer.Option("--version", help="Show the version.")] = False,
) -> None:
    """From trail-camera cards and sign to where a mature buck beds, when, and how sure that is.

    Without a command the pages open in your own browser: the whole job can be done there.
    """
    if version:
        say(f"camsign {__version__}")
        raise typer.Exit
    context.obj.logbooks = tuple(logbook or ())
    context.obj.logbook = logbook[0] if logbook and len(logbook) == 1 else None
    if context.invoked_subcommand is None:
        from camsign.cli.browse import browse

        browse(context)


def run(words: Sequence[str]) -> int:
    """Run one command; give its exit code. An error is one line on stderr, never a traceback.

    A command that did its work on a logbook of which part could not be read leaves with 1.
    """
    asked = Asked()
    bear_any_text(sys.stdout, sys.stderr)
    try:
        return _run(words, asked)
    except stopping.Stopped:
        return _tell("", STOPPED)
    finally:
        while unpromised:  # what the disks of this run do not promise, once
            note(f"camsign: {unpromised.pop()}")


def _run(words: Sequence[str], asked: Asked) -> int:
    try:
        code = app(list(words), standalone_mode=True, obj=asked)
    except SystemExit as e:
        done = e.code if isinstance(e.code, int) else 0
        return done or int(asked.troubled)
    except CamsignError as e:
        people = asked.people or People("imperial")  # before a logbook is open
        # What to type stays as it is.
        return _tell(str(e).replace(e.what, people.prose(e.what), 1), e.exit_code)
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except OSError as e:
        return _tell(_os_words(e), REFUSED)
    # Whatever it is: a person can do nothing with a traceback.
    except Exception as e:  # noqa: BLE001
        return _tell_fault(e)
    return int(code or 0)


def _tell_fault(e: Exception) -> int:
    """Tell what nobody foresaw, in one line; a developer asks for all of it."""
    if os.environ.get("CAMSIGN_DEBUG"):
        traceback.print_exception(e)
    kept = "nothing that you noted is lost"
    if is_full(e):
        return _tell(f"a disk is full; {kept}; free some space, then run it again", REFUSED)
    what = f"{type(e).__name__}: {first_line(e)}"[:300]
    how = "set CAMSIGN_DEBUG=1 and run it again to see where"
    return _tell(f"camsign itself failed ({what}); {kept}; {how}", FAULT)


def _os_words(e: OSError) -> str:
    where = f" ({e.filename})" if e.filename else ""
    return f"the system refused: {e.strerror or e}{where}; put that right and run it again"


def _tell(line: str, code: int) -> int:
    """Tell an error; the database has words of its own for a Ctrl+C."""
    note(stopping.words() if stopping.pressed() else f"camsign: {line}")
    return STOPPED if stopping.pressed() else code
