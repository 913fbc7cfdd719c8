"""What the pixels say, measured again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.frames import Camera, First, Last
from camsign.cli.opened import folder
from camsign.cli.show import Json, note, put_json, say
from camsign.cli.waiting import bar

if TYPE_CHECKING:
    from collections.abc import Sequence

    from camsign.flows.remeasure.detect import Detecting
    from camsign.flows.remeasure.look_again import LookedAgain
    from camsign.tags.frames import Skipped

Frames = Annotated[list[str] | None, typer.Argument(help="Frames by 12 or more hex digits.")]
_SHOWN = 20


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(look)


def look(
    context: typer.Context,
    frames: Frames = None,
    camera: Camera = None,
    first: First = None,
    last: Last = None,
    card: Annotated[str | None, typer.Option(help="Only this card's, by its id.")] = None,
    every: Annotated[
        bool, typer.Option("--all", help="Also what this version measured already.")
    ] = False,
    model: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="A detector of your own: ONNX or a frozen graph, and its .toml."
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Measure pixels again, from the originals; or let a detector of your own look.

    Without frames, camera or card: what an older version measured. A detector looks where frames
    are new, can only raise a frame, never set one aside, and names no species (docs/pixels.md).
    """
    from camsign.flows.remeasure.detect import Detecting, detect
    from camsign.flows.remeasure.look_again import look_again
    from camsign.tags.frames import Which
    from camsign.units import parse_when

    book = folder(context)
    start, stop = (parse_when(text) if text else None for text in (first, last))
    which = Which(tuple(frames or ()), camera, start, stop, card)
    done: LookedAgain | Detecting
    with bar(quiet=as_json) as progress:
        if model is not None:
            done = detect(book, model, which, progress=progress)
        else:
            done = look_again(book, which, every, progress=progress)
    if as_json:
        put_json(done)
    elif isinstance(done, Detecting):
        _found(done)
    else:
        say(f"Measured {done.frames} frames again in {done.seconds:.1f} s.")
    _left(done.skipped, done.frames, as_json)


def _found(done: Detecting) -> None:
    say(
        f"{done.model} looked at {done.frames} frames in {done.seconds:.1f} s, where they are new; "
        f"{done.nothing_new} show nothing new.",
        f"An animal in {done.animal}, a person in {done.person}, a vehicle in {done.vehicle}; "
        f"{done.raised} frames are no longer set aside.",
    )


def _left(skipped: Sequence[Skipped], frames: int, quiet: bool) -> None:
    for one in skipped[: 0 if quiet else _SHOWN]:
        note(f"camsign: {one.frame[:12]}: {one.why}")
    if len(skipped) > _SHOWN and not quiet:
        note(f"camsign: and {len(skipped) - _SHOWN} more; --json lists all")
    if skipped:
        raise typer.Exit(1 if frames else 3)
