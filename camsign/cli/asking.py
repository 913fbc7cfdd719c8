"""The questions: near, visits, when."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Form, Json, form, note, put_csv, put_json, put_table, say

if TYPE_CHECKING:
    from camsign.answers.scope import Scope
    from camsign.answers.shape import Answer, Figure
    from camsign.logbook.session import Session

Bucks = Annotated[
    list[str] | None, typer.Option("--buck", help="A buck's name or id; may be given again.")
]
Areas = Annotated[
    list[str] | None, typer.Option("--area", help="An area's name or id; may be given again.")
]
Season = Annotated[int | None, typer.Option(help="A hunting year; else the latest with pictures.")]
First = Annotated[str | None, typer.Option("--from", metavar="DAY", help="The first day.")]
Last = Annotated[str | None, typer.Option("--to", metavar="DAY", help="The last day.")]
Reach = Annotated[
    str | None, typer.Option(metavar="LENGTH", help="How far from an area a camera counts.")
]
Gap = Annotated[str | None, typer.Option(metavar="SPAN", help="What parts two visits: 30min.")]


NEAR_SHOWN = 40
_NEAR = ("buck", "utc", "sign", "kind", "distance_m", "bearing_deg", "days")


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(near)
    app.command()(visits)
    app.command()(when)


def scope(session: Session, **words: Any) -> Scope:
    """Give the bounds of a question from a command's words, lengths by the logbook's units."""
    from camsign.answers.scope import scope_of
    from camsign.units import parse_day, parse_duration, parse_length

    unit = "yd" if session.settings.units == "imperial" else "m"
    first, last, reach, gap = (words.get(k) for k in ("first", "last", "reach", "gap"))
    return scope_of(
        session,
        words.get("bucks"),
        words.get("areas"),
        words.get("season"),
        parse_day(first) if first else None,
        parse_day(last) if last else None,
        parse_length(reach, unit) if reach else None,
        parse_duration(gap) if gap else None,
    )


def near(
    context: typer.Context,
    bucks: Bucks = None,
    areas: Areas = None,
    kinds: Annotated[list[str] | None, typer.Option("--kind", help="Such as rub.")] = None,
    within: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="From camera to sign; else the reach.")
    ] = None,
    days: Annotated[int, typer.Option(min=0, help="How far outside the made window.")] = 0,
    season: Season = None,
    first: First = None,
    last: Last = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Which bucks were pictured near which sign, while it was made?"""
    from camsign.answers import near as answers
    from camsign.units import parse_length

    with logbook(context) as session:
        asked = scope(session, bucks=bucks, areas=areas, season=season, first=first, last=last)
        unit = "yd" if session.settings.units == "imperial" else "m"
        limit = parse_length(within, unit) if within else None
        answer = answers.near(session, asked, kinds=kinds, within_m=limit, days=days)
    if not plainly(answer, as_json, as_csv):
        head = ("buck", "when (UTC)", "sign", "kind", "metres", "bearing", "days", "frame")
        rows = [
            (*tuple(r[k] for k in _NEAR), r["frame"][:12]) for r in answer.to_records()[:NEAR_SHOWN]
        ]
        if len(answer.table) > NEAR_SHOWN:
            note(f"{len(answer.table) - NEAR_SHOWN} more; --csv and --json give all.")
        table(head, rows, answer)


def visits(
    context: typer.Context,
    bucks: Bucks = None,
    areas: Areas = None,
    by: Annotated[str, typer.Option(help="area or camera.")] = "area",
    season: Season = None,
    first: First = None,
    last: Last = None,
    reach: Reach = None,
    gap: Gap = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """How often is each buck there, and by daylight or not?"""
    from camsign.answers import visits as answers
    from camsign.errors import UsageError

    if by not in ("area", "camera"):
        raise UsageError(f"there are no visits by {by!r}", "say --by area or --by camera")
    words = {"bucks": bucks, "areas": areas, "season": season, "first": first, "last": last}
    with logbook(context) as session:
        asked = scope(session, **words, reach=reach, gap=gap)
        answer = answers.visits(session, asked, "camera" if by == "camera" else "area")
    if not plainly(answer, as_json, as_csv):
        head = ("buck", by, "visits", "nights seen", "of watched", "per 100 nights", "by daylight")
        rows = [
            (
                r.buck,
                r.area if by == "area" else r.camera,
                r.visits,
                r.nights_seen,
                r.nights_watched,
                number(r.per_100_nights),
                share(r.daylight),
            )
            for r in answer.rows
        ]
        table(head, rows, answer)


def when(
    context: typer.Context,
    buck: Annotated[str, typer.Argument(help="A buck's name or id.")],
    area: Annotated[str, typer.Argument(help="An area's name or id.")],
    season: Season = None,
    first: First = None,
    last: Last = None,
    reach: Reach = None,
    gap: Gap = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """When is this buck near this area, by the sun?"""
    from camsign.answers import when as answers

    words = {"season": season, "first": first, "last": last, "reach": reach, "gap": gap}
    with logbook(context) as session:
        asked = scope(session, bucks=[buck], areas=[area], **words)
        answer = answers.when(session, asked)
    if not plainly(answer, as_json, as_csv):
        head = ("when", "camera", "daylight", "from sunrise", "from sunset", "metres")
        rows = [
            (
                v.local,
                v.camera,
                v.in_daylight,
                clock(v.minutes_from_sunrise),
                clock(v.minutes_from_sunset),
                v.distance_m,
            )
            for v in answer.visits
        ]
        table(head, rows, answer)
        say(f"By daylight: {share(answer.daylight)} of his visits.")


def number(figure: Figure) -> str:
    """Write a figure with its interval."""
    if figure.value is None:
        return "–"
    if figure.low is None or figure.high is None:
        return f"{figure.value:.1f}"
    return f"{figure.value:.1f} ({figure.low:.1f}–{figure.high:.1f})"


def share(figure: Figure) -> str:
    """Write a share in percent, with its interval and how many it rests on."""
    if figure.value is None:
        return "–"
    low, high = (round(100 * (x or 0)) for x in (figure.low, figure.high))
    return f"{100 * figure.value:.0f} % ({low}–{high}, n {figure.n})"


def clock(minutes: float | None) -> str:
    """Write minutes before (−) or after (+) as hours and minutes."""
    if minutes is None:
        return "–"
    whole = round(abs(minutes))
    return f"{'−' if minutes < 0 else '+'}{whole // 60}:{whole % 60:02d}"


def plainly(answer: Answer, as_json: bool, as_csv: bool) -> bool:
    """Show an answer to another program, if that is wanted."""
    wanted = form(as_json, as_csv)
    if wanted is Form.JSON:
        put_json(answer.to_json())
    elif wanted is Form.CSV:
        put_csv(answer.to_records(flat=True))
    return wanted is not Form.TABLE


def table(head: tuple[str, ...], rows: list[tuple[Any, ...]], answer: Any) -> None:
    """Show an answer to people: its table, its reasons, how it was computed."""
    if rows:
        put_table(head, rows)
    say(*answer.why)
    note(f"How computed: {answer.method}.")
