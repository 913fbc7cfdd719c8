"""The questions that weigh: bedding, rivals, makers, compare, lately, and SQL of one's own."""

from __future__ import annotations

from typing import Annotated

import typer

from camsign.cli.asking import Areas, Bucks, First, Last, Reach, Season, number, plainly, scope
from camsign.cli.asking import share as percent
from camsign.cli.asking import table as shown
from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Form, Json, form, put_csv, put_json, put_table, say

Area = Annotated[str, typer.Argument(help="An area's name or id.")]
_SHOWN = 100


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    for command in (bedding, rivals, makers, compare, lately, sql):
        app.command()(command)


def bedding(
    context: typer.Context,
    area: Area,
    bucks: Bucks = None,
    apart: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="So far off by daylight contradicts.")
    ] = None,
    season: Season = None,
    first: First = None,
    last: Last = None,
    reach: Reach = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Is an area used as a bed, by whom, on how many days, which way in and out?"""
    from camsign.answers import bedding as answers
    from camsign.answers.bedded import APART_M
    from camsign.units import parse_length

    words = {"season": season, "first": first, "last": last, "reach": reach}
    with logbook(context) as session:
        asked = scope(session, areas=[area], bucks=bucks, **words)
        far = parse_length(apart, "m") if apart else APART_M
        answer = answers.bedding(session, asked, far)
    if plainly(answer, as_json, as_csv):
        return
    head = ("buck", "verdict", "mornings", "evenings", "both", "days bedded", "contradicting")
    rows = [
        (
            b.buck,
            b.verdict,
            b.mornings,
            b.evenings,
            b.both,
            number(b.days_bedded),
            b.contradicting_days,
        )
        for b in answer.bucks
    ]
    shown(head, rows, answer)
    say(f"{answer.area}: {answer.verdict.upper()}, {answer.days_watched} days watched.")
    for name, ways in (
        ("in by morning", answer.ways.morning),
        ("out by evening", answer.ways.evening),
    ):
        for way in ways:
            say(f"  {name} past {way.camera}: going {number(way.bearing_deg)}° (n {way.n})")
    sign = answer.sign
    say(f"  sign in reach: {sign.rubs} rubs, {sign.beds} beds, {sign.scrapes} scrapes")


def rivals(
    context: typer.Context,
    area: Area,
    season: Season = None,
    first: First = None,
    last: Last = None,
    reach: Reach = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """How many mature bucks compete there, and who gives way?"""
    from camsign.answers import rivals as answers

    words = {"season": season, "first": first, "last": last, "reach": reach}
    with logbook(context) as session:
        answer = answers.rivals(session, scope(session, areas=[area], **words))
    if plainly(answer, as_json, as_csv):
        return
    head = ("buck", "nights", "visits", "by daylight", "first seen", "last seen")
    rows = [
        (k.buck, k.nights, k.visits, percent(k.daylight), k.first_seen, k.last_seen)
        for k in answer.known
    ]
    shown(head, rows, answer)
    say(f"At least {answer.minimum}; of the season's known: {number(answer.estimate)}.")
    for pair in answer.pairs:
        say(f"  {pair.first} and {pair.second}: {pair.nights_together} nights both; {pair.verdict}")


def makers(
    context: typer.Context,
    sign: Annotated[str, typer.Argument(help="A sign's id, or its beginning.")],
    bucks: Bucks = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Who likely made this rub or scrape?"""
    from camsign.answers import makers as answers

    with logbook(context) as session:
        answer = answers.makers(session, scope(session, bucks=bucks), sign)
    if plainly(answer, as_json, as_csv):
        return
    head = ("buck", "chance", "visits", "why")
    rows = [
        (m.buck, f"{100 * m.p:.0f} % ({100 * m.low:.0f}–{100 * m.high:.0f})", m.visits, m.why)
        for m in answer.makers
    ]
    shown(head, rows, answer)
    if answer.near_ties:
        say(f"Too close to call: {', '.join(answer.near_ties)}.")


def compare(
    context: typer.Context,
    areas: Areas = None,
    season: Season = None,
    first: First = None,
    last: Last = None,
    reach: Reach = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Which of the areas deserves the sits?"""
    from camsign.answers import compare as answers

    words = {"season": season, "first": first, "last": last, "reach": reach}
    with logbook(context) as session:
        answer = answers.compare(session, scope(session, areas=areas, **words))
    if plainly(answer, as_json, as_csv):
        return
    head = ("rank", "area", "daylight visits in 10 days", "bedding", "rivals", "sign per ha")
    rows = [
        (
            r.rank,
            r.area,
            number(r.daylight_visits_per_10_days),
            r.verdict,
            number(r.rivals),
            r.sign_per_ha,
            r.nights_watched,
            ", ".join(r.tied_with) or "–",
        )
        for r in answer.rows
    ]
    shown((*head, "nights watched", "tied with"), rows, answer)


def lately(
    context: typer.Context,
    areas: Areas = None,
    days: Annotated[int, typer.Option(min=1, help="How many days back.")] = 10,
    season: Season = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """What is hot: fresh sign and daylight pictures of mature bucks, newest first."""
    from camsign.answers import lately as answers

    with logbook(context) as session:
        answer = answers.lately(session, scope(session, areas=areas, season=season), days)
    if plainly(answer, as_json, as_csv):
        return
    head = ("area", "latest", "fresh sign", "daylight visits", "bucks")
    rows = [
        (r.area, r.latest, r.fresh_sign, r.daylight_visits, ", ".join(r.bucks) or "–")
        for r in answer.rows
    ]
    shown(head, rows, answer)


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
