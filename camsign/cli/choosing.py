"""The questions over all areas: compare, lately; and SQL of one's own."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.bounds import Areas, Bounds, Does, bounded, scope
from camsign.cli.figures import number, plainly, shown
from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Form, Json, form, put_csv, put_json, put_table, say

if TYPE_CHECKING:
    from camsign.answers.compare import Compared

_SHOWN = 100


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    for command in (compare, lately, sql):
        app.command()(command)


@bounded()
def compare(
    context: typer.Context,
    bounds: Bounds,
    areas: Areas = None,
    does: Does = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Which of the areas deserves the sits?"""
    from camsign.answers import compare as answers
    from camsign.units import per_area, per_distance

    with logbook(context) as session:
        answer = answers.compare(session, scope(session, bounds | {"does": does}, areas=areas))
        land, walk = per_area(session.settings.units), per_distance(session.settings.units)
    if plainly(answer, as_json, as_csv):
        return
    head = (
        "rank", "area", "in shooting light, in 10 days", "day / gray", "bedding", "rivals",
        f"sign per {land[1]}", "newest sign", "seasons", "nights covered", "too close to call with",
    )  # fmt: skip
    say(*_first(answer.rows, does))
    shown(head, [_compared(r, land[0], walk) for r in answer.rows], answer)


def _first(rows: tuple[Compared, ...], does: bool) -> list[str]:
    """Say the answer in one sentence."""
    best = rows[0] if rows else None
    if best is None or not best.visits:
        return ["Can't tell yet: no area has a picture in shooting light in these days."]
    whose = "does and fawns" if does else "mature bucks"
    rate = best.shooting_light_visits_per_10_days.value
    if rate is None:
        return [f"Can't tell yet: no day at {best.area} is known to have been watched."]
    tied = f", too close to call with {', '.join(best.tied_with)}" if best.tied_with else ""
    return [
        f"{best.area} first{tied}: about {rate:.1f} visits of {whose} in shooting light "
        f"in 10 days ({best.visits} seen: {best.day} by day, {best.gray} in gray light)."
    ]


def _compared(r: Compared, land: float, walk: tuple[float, str]) -> tuple[object, ...]:
    walked = r.sign_per_km_walked
    return (
        r.rank,
        r.area,
        number(r.shooting_light_visits_per_10_days),
        f"{r.day} / {r.gray}",
        r.verdict,
        number(r.rivals, 0),
        f"{r.sign_per_ha * land:.1f}"
        + (f", {walked * walk[0]:.1f} a {walk[1]} walked" if walked is not None else ""),
        r.newest_sign,
        r.seasons,
        r.nights_watched,
        ", ".join(r.tied_with) or "–",
    )


@bounded()
def lately(
    context: typer.Context,
    bounds: Bounds,
    areas: Areas = None,
    days: Annotated[int, typer.Option(min=1, help="How many days back.")] = 10,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """What is hot up to today: fresh sign, and mature bucks in shooting light, newest first."""
    from camsign.answers import lately as answers

    with logbook(context) as session:
        answer = answers.lately(session, scope(session, bounds, areas=areas), days, _until(bounds))
    if plainly(answer, as_json, as_csv):
        return
    head = ("area", "latest", "fresh sign", "day / gray", "bucks", "nights covered")
    rows = [
        (
            r.area,
            r.latest,
            r.fresh_sign,
            f"{r.day} / {r.gray}",
            ", ".join(r.bucks) or "–",
            r.nights_watched,
        )
        for r in answer.rows
    ]
    shown(head, rows, answer)


def _until(bounds: Bounds) -> date | None:
    """Give the day that was asked for, today's where no days were."""
    from camsign.units import parse_day

    if bounds.get("last"):
        return parse_day(str(bounds["last"]))
    asked = any(bounds.get(name) is not None for name in ("season", "first", "phase", "last_days"))
    return None if asked else date.today()  # noqa: DTZ011 - the user's own day is meant


def sql(
    context: typer.Context,
    question: Annotated[
        str, typer.Argument(help="One SELECT on detections, visits, near, watch, sign, areas.")
    ],
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Ask a question of your own in SQL; nothing can be changed, no other file read."""
    from camsign.answers.ask import ask

    with logbook(context) as session:
        found = ask(session, question)
    wanted = form(as_json, as_csv)
    if wanted is Form.JSON:
        put_json(found.to_json())
    elif wanted is Form.CSV:
        put_csv(found.to_records(flat=True), found.columns)
    else:
        put_table(found.columns, found.rows[:_SHOWN])
        if len(found.rows) > _SHOWN:
            say(f"{len(found.rows) - _SHOWN} more rows; --csv and --json give all.")
