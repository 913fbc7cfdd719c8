"""The areas: all of them side by side, and a page for each with every answer about it.

The pages come at once; each answer is asked for apart, computed once, and kept until the logbook
says something new.
"""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute

from camsign.answers.compare import compare
from camsign.answers.lately import DAYS, lately
from camsign.answers.scope import area_id_of
from camsign.page.area_parts import PARTS, shared
from camsign.page.routing import Asked, Values, asks
from camsign.page.spans import span_of
from camsign.units import format_length


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
        values |= {"told": ranked.ranked}
    elif part == "hot":
        values = {"lately": asked.once(("lately", scope), lambda: lately(session, scope, DAYS))}
    else:
        raise HTTPException(404)
    reach = format_length(scope.reach_m, session.settings.units)
    return values | shared(session) | {"part": part, "span": span, "reach": reach}


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


ROUTES: list[BaseRoute] = [
    asks("/areas", _all, "areas.html"),
    asks("/compared/{part}", _part_of_all, "areas_parts.html"),
    asks("/areas/{area}", _one, "area.html"),
]
