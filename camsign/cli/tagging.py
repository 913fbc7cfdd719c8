"""Tags: who or what is in a frame."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.frames import Camera, First, Last
from camsign.cli.opened import logbook
from camsign.cli.show import Json, note, put_json, say

if TYPE_CHECKING:
    from camsign.logbook.session import Session
    from camsign.tags.frames import Chosen
    from camsign.tags.tagging import Tagged

Frames = Annotated[list[str] | None, typer.Argument(help="Frames by 12 or more hex digits.")]
Burst = Annotated[bool, typer.Option("--burst", help="And all others of their bursts.")]
_SHOWN = 20


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(tag)
    app.command()(untag)


def tag(
    context: typer.Context,
    subject: Annotated[
        str, typer.Argument(help="A buck's name, or doe, fawn, coyote, person, nothing…; or import")
    ],
    frames: Frames = None,
    camera: Camera = None,
    first: First = None,
    last: Last = None,
    burst: Burst = False,
    look_first: Annotated[
        bool, typer.Option("--look-first", help="With --camera: what waits for your look.")
    ] = False,
    count: Annotated[int, typer.Option(help="How many of them.")] = 1,
    travel: Annotated[
        str | None, typer.Option(metavar="BEARING", help="Where it goes: NE, 45, 60M.")
    ] = None,
    species: Annotated[str | None, typer.Option(help="With animal.")] = None,
    sex: Annotated[str | None, typer.Option(help="female or male.")] = None,
    stage: Annotated[str | None, typer.Option(help="adult, subadult or juvenile.")] = None,
    unsure: Annotated[bool, typer.Option("--unsure", help="It may be another.")] = False,
    add_bucks: Annotated[
        bool, typer.Option("--add-bucks", help="With import: add bucks that are not known yet.")
    ] = False,
    replace: Annotated[
        bool, typer.Option("--replace", help="With import: the table is right where they differ.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", help="With import: take it unasked.")] = False,
    as_json: Json = False,
) -> None:
    """Say who or what is in frames; `tag import FILE.csv` takes many from a table.

    The table's columns are frame, what, buck, count, travel. Frames are named one by one, or by
    --camera with --from and --to.
    """
    from camsign.tags.frames import waiting
    from camsign.tags.tagging import subject_of
    from camsign.tags.tagging import tag as say_tag
    from camsign.units import parse_bearing

    if subject == "import" and frames and len(frames) == 1 and Path(frames[0]).suffix:
        _import(context, Path(frames[0]), add_bucks, replace, yes, as_json)
        return
    with logbook(context) as session:
        who = subject_of(session, subject, species, sex, stage)
        bearing = parse_bearing(travel) if travel else None
        chosen = _chosen(session, frames, camera, first, last, burst)
        if look_first:
            chosen = waiting(session, chosen)
        done = say_tag(session, who, chosen, count, bearing, "unsure" if unsure else None)
    _show(done, "tagged", as_json)


def _import(
    context: typer.Context, file: Path, add_bucks: bool, replace: bool, yes: bool, as_json: bool
) -> None:
    """Look through a table, say what it would do, and take it; a person at a terminal is asked."""
    from camsign.tags.importing import plan_tags, take_tags

    with logbook(context) as session:
        plan = plan_tags(session, file, add_bucks, replace)
        if not as_json:
            say(f"{plan.in_words()}.")
        ask = bool(plan.edits) and not (yes or as_json) and sys.stdin.isatty()
        done = None if ask else take_tags(session, plan)
    if done is None:
        if not typer.confirm("Take this?", default=True):
            say("Nothing was taken.")
            return
        # The logbook was closed while the person thought it over.
        with logbook(context) as session:
            done = take_tags(session, plan_tags(session, file, add_bucks, replace))
    _show(done, "tagged", as_json)


def untag(
    context: typer.Context,
    frames: Frames = None,
    subject: Annotated[str | None, typer.Option(help="Only this buck or word.")] = None,
    camera: Camera = None,
    first: First = None,
    last: Last = None,
    burst: Burst = False,
    as_json: Json = False,
) -> None:
    """Take tags from frames: one subject's, or all."""
    from camsign.tags.tagging import subject_of
    from camsign.tags.tagging import untag as say_untag

    with logbook(context) as session:
        who = subject_of(session, subject) if subject else None
        done = say_untag(session, _chosen(session, frames, camera, first, last, burst), who)
    _show(done, "untagged", as_json)


def _chosen(
    session: Session,
    frames: list[str] | None,
    camera: str | None,
    first: str | None,
    last: str | None,
    burst: bool,
) -> Chosen:
    from camsign.errors import UsageError
    from camsign.tags.frames import Which, find
    from camsign.units import parse_when

    start, stop = (parse_when(text) if text else None for text in (first, last))
    chosen = find(session, Which(tuple(frames or ()), camera, start, stop, burst=burst))
    if chosen is None:
        raise UsageError("no frame was named", "give frames, or --camera with --from and --to")
    return chosen


def _show(done: Tagged, word: str, as_json: bool) -> None:
    skipped = [*done.skipped, *done.conflicts]
    for skip in skipped[:_SHOWN]:
        note(f"camsign: {skip.frame}: {skip.why}")
    if len(skipped) > _SHOWN:
        note(f"camsign: and {len(skipped) - _SHOWN} more; --json lists all")
    if as_json:
        put_json(done)
    else:
        subject = f": {done.subject}" if done.subject else ""
        back = " camsign undo takes it back." if done.tagged else ""
        say(f"{done.tagged} frames {word}{subject}.{back}")
        if done.added_bucks:
            say(f"New bucks: {', '.join(done.added_bucks)}.")
    if skipped:
        raise typer.Exit(1 if done.tagged or done.known else 3)
