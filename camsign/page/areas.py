"""The areas: all of them side by side, and a page for each with every answer about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute

from camsign.answers import verdict
from camsign.answers.bedding import bedding
from camsign.answers.compare import compare
from camsign.answers.lately import lately
from camsign.answers.rivals import rivals
from camsign.answers.scope import area_id_of, scope_of
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.page.charts import CURVE_TALL, WIDTH, curve, in_words, whiskers
from camsign.page.opened import desk_of
from camsign.page.routing import get
from camsign.page.show import render
from camsign.page.words import length

if TYPE_CHECKING:
    from camsign.answers.scope import Scope
    from camsign.answers.when import When
    from camsign.logbook.session import Session

_MEANINGS = {
    verdict.CONFIRMED: "in and out by known direction, or inside by day, on 3 or more days",
    verdict.LIKELY: "in the light at both ends of a day on 3 or more days, or directed on 1 or 2",
    verdict.POSSIBLE: "in the light at one end, or sign that points to a bed",
    verdict.NOT_SHOWN: "none of the signs of a bed on 10 or more days watched",
    verdict.NOT_ENOUGH: "none of the signs of a bed, on too few days watched to say",
}
_HOURS = range(-6, 6)


@dataclass(frozen=True, slots=True)
class SunClock:
    """Visits by whole hours from sunrise and sunset, each by the nearer; the others are outside."""

    from_sunrise: dict[int, int]
    from_sunset: dict[int, int]
    outside: int


def _all(request: Request) -> Response:
    with desk_of(request).reading() as session:
        seasons = seasons_of(session)
        scope = scope_of(session, season=_season(request, seasons))
        ranked, new = compare(session, scope), lately(session, scope)
        units = session.settings.units
    values = {
        "ranked": ranked,
        "lately": new,
        "seasons": seasons,
        "season": scope.season,
        "rates": whiskers((row.area, row.daylight_visits_per_10_days) for row in ranked.rows),
        "meanings": _MEANINGS,
        "figure": in_words,
        "per_area": ("hectare", 1.0) if units == "metric" else ("acre", 0.40468564224),
        "width": WIDTH,
    }
    return render(request, "areas.html", values)


def _one(request: Request) -> Response:
    with desk_of(request).reading() as session:
        seasons = seasons_of(session)
        area = area_id_of(session, str(request.path_params["area"]))
        scope = scope_of(session, areas=[area], season=_season(request, seasons))
        values = _answers(session, scope, request.query_params.get("buck"))
        values |= _about(session, area, scope)
    return render(request, "area.html", {**values, "seasons": seasons, "season": scope.season})


def _answers(session: Session, scope: Scope, wished: str | None) -> dict[str, Any]:
    """Give every answer about the scope's one area, and that about one buck in it."""
    seen, bed, rival = visits(session, scope), bedding(session, scope), rivals(session, scope)
    ids = [row.buck_id for row in seen.rows]
    buck = wished if wished in ids else ids[0] if ids else None
    his = when(session, _of_buck(session, scope, buck)) if buck else None
    rates = [(row.buck, row.per_100_nights) for row in seen.rows]
    light = [(row.buck, row.daylight) for row in seen.rows if row.daylight.value is not None]
    return {
        "visits": seen,
        "bed": bed,
        "rivals": rival,
        "when": his,
        "rates": whiskers(rates),
        "light": whiskers(light, 100),
        "bedded": whiskers((b.buck, b.days_bedded) for b in bed.bucks),
        **(_of_when(his) if his else {}),
    }


def _of_buck(session: Session, scope: Scope, buck: str) -> Scope:
    areas = list(scope.area_ids or ())
    return scope_of(session, bucks=[buck], areas=areas, season=scope.season)


def _of_when(his: When) -> dict[str, Any]:
    clock = _sun_clock(his)
    most = max([1, *clock.from_sunrise.values(), *clock.from_sunset.values()])
    spans = [
        (_span_words(s.anchor, s.from_minutes, s.to_minutes), s.chance) for s in his.best_spans
    ]
    return {
        "clock": clock,
        "hours": list(_HOURS),
        "most": most,
        "curve": curve(his.activity),
        "parts": whiskers(((p.part, p.chance) for p in his.by_part), 100),
        "spans": whiskers(spans, 100),
        "latest": his.visits[::-1][:12],
    }


def _sun_clock(his: When) -> SunClock:
    """Count each visit once, by the nearer of sunrise and sunset."""
    rise, sets, outside = dict.fromkeys(_HOURS, 0), dict.fromkeys(_HOURS, 0), 0
    for visit in his.visits:
        a, b = visit.minutes_from_sunrise, visit.minutes_from_sunset
        if a is None or b is None:
            outside += 1
            continue
        # The evening before and the morning after are as near as this day's own.
        a, b = (a + 720) % 1440 - 720, (b + 720) % 1440 - 720
        near, counts = (a, rise) if abs(a) <= abs(b) else (b, sets)
        if (hour := int(near // 60)) in counts:
            counts[hour] += 1
        else:
            outside += 1
    return SunClock(rise, sets, outside)


def _span_words(anchor: str, first: int, last: int) -> str:
    return f"{anchor} {first // 60:+d} to {last // 60:+d} h".replace("+0", "0").replace("-", "−")


def _about(session: Session, area: str, scope: Scope) -> dict[str, Any]:
    row = session.con.execute(
        "SELECT name, kind FROM areas_now WHERE area_id = ?", [area]
    ).fetchone()
    name, kind = row or (area, "")
    units = session.settings.units
    return {
        "area": area,
        "name": name,
        "kind": kind,
        "reach": length(scope.reach_m, session.settings),
        "meanings": _MEANINGS,
        "figure": in_words,
        "per_area": ("hectare", 1.0) if units == "metric" else ("acre", 0.40468564224),
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


def _season(request: Request, seasons: list[int]) -> int | None:
    said = request.query_params.get("season", "")
    known = said.isascii() and said.isdigit() and len(said) == 4
    return int(said) if known and int(said) in seasons else None


ROUTES: list[BaseRoute] = [get("/areas", _all), get("/areas/{area}", _one)]
