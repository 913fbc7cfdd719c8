"""Tags: who or what is in a frame."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from camsign.cli.command import Out, code_of, command
from camsign.cli.opened import logbook
from camsign.cli.reading import Camera, First, Frames, Last, span
from camsign.cli.show import Block, first_of, say
from camsign.errors import UsageError, quoted
from camsign.logbook.edits import NOTHING
from camsign.logbook.session import Session
from camsign.tags.bucks import add_buck
from camsign.tags.frames import Chosen, Skipped, Which, find, may_name_a_frame, waiting
from camsign.tags.importing import plan_tags, take_tags
from camsign.tags.tagging import Tagged, subject_of, tagged_so, with_others
from camsign.tags.tagging import tag as say_tag
from camsign.tags.tagging import untag as say_untag
from camsign.units import counted, parse_bearing, upper_first

Burst = Annotated[bool, typer.Option("--burst", help="Also the rest of each burst.")]
_SKIPPED = "some pictures were left out"
_NONE = "no picture was taken"
_LINE = re.compile(r"^line \d+: ")
_FEW = 3


@command(attention=_SKIPPED, refused=_NONE)
def tag(
    context: typer.Context,
    quiet: bool,
    subject: Annotated[
        str, typer.Argument(help="A buck's name, or doe, fawn, coyote, person, nothing…; or import")
    ],
    frames: Frames = None,
    camera: Camera = None,
    first: First = None,
    last: Last = None,
    burst: Burst = False,
    look_first: Annotated[
        bool, typer.Option("--look-first", help="With --camera: those you still need to check.")
    ] = False,
    count: Annotated[int, typer.Option(help="How many of them.")] = 1,
    travel: Annotated[
        str | None, typer.Option(metavar="BEARING", help="Where it goes: NE, 45, 60M (magnetic).")
    ] = None,
    species: Annotated[str | None, typer.Option(help="With animal.")] = None,
    sex: Annotated[str | None, typer.Option(help="female or male.")] = None,
    stage: Annotated[str | None, typer.Option(help="adult, subadult or juvenile.")] = None,
    unsure: Annotated[bool, typer.Option("--unsure", help="Not sure it's him.")] = False,
    add_bucks: Annotated[
        bool, typer.Option("--add-bucks", help="With import: add bucks that are not known yet.")
    ] = False,
    replace: Annotated[
        bool, typer.Option("--replace", help="With import: the table is right where they differ.")
    ] = False,
    yes: Annotated[
        bool,
        typer.Option(
            "--yes",
            help="With import: don't ask. (Only a terminal asks; a script saves right away.)",
        ),
    ] = False,
) -> Out[Tagged | None]:
    """Say who or what is in pictures. `tag import FILE.csv` loads many.

    The table's columns are frame, what, buck, count, travel. Frames are named one by one, or by
    --camera with --from and --to.
    """
    if subject == "import" and frames and len(frames) == 1 and Path(frames[0]).suffix:
        return _import(context, Path(frames[0]), add_bucks, replace, yes, quiet)
    _meet(context, subject, quiet or any((species, sex, stage)))
    with logbook(context) as session:
        who = subject_of(session, subject, species, sex, stage)
        bearing = parse_bearing(travel) if travel else None
        chosen = _chosen(session, frames, camera, first, last, burst)
        if look_first:
            chosen = waiting(session, chosen)
        done = say_tag(session, who, chosen, count, bearing, "unsure" if unsure else None)
        # A doe beside a buck is nothing to tell, unless a whole camera's pictures were named.
        if who.buck_id or who.what == NOTHING or camera:
            done = with_others(session, who, chosen, done)
    return _out(done, "tagged")


def _meet(context: typer.Context, subject: str, unasked: bool) -> None:
    """Where no buck has this name yet, ask a person at a terminal whether he is a new one."""
    if unasked or not _at_a_terminal():
        return
    try:
        with logbook(context) as session:
            subject_of(session, subject)
        return
    except UsageError as e:
        words = str(e)
    # The logbook is closed while the person thinks it over.
    if typer.confirm(f"{upper_first(words)}. Is {subject} a new buck?", default=False):
        with logbook(context) as session:
            add_buck(session, subject)


def _at_a_terminal() -> bool:
    return sys.stdin.isatty()


def _import(
    context: typer.Context, file: Path, add_bucks: bool, replace: bool, yes: bool, quiet: bool
) -> Out[Tagged | None]:
    """Look through a table, say what it would do, and take it; a person at a terminal is asked."""
    with logbook(context) as session:
        plan = plan_tags(session, file, add_bucks, replace)
        if not quiet:
            say(f"{plan.in_words()}.")
        ask = bool(plan.edits) and not (yes or quiet) and _at_a_terminal()
        done = None if ask else take_tags(session, plan)
    if done is None:
        if not typer.confirm("Take this?", default=True):
            return Out(None, "Nothing was taken.")
        # The logbook was closed while the person thought it over.
        with logbook(context) as session:
            done = take_tags(session, plan_tags(session, file, add_bucks, replace))
    return _out(done, "tagged")


@command(attention=_SKIPPED, refused=_NONE)
def untag(
    session: Session,
    frames: Frames = None,
    subject: Annotated[str | None, typer.Option(help="Only this buck or word.")] = None,
    camera: Camera = None,
    first: First = None,
    last: Last = None,
    burst: Burst = False,
) -> Out[Tagged]:
    """Take tags off pictures."""
    for said in frames or ():
        if not may_name_a_frame(said):
            raise UsageError(
                f"{said!r} isn't a picture's id, and nothing was changed",
                f"to take one name off: camsign untag ID --subject {quoted(said)}",
            )
    who = subject_of(session, subject) if subject else None
    chosen = tagged_so(session, _chosen(session, frames, camera, first, last, burst), who)
    if not chosen.frames and not chosen.skipped:
        return Out(Tagged(0, []), "No tag to take off there: nothing was changed.")
    return _out(say_untag(session, chosen, who), "untagged")


def _chosen(
    session: Session,
    frames: list[str] | None,
    camera: str | None,
    first: str | None,
    last: str | None,
    burst: bool,
) -> Chosen:
    chosen = find(session, Which(tuple(frames or ()), camera, *span(first, last), burst=burst))
    if chosen is None:
        raise UsageError("no picture was named", "give ids, or --camera with --from and --to")
    return chosen


def _out(done: Tagged, word: str) -> Out[Any]:
    left = [*done.skipped, *done.conflicts]
    code = code_of(left, done.tagged or done.known)
    return Out(done, _told(done, word), warned=first_of(_by_reason(left)), code=code)


def _by_reason(left: Sequence[Skipped]) -> list[str]:
    """Say of each why it is left out; where more than three are for one reason, in one line."""
    alike: dict[str, list[Skipped]] = {}
    for skip in left:
        alike.setdefault(_LINE.sub("", skip.why), []).append(skip)
    said = []
    for why, skips in alike.items():
        if len(skips) > _FEW:
            said.append(f"{len(skips):,} left out: {why}; the first is {skips[0].frame}")
        else:
            said += [f"{skip.frame}: {skip.why}" for skip in skips]
    return said


def _told(done: Tagged, word: str) -> Iterator[Block]:
    subject = f": {done.subject}" if done.subject else ""
    back = " camsign undo takes it back." if done.tagged else ""
    many = counted(done.tagged, "picture")
    yield f"{many if done.tagged else 'Nothing'} {word}{subject if done.tagged else ''}.{back}"
    if done.cleared:
        among = f", {' and '.join(done.beside)} too" if done.beside else ""
        yield f"That takes the other tags off {counted(done.cleared, 'picture')}{among}."
    elif done.beside:
        names, first = ", ".join(done.beside), done.beside[0]
        both = "all" if len(done.beside) > 1 else "both"
        yield f"Now {names} and {done.subject} are {both} on {counted(done.shared, 'picture')}."
        yield f"If {first} isn't: camsign untag ID --subject {quoted(first)} takes him off."
    if done.added_bucks:
        yield f"New bucks: {', '.join(done.added_bucks)}."
