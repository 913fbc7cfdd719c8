"""The questions that count: near, visits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.bounds import Areas, Bounds, Bucks, Does, bounded, length, scope
from camsign.cli.figures import chance, lengths, number, plainly, shown
from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Json, note, put_table, say

if TYPE_CHECKING:
    from camsign.answers.near import Near
    from camsign.answers.visits import VisitRow, Visits
    from camsign.logbook.settings import Settings

NEAR_SHOWN = 40


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(near)
    app.command()(visits)


@bounded()
def near(
    context: typer.Context,
    bounds: Bounds,
    bucks: Bucks = None,
    areas: Areas = None,
    kinds: Annotated[list[str] | None, typer.Option("--kind", help="Such as rub.")] = None,
    within: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="From camera to sign; else the reach.")
    ] = None,
    days: Annotated[int, typer.Option(min=0, help="How far outside the made window.")] = 0,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Who was pictured near which sign, while it was made?"""
    from camsign.answers import near as answers

    with logbook(context) as session:
        settings = session.settings
        limit = length(session, within) if within else None
        asked = scope(session, bounds, bucks, areas)
        answer = answers.near(session, asked, kinds=kinds, within_m=limit, days=days)
    if not plainly(answer, as_json, as_csv):
        _show_near(answer, settings)


def _show_near(answer: Near, settings: Settings) -> None:
    from camsign.zones import zone

    units, there, records = settings.units, zone(settings.tz), answer.to_records()
    by_who: dict[str, list[dict[str, Any]]] = {}
    for row in records:
        by_who.setdefault(_who(row), []).append(row)
    if by_who:
        rows = [
            (
                who,
                len({r["sign"] for r in mine}),
                len({r["frame"] for r in mine}),
                lengths(units, min(r["distance_m"] for r in mine)),
                _kinds(mine),
            )
            for who, mine in sorted(by_who.items(), key=lambda one: -len(one[1]))
        ]
        put_table(("who", "signs", "frames", "nearest", "of which"), rows)
    head = ("who", "when", "sign", "kind", "distance", "bearing", "days", "frame")
    from camsign.units import format_bearing

    joined = [
        (
            _who(r),
            r["utc"].astimezone(there),
            r["sign"],
            r["kind"],
            lengths(units, r["distance_m"]),
            format_bearing(r["bearing_deg"]),
            r["days"],
            r["frame"][:12],
        )
        for r in records[:NEAR_SHOWN]
    ]
    if len(records) > NEAR_SHOWN:
        note(f"{len(records) - NEAR_SHOWN} more rows; --csv and --json give all.")
    shown(head, joined, answer)


def _who(row: dict[str, Any]) -> str:
    """Say who is in a picture: a buck by name, else as much as was tagged."""
    if row["buck"]:
        return str(row["buck"])
    words = {("deer", "male"): "a buck without a name", ("deer", "female"): "a doe"}
    species = row["species"] or "animal"
    return words.get((species, row["sex"]), f"a {species}")


def _kinds(rows: list[dict[str, Any]]) -> str:
    counted = Counter(kind for kind, _ in {(r["kind"], r["sign"]) for r in rows})
    return ", ".join(f"{n} {kind}{'s' * (n > 1)}" for kind, n in counted.most_common())


@bounded()
def visits(
    context: typer.Context,
    bounds: Bounds,
    bucks: Bucks = None,
    areas: Areas = None,
    by: Annotated[str, typer.Option(help="area or camera.")] = "area",
    split: Annotated[
        str | None, typer.Option(help="month, or phase (of your season, in logbook.toml).")
    ] = None,
    other: Annotated[
        str | None,
        typer.Option(
            "--against",
            metavar="WHAT",
            help="Compare with another area, a hunting year, or DAY..DAY: a ratio of rates.",
        ),
    ] = None,
    does: Does = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """How often is each buck there, and in which light?"""
    from camsign.answers import visits as answers
    from camsign.answers.scope import against
    from camsign.errors import UsageError

    if by not in ("area", "camera"):
        raise UsageError(f"there are no visits by {by!r}", "say --by area or --by camera")
    if split not in (None, "month", "phase"):
        raise UsageError(f"visits are not split by {split!r}", "say --split month or phase")
    with logbook(context) as session:
        asked = scope(session, bounds | {"does": does}, bucks, areas)
        opposed = against(session, asked, other) if other else None
        answer = answers.visits(
            session,
            asked,
            "camera" if by == "camera" else "area",
            "month" if split == "month" else "phase" if split else None,
            opposed,
        )
    if not plainly(answer, as_json, as_csv):
        _show_visits(answer, by, other)


def _show_visits(answer: Visits, by: str, other: str | None) -> None:
    parted = any(r.part for r in answer.rows)
    columns: list[tuple[str, Callable[[VisitRow], Any]]] = [
        ("buck", lambda r: r.buck),
        (by, lambda r: r.area if by == "area" else r.camera),
        ("part", lambda r: r.part),
        ("visits", lambda r: r.visits),
        ("nights", lambda r: r.nights_seen),
        ("covered", lambda r: r.nights_watched),
        ("per 100 nights", lambda r: number(r.per_100_nights)),
        ("day / gray / dark", lambda r: f"{r.day} / {r.gray} / {r.dark}"),
        ("in shooting light", lambda r: chance(r.shooting_light)),
        ("days between", lambda r: number(r.days_between_median)),
        ("later / earlier half", lambda r: number(r.trend)),
        ("ratio", lambda r: number(r.ratio)),
    ]
    left_out = {"later / earlier half" if parted else "part", "" if other else "ratio"}
    columns = [one for one in columns if one[0] not in left_out]
    head = tuple(name for name, _ in columns)
    shown(head, [tuple(cell(r) for _, cell in columns) for r in answer.rows], answer)
    if other:
        say(f"ratio: how many times the rate of {other}")
    for name, watch in answer.watch.items():
        say(f"  {name}: {watch.in_words()}{_apart(answer.rows, name)}")
    for r in answer.rows:
        if not r.visits:
            say(f"  {r.buck}, {r.part or r.area or r.camera}: {'; '.join(r.why)}")


def _apart(rows: tuple[VisitRow, ...], spot: str) -> str:
    """Say what is counted apart at a spot."""
    from camsign.answers.result import counted

    here = [r for r in rows if spot in (r.area, r.camera)]
    unnamed = max((r.unidentified for r in here), default=0)
    doubtful = len({r.buck_id for r in here if r.doubtful_time})
    words = f"; {counted(unnamed, 'visit')} by bucks without a sure name" if unnamed else ""
    words += f"; {counted(doubtful, 'buck')} also at doubtful times" if doubtful else ""
    return f"{words}, counted apart" if words else ""
