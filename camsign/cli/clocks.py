"""Camera clocks: judged by the sun, and put right."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.opened import folder, logbook
from camsign.cli.show import Csv, Form, Json, form, listing, note, put_json, put_table, say
from camsign.cli.waiting import bar

if TYPE_CHECKING:
    from camsign.clock.audit import Finding
    from camsign.stats.estimate import Estimate

Camera = Annotated[str, typer.Argument(help="The camera's ID, such as CAM07.")]
clock_app = typer.Typer(help="Is each camera's clock right? Put it right.", no_args_is_help=True)


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(clock_app, name="clock")


@clock_app.command("audit")
def audit(
    context: typer.Context,
    camera: Annotated[str | None, typer.Argument(help="Only this camera.")] = None,
    apply: Annotated[
        bool, typer.Option("--apply", help="Note the corrections that are proposed.")
    ] = False,
    plot: Annotated[
        Path | None, typer.Option(metavar="FILE.png", help="Draw sun height against clock.")
    ] = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Judge each clock by the light in its own pictures and the sun; changes nothing by itself."""
    from camsign.clock import audit as judging
    from camsign.clock import verbs

    with logbook(context) as session:
        found = verbs.audit(session, camera)
        proposed = verbs.proposals(session, found)
        if plot:
            from camsign.report.clockplot import draw_clocks

            draw_clocks(verbs.points(session, camera), plot)
        if apply:
            verbs.apply(session, found)
    wanted = form(as_json, as_csv)
    if apply:
        _anew(context, {f.camera for f, _ in proposed}, quiet=wanted is not Form.TABLE)
    if wanted is Form.TABLE:
        _show(found)
        for finding, correction in proposed:
            verb = "Noted" if apply else "Proposed"
            say(f"{verb} for {finding.camera}: {correction.reason}")
        if proposed and not apply:
            say("camsign clock audit --apply notes these; camsign undo takes them back.")
    else:
        listing(found, {"deployment": "", "camera": "", "verdict": ""}, wanted)
    if any(judging.needs_attention(f) for f in found) and not apply:
        raise typer.Exit(1)


@clock_app.command("set")
def set_clock(
    context: typer.Context,
    camera: Camera,
    shown: Annotated[
        list[str] | None,
        typer.Option(help="What the camera showed, or a frame that pictures the true time."),
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
    deployment: Annotated[str | None, typer.Option(help="Only for this deployment.")] = None,
    first: Annotated[
        str | None, typer.Option("--from", metavar="WHEN", help="From this time shown.")
    ] = None,
    last: Annotated[
        str | None, typer.Option("--to", metavar="WHEN", help="Up to this time shown.")
    ] = None,
    reason: Annotated[str | None, typer.Option(help="Why.")] = None,
    as_json: Json = False,
) -> None:
    """Put a clock right: by pairs of shown and true time, an offset, or a shift."""
    from camsign.clock import verbs
    from camsign.errors import UsageError
    from camsign.units import parse_when

    if len(shown or []) != len(true or []):
        raise UsageError("each --shown needs its --true", "give them in pairs")
    pairs = [(s, parse_when(t)) for s, t in zip(shown or [], true or [], strict=True)]
    with logbook(context) as session:
        said = verbs.set_clock(
            session,
            camera,
            pairs,
            utc_offset,
            follows_local,
            _seconds(shift) if shift else None,
            deployment,
            parse_when(first) if first else None,
            parse_when(last) if last else None,
            reason,
        )
    _anew(context, {said.camera}, quiet=as_json)
    if as_json:
        put_json(said)
        return
    say(f"{said.camera}'s clock is put right for {said.frames} frames ({said.clock_fix}).")


@clock_app.command("list")
def list_corrections(context: typer.Context, as_json: Json = False, as_csv: Csv = False) -> None:
    """Corrections that stand."""
    from camsign.clock import verbs

    with logbook(context) as session:
        rows = verbs.corrections(session)
    columns = {"clock_fix": "correction", "camera": "camera", "kind": "kind", "frames": "frames"}
    columns |= {"clock_from": "shown from", "clock_until": "shown until", "reason": "why"}
    listing(rows, columns, form(as_json, as_csv), "no corrections")


@clock_app.command("remove")
def remove_correction(
    context: typer.Context,
    correction: Annotated[
        str, typer.Argument(help="As `clock list` shows it, or its first letters.")
    ],
) -> None:
    """Take one correction back, however old; its frames show the camera's own time again."""
    from camsign.clock import verbs

    with logbook(context) as session:
        gone = verbs.remove_correction(session, correction)
    _anew(context, {gone.camera})
    say(f"{gone.camera}'s correction {gone.clock_fix} no longer stands ({gone.frames} frames).")


def _anew(context: typer.Context, cameras: set[str], quiet: bool = False) -> None:
    """Compare frames anew that belong to another deployment now, or come in another order."""
    from camsign.derive.comparing import compare
    from camsign.errors import CamsignError

    if not cameras:
        return
    try:
        with bar(quiet) as progress:
            compare(folder(context), sorted(cameras), progress)
    except (CamsignError, OSError) as e:
        note(f"the times are right, but frames are not compared anew yet: {e}")


def _seconds(text: str) -> float:
    from camsign.units import parse_duration

    negative = text.startswith(("-", "−"))
    span = parse_duration(text.lstrip("+-−"))
    return -span if negative else span


def _show(found: list[Finding]) -> None:
    from camsign.clock.verdicts import counted_verdicts

    if not found:
        say("no frames with a time yet")
        return
    head = ("camera", "deployment", "verdict", "minutes ahead", "frames", "bursts used")
    rows = [
        (f.camera, f.deployment, f.verdict, _minutes(f.offset_minutes), f.frames, f.bursts_used)
        for f in found
    ]
    put_table(head, rows)
    say(counted_verdicts([f.verdict for f in found]))
    note(*(f"{f.camera}: {f.why}" for f in found))


def _minutes(ahead: Estimate) -> str:
    if ahead.value is None:
        return "–"
    if ahead.low is None or ahead.high is None:
        return f"{ahead.value:.0f}"
    return f"{ahead.value:.0f} ({ahead.low:.0f} to {ahead.high:.0f})"
