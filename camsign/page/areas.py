"""The areas: all of them side by side, and a page for each with every answer about it.

The pages come at once; each answer is asked for apart, computed once, and kept until the logbook
says something new.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute

from camsign.answers import verdict
from camsign.answers.compare import WINDLESS, compare
from camsign.answers.lately import lately
from camsign.answers.result import about, odds
from camsign.answers.rivals import how_many
from camsign.answers.scope import area_id_of
from camsign.formats.interval import interval
from camsign.logbook.session import Session
from camsign.page.app_state import AppState, desk_of
from camsign.page.area_parts import PARTS, Ask, values_of
from camsign.page.charts import CURVE_TALL, WIDTH, in_words
from camsign.page.routing import get
from camsign.page.show import render
from camsign.page.spans import span_of
from camsign.sign.surroundings import NEAR_M
from camsign.units import format_density, format_length, per_area

_MEANINGS = {
    verdict.CONFIRMED: "he bedded here on 3 days or more, even at the low end of the range",
    verdict.LIKELY: "at least 80% that he bedded here at least one day",
    verdict.POSSIBLE: "at least 20% of that, or sign that points to a bed",
    verdict.NOT_SHOWN: "less than that, on 10 or more days covered",
    verdict.NOT_ENOUGH: "less than that, on too few days covered to say",
}

# Of an area, without a name: who it is stands on its own page.
_BEDDED = {
    verdict.CONFIRMED: "A buck beds here",
    verdict.LIKELY: "A buck probably beds here",
    verdict.POSSIBLE: "A buck may bed here",
    verdict.NOT_SHOWN: "Nothing says a buck beds here",
    verdict.NOT_ENOUGH: "Can’t tell yet if a buck beds here",
}


def _all(request: Request) -> Response:
    with desk_of(request).reading() as session:
        seasons = seasons_of(session)
        row = session.con.execute("SELECT 1 FROM areas_now LIMIT 1").fetchone()
        span = span_of(request, session, seasons)
    values = {"seasons": seasons, "span": span, "season": span.season, "any": row is not None}
    return render(request, "areas.html", values)


def _part_of_all(request: Request) -> Response:
    part, asking = str(request.path_params["part"]), _asking(request)
    with desk_of(request).reading() as session:
        span = span_of(request, session, seasons_of(session))
        scope = span.scope(session)
        ask = asking("all", scope.first, scope.last)
        values: dict[str, Any]
        if part == "which":
            ranked = ask("compare", lambda: compare(session, scope))
            watched = any(r.nights_watched for r in ranked.rows)
            row = session.con.execute("SELECT max(day) FROM detections").fetchone()
            values = {"ranked": ranked, "watched": watched, "newest": row[0] if row else None}
        elif part == "hot":
            values = {"lately": ask("lately", lambda: lately(session, scope))}
        else:
            raise HTTPException(404)
        values |= _shared(session) | {"part": part, "season": span.season, "span": span}
    return render(request, "areas_parts.html", values)


def _one(request: Request) -> Response:
    with desk_of(request).reading() as session:
        seasons = seasons_of(session)
        area = area_id_of(session, str(request.path_params["area"]))
        span = span_of(request, session, seasons)
        scope = span.scope(session, area)
        row = session.con.execute(
            "SELECT name, kind FROM areas_now WHERE area_id = ?", [area]
        ).fetchone()
        reach = format_length(scope.reach_m, session.settings.units)
    name, kind = row or (area, "")
    about = {"area": area, "name": name, "kind": kind, "reach": reach, "parts": PARTS}
    wished = request.query_params.get("buck", "")
    chosen = {"seasons": seasons, "season": span.season, "span": span, "buck": wished}
    return render(request, "area.html", {**about, **chosen})


def _part(request: Request) -> Response:
    part = str(request.path_params["part"])
    if part != "short" and part not in dict(PARTS):
        raise HTTPException(404)
    asking = _asking(request)
    with desk_of(request).reading() as session:
        area = area_id_of(session, str(request.path_params["area"]))
        span = span_of(request, session, seasons_of(session))
        scope = span.scope(session, area)
        ask = asking(area, scope.first, scope.last)
        values = values_of(part, session, scope, request.query_params.get("buck"), ask)
        values |= _shared(session) | {"reach": format_length(scope.reach_m, session.settings.units)}
    about = {"part": part, "season": span.season, "span": span}
    return render(request, "area_parts.html", {**values, **about})


def _asking(request: Request) -> Callable[..., Ask]:
    """Give a function from what answers are about to one that asks.

    Called before the logbook is read, else what was read before a change could pass for what it
    says after it.
    """
    state: AppState = request.app.state.opened
    version = state.desk.version
    return lambda *about: lambda name, work: state.answered.give(version, (*about, name), work)


def _shared(session: Session) -> dict[str, Any]:
    return {
        "meanings": _MEANINGS,
        "bedded_here": _BEDDED,
        "figure": in_words,
        "whole": lambda days: interval(days, 0),
        "odds": odds,
        "about": about,
        "how_many": how_many,
        "dense": lambda per_ha: format_density(per_ha, session.settings.units),
        "near_reach": format_length(NEAR_M, session.settings.units),
        "per_area": per_area(session.settings.units)[::-1],
        "windless": WINDLESS,
        "width": WIDTH,
        "curve_tall": CURVE_TALL,
    }


def seasons_of(session: Session) -> list[int]:
    """Give the seasons in which anything was watched, seen or made, the latest first."""
    month, day = session.settings.season_start
    rows = session.con.execute(
        "SELECT DISTINCT year(day) - (strftime(day, '%m-%d') < ?)::INTEGER AS season FROM ("
        " SELECT day FROM detections UNION ALL SELECT night FROM watch"
        " UNION ALL SELECT made_to FROM made_windows) WHERE day IS NOT NULL ORDER BY 1 DESC",
        [f"{month:02d}-{day:02d}"],
    ).fetchall()
    return [season for (season,) in rows]


ROUTES: list[BaseRoute] = [
    get("/areas", _all),
    get("/compared/{part}", _part_of_all),
    get("/areas/{area}", _one),
    get("/areas/{area}/{part}", _part),
]
