"""The areas: all of them side by side, and a page for each with every answer about it.

The pages come at once; each answer is asked for apart, computed once, and kept until the logbook
says something new.
"""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute

from camsign.answers import verdict
from camsign.answers.compare import WINDLESS, compare
from camsign.answers.lately import DAYS, lately
from camsign.answers.result import about, odds
from camsign.answers.rivals import how_many
from camsign.answers.scope import area_id_of
from camsign.formats.interval import interval
from camsign.logbook.session import Session
from camsign.page.area_parts import PARTS, values_of
from camsign.page.charts import CURVE_TALL, WIDTH, in_words
from camsign.page.routing import Asked, Values, asks
from camsign.page.spans import span_of
from camsign.sign.surroundings import NEAR_M
from camsign.units import format_density, format_length, per_area

_MEANINGS = {
    verdict.CONFIRMED: "he bedded here on 3 days or more, even at the low end of the range",
    verdict.LIKELY: "at least an 80% chance he bedded here at least one day",
    verdict.POSSIBLE: "at least a 20% chance he bedded here at least one day, or sign that points "
    "to a bed",
    verdict.NOT_SHOWN: "under a 20% chance, with 10 or more days covered",
    verdict.NOT_ENOUGH: "under a 20% chance, but too few days covered to rule it out",
}

# Of an area, without a name: who it is stands on its own page.
_BEDDED = {
    verdict.CONFIRMED: "A mature buck beds here",
    verdict.LIKELY: "A mature buck probably beds here",
    verdict.POSSIBLE: "A mature buck may bed here",
    verdict.NOT_SHOWN: "Nothing says a mature buck beds here",
    verdict.NOT_ENOUGH: "Can't tell yet if a mature buck beds here",
}


def _all(asked: Asked) -> Values:
    row = asked.session.con.execute("SELECT 1 FROM areas_now LIMIT 1").fetchone()
    return {"span": span_of(asked), "any": row is not None}


def _part_of_all(asked: Asked) -> Values:
    session, part, span = asked.session, asked.named["part"], span_of(asked)
    scope = span.scope(session)
    values: Values
    if part == "which":
        ranked = asked.once(("compare", scope), lambda: compare(session, scope))
        watched = any(r.nights_watched for r in ranked.rows)
        row = session.con.execute("SELECT max(day) FROM detections").fetchone()
        values = {"ranked": ranked, "watched": watched, "newest": row[0] if row else None}
    elif part == "hot":
        values = {"lately": asked.once(("lately", scope), lambda: lately(session, scope, DAYS))}
    else:
        raise HTTPException(404)
    return values | _shared(session) | {"part": part, "span": span}


def _one(asked: Asked) -> Values:
    session, area = asked.session, area_id_of(asked.session, asked.named["area"])
    span = span_of(asked)
    row = session.con.execute(
        "SELECT name, kind FROM areas_now WHERE area_id = ?", [area]
    ).fetchone()
    name, kind = row or (area, "")
    reach = format_length(span.scope(session, area).reach_m, session.settings.units)
    about = {"area": area, "name": name, "kind": kind, "reach": reach, "parts": PARTS}
    return {**about, "span": span, "buck": asked.query.get("buck", "")}


def _part(asked: Asked) -> Values:
    part = asked.named["part"]
    if part != "short" and part not in dict(PARTS):
        raise HTTPException(404)
    session, area = asked.session, area_id_of(asked.session, asked.named["area"])
    span = span_of(asked)
    scope = span.scope(session, area)
    values = values_of(part, asked, scope)
    reach = format_length(scope.reach_m, session.settings.units)
    return {**values, **_shared(session), "reach": reach, "part": part, "span": span}


def _shared(session: Session) -> Values:
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


ROUTES: list[BaseRoute] = [
    asks("/areas", _all, "areas.html"),
    asks("/compared/{part}", _part_of_all, "areas_parts.html"),
    asks("/areas/{area}", _one, "area.html"),
    asks("/areas/{area}/{part}", _part, "area_parts.html"),
]
