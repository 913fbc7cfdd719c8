"""What a handheld or phone wrote: cameras, places, sign and areas, sorted before they are taken."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Json, note, put_json, put_table, say

if TYPE_CHECKING:
    from camsign.flows.fieldwork.sorting import Sorted

_GROUPS = ("cameras", "places", "sign", "areas", "walks", "not_understood")
_SHOWN = 60


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command("import")(take_files)


def take_files(
    context: typer.Context,
    files: Annotated[
        list[Path], typer.Argument(help="GPX, KML, KMZ, GeoJSON, CSV, or phone photos.")
    ],
    yes: Annotated[bool, typer.Option("--yes", help="Take it without being asked.")] = False,
    as_one: Annotated[
        bool, typer.Option("--as-one", help="Leave out sign known from another device.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Take in a handheld's or phone's file: sorted by its words, shown, then taken once."""
    from camsign.flows.fieldwork import sorting

    with logbook(context) as session:
        found = sorting.sort_files(session, files)
    if as_json and not yes:
        put_json({group: sorting.as_rows(getattr(found, group)) for group in _GROUPS})
        return
    if not as_json:
        _show(found)
    if not yes and not _agreed():
        say("Nothing was taken; --yes takes it.")
        return
    with logbook(context) as session:
        taken = sorting.take(session, sorting.sort_files(session, files), as_one)
    if as_json:
        put_json(taken)
    else:
        counts = ", ".join(f"{getattr(taken, g)} {g.replace('_', ' ')}" for g in _GROUPS)
        say(f"Took {counts}; {taken.known} known already. camsign undo takes it back.")
    if taken.refused:
        raise typer.Exit(1)


def _agreed() -> bool:
    return sys.stdin.isatty() and typer.confirm("Take this?", default=True)


def _show(found: Sorted) -> None:
    items = [(g, item) for g in _GROUPS for item in getattr(found, g)]
    if items:
        rows = [(i.what, i.kind, i.name, i.state, i.why) for _, i in items[:_SHOWN]]
        put_table(("what", "kind", "name", "state", "read as"), rows)
    if len(items) > _SHOWN:
        say(f"and {len(items) - _SHOWN} more; --json lists all")
    note(*(f"camsign: {line}" for line in (*found.refused, *found.notes)))
    if found.twins:
        say(f"{len(found.twins)} signs are probably known from another device: --as-one.")
    say(", ".join(f"{len(getattr(found, g))} {g.replace('_', ' ')}" for g in _GROUPS))
