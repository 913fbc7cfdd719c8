"""Camera clocks: judged by the sun, and put right."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from camsign.cli.command import Out, command
from camsign.cli.opened import logbook
from camsign.cli.reading import span
from camsign.cli.show import Aside, Block, listed, note
from camsign.cli.waiting import Progress
from camsign.clock import audit as judging
from camsign.clock import verbs
from camsign.clock.audit import Finding
from camsign.clock.by_names import open_hours
from camsign.clock.proposals import what_it_does
from camsign.clock.rules import ClockFix
from camsign.clock.verbs import ClockSaid
from camsign.clock.verdicts import OFF, counted_verdicts, offset_words
from camsign.errors import CamsignError, UsageError
from camsign.formats import days
from camsign.formats.days import spoken
from camsign.formats.interval import interval
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session
from camsign.stats.estimate import Estimate
from camsign.units import counted, parse_duration, parse_when, upper_first

Camera = Annotated[str, typer.Argument(help="The camera's ID, such as CAM07.")]
clock_app = typer.Typer(help="Check the cameras' clocks, and fix them.", no_args_is_help=True)


@command(clock_app, "audit", csv=True, attention="a clock needs you, and nothing was applied")
def audit(
    context: typer.Context,
    book: Folder,
    progress: Progress,
    camera: Annotated[str | None, typer.Argument(help="Only this camera.")] = None,
    apply: Annotated[
        bool, typer.Option("--apply", help="Save the fixes that are suggested.")
    ] = False,
    plot: Annotated[
        Path | None,
        typer.Option(metavar="FILE.png", help="Draw the sun's height against the clock."),
    ] = None,
) -> Out[list[Finding]]:
    """Check each clock against daylight. Changes nothing without --apply."""
    with logbook(context) as session:
        found = verbs.audit(session, camera)
        proposed = verbs.proposals(session, found)
        unsaid = [*open_hours(session, camera).values()]
        if plot:
            from camsign.report.clockplot import draw_clocks

            draw_clocks(verbs.points(session, camera), plot)
        if apply:
            verbs.apply(session, found)
    if apply:
        _anew(book, {f.camera for f, _ in proposed}, progress)
    waits = any(judging.needs_attention(f) for f in found) and not apply
    told = _judged(found, proposed, apply)
    return Out(found, told, warned=unsaid, code=int(waits))


def _judged(
    found: Sequence[Finding], proposed: Sequence[tuple[Finding, ClockFix]], applied: bool
) -> Iterator[Block]:
    if not found:
        yield "no pictures with a time yet"
        return
    told = [f for f, _ in proposed]
    fixed = [f for f in found if applied and f in told]
    yield counted_verdicts([f.verdict for f in found], len(fixed))
    yield from listed(found, {
        "camera": "camera", "pictures of": _days,
        "verdict": lambda f: ("wrong" if f.verdict == OFF else spoken(f.verdict))
        + " (now fixed)" * (f in fixed),
        "fast or slow": lambda f: _off(f.offset_minutes), "pictures": "frames",
    })  # fmt: skip
    names = _names(found)
    for finding, correction in proposed:
        yield _fix(names[found.index(finding)], finding, correction, applied)
    if proposed:
        yield "camsign undo takes it back." if applied else "camsign clock audit --apply saves it."
    for name, f in zip(names, found, strict=True):
        if f not in told:
            yield Aside(f"{name}: {f.why}" + (f". {f.remedy}" if f.remedy else ""))


def _fix(name: str, finding: Finding, correction: ClockFix, applied: bool) -> str:
    """Say how the pictures move, and why."""
    why = f"{upper_first(correction.reason)}."
    does = what_it_does(finding, correction, applied)
    return f"{'Fixed' if applied else 'Suggested fix for'} {name}: {does}. {why}"


def _off(e: Estimate) -> str:
    if e.value is None or e.low is None or e.high is None:
        return interval(e, 0)
    return offset_words(e)


def _names(found: Sequence[Finding]) -> list[str]:
    """Name each by its camera, and by its days where the camera has more than one."""
    many = Counter(f.camera for f in found)
    return [f"{f.camera}, {_days(f)}" if many[f.camera] > 1 else f.camera for f in found]


def _days(found: Finding) -> str:
    return days.span(found.clock_from.date(), found.clock_until.date())


@command(clock_app, "set")
def set_clock(
    book: Folder,
    context: typer.Context,
    progress: Progress,
    camera: Camera,
    shown: Annotated[
        list[str] | None,
        typer.Option(help="What the camera showed, or a picture that shows the true time."),
    ] = None,
    true: Annotated[
        list[str] | None, typer.Option(metavar="WHEN", help="The true time of each --shown.")
    ] = None,
    utc_offset: Annotated[
        str | None, typer.Option(metavar="±HH:MM", help="The clock ran at this offset.")
    ] = None,
    follows_local: Annotated[
        bool, typer.Option("--follows-local", help="It followed local time's switches.")
    ] = False,
    shift: Annotated[
        str | None, typer.Option(metavar="SPAN", help="Added to what was shown: 1h, -12h.")
    ] = None,
    deployment: Annotated[
        str | None, typer.Option(help="Only for this id of `deployments`.")
    ] = None,
    first: Annotated[
        str | None, typer.Option("--from", metavar="WHEN", help="From this time shown, or picture.")
    ] = None,
    last: Annotated[
        str | None, typer.Option("--to", metavar="WHEN", help="Up to this time shown, or picture.")
    ] = None,
    reason: Annotated[str | None, typer.Option(help="Why.")] = None,
) -> Out[ClockSaid]:
    """Fix a clock by hand. Give pairs of shown and true time, an offset, or a shift."""
    if len(shown or []) != len(true or []):
        raise UsageError("each --shown needs its --true", "give them in pairs")
    pairs = [(s, parse_when(t)) for s, t in zip(shown or [], true or [], strict=True)]
    way = pairs, utc_offset, follows_local, _seconds(shift) if shift else None
    framed = any(text and verbs.FRAME.fullmatch(text.lower()) for text in (first, last))
    meant, frames = ((None, None), (first, last)) if framed else (span(first, last), (None, None))
    with logbook(context) as session:
        said = verbs.set_clock(session, camera, *way, deployment, *meant, reason, frames)
    _anew(book, {said.camera}, progress)
    many = counted(said.frames, "picture")
    told = f"Fixed {said.camera}'s clock for {many} ({said.clock_fix})."
    return Out(said, told)


@command(clock_app, "list", csv=True)
def list_corrections(session: Session) -> Out[list[ClockSaid]]:
    """List the fixes made to clocks."""
    rows = verbs.corrections(session)
    columns: dict[str, Any] = {
        "fix": "clock_fix",
        "camera": "camera",
        "kind": "kind",
        "pictures": "frames",
    }
    columns |= {
        "from": lambda c: c.clock_from or (c.from_frame or "all")[:12],
        "until": lambda c: c.clock_until or (c.until_frame or "all")[:12],
    }
    columns |= {"why": "reason"}
    told = [*_fixes(rows), *listed(rows, columns, "no clock was fixed")]
    return Out(rows, told, warned=[*open_hours(session).values()])


def _fixes(rows: Sequence[ClockSaid]) -> Iterator[str]:
    """Say how many fixes there are, on how many pictures of which cameras."""
    if rows:
        pictures = counted(sum(row.frames for row in rows), "picture")
        cameras = ", ".join(dict.fromkeys(row.camera for row in rows))
        fixes = "1 fix" if len(rows) == 1 else f"{len(rows)} fixes"
        yield f"{fixes}, for {pictures} of {cameras}."


@command(clock_app, "remove")
def remove_correction(
    book: Folder,
    context: typer.Context,
    progress: Progress,
    correction: Annotated[
        str, typer.Argument(help="As `clock list` shows it, or its first letters.")
    ],
) -> Out[ClockSaid]:
    """Take one fix back; its pictures show the camera's own time again."""
    with logbook(context) as session:
        gone = verbs.remove_correction(session, correction)
    _anew(book, {gone.camera}, progress)
    many = counted(gone.frames, "picture")
    told = f"Took back {gone.camera}'s fix {gone.clock_fix} ({many})."
    return Out(gone, told)


def _anew(book: Folder, cameras: set[str], progress: Progress) -> None:
    """Compare frames anew that belong to another deployment now, or come in another order."""
    from camsign.derive.comparing import compare

    if not cameras:
        return
    try:
        compare(book, sorted(cameras), progress)
    except (CamsignError, OSError) as e:
        note(f"the times are right, but pictures are not compared anew yet: {e}")


def _seconds(text: str) -> float:
    negative = text.startswith(("-", "−"))
    span = parse_duration(text.lstrip("+-−"))
    return -span if negative else span
