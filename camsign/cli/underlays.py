"""Pictures of your own beneath the map."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Json, form, listing, put_json, say
from camsign.cli.things import Told, says
from camsign.logbook.things import UNDERLAY

if TYPE_CHECKING:
    from camsign.logbook.session import Session

underlay_app = typer.Typer(help="Pictures of your own beneath the map.", no_args_is_help=True)


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(underlay_app, name="underlay")


@underlay_app.command("add")
def add(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="A JPEG or PNG, such as a scanned sheet.")],
    name: Annotated[str | None, typer.Option(help="Its name; else the file's.")] = None,
    as_json: Json = False,
) -> None:
    """Keep a picture in the logbook, to lie beneath the map once it is pinned."""
    from camsign.pixels.underlays import add_underlay, bytes_of

    data = bytes_of(file)
    with logbook(context) as session:
        done = add_underlay(session, name or file.stem[:80], data)
    if as_json:
        put_json(done)
        return
    say(f"Kept {done.name} ({done.underlay}). Next: camsign underlay pin {done.underlay} --pin …")


@says(underlay_app, UNDERLAY, "pin")
def _pin(session: Session, underlay: str, pins: list[Any]) -> Told:
    from camsign.pixels.underlays import pin_underlay

    done = pin_underlay(session, underlay, pins)
    more = "" if len(done.pins) > 1 else "; two at least are needed to show it"
    return done, f"{done.name} is pinned by {len(done.pins)}{more}."


@says(underlay_app, UNDERLAY, "remove")
def _remove(session: Session, underlay: str) -> Told:
    from camsign.pixels.underlays import remove_underlay

    done = remove_underlay(session, underlay)
    return done, f"Removed {done.name}; its file stays in the logbook."


@underlay_app.command("list")
def list_underlays(context: typer.Context, as_json: Json = False, as_csv: Csv = False) -> None:
    """Pictures by name, with their pins."""
    from camsign.pixels.underlays import underlays

    with logbook(context) as session:
        rows = underlays(session)
    columns = {"underlay": "id", "name": "name", "pins": "pins", "here": "here"}
    listing(rows, columns, form(as_json, as_csv), "no picture yet")
