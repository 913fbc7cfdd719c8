"""What the page of tonight says of each stand: odds, hours and headings as people say them."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from camsign.answers.result import Figure
from camsign.logbook.settings import Settings
from camsign.page.words import People
from camsign.page.words import day as in_words
from camsign.sits.evenings import STEP_MIN
from camsign.sits.tonight import best_of
from camsign.units import format_bearing
from camsign.zones import zone

if TYPE_CHECKING:
    from collections.abc import Sequence

    from camsign.ground.drainage import Stream
    from camsign.sits.evenings import Air
    from camsign.sits.plane import Plane
    from camsign.sits.rows import StandRow
    from camsign.sits.scenes import Scene
    from camsign.sits.tonight import Known, Tonight

_SLIGHT = 0.005


def said_of(
    known: Known, answer: Tonight, scenes: Sequence[Scene], settings: Settings, now: date
) -> dict[str, Any]:
    """Give an answer as the page is sent it: words for people, numbers for the drawing."""
    by_id = {scene.place.place_id: scene for scene in scenes}
    top = best_of(answer.stands) or answer.stands[0]
    anyone = any(row.area is not None for row in answer.stands)
    moments = known.settings[0].outing.moments
    return {
        "state": "nobody" if not anyone else "out" if answer.stay_out else "sit",
        "day": day_words(answer.day, now),
        "part": answer.part,
        "sun": clock(answer.sunrise if known.morning else answer.sunset, settings),
        "verdict": answer.said,
        "todo": _todo(known, answer, anyone, top, settings),
        "link": None if anyone else {"href": "/bucks", "words": "Check the bucks' ages"},
        "steps": [clock(moment.when, settings) for moment in moments],
        "stands": [_row(row, by_id[row.stand_id], settings, known.plane) for row in answer.stands],
        "why": list(answer.why),
        "cautions": list(answer.cautions),
        "method": answer.method,
    }


def _todo(known: Known, answer: Tonight, anyone: bool, top: StandRow, settings: Settings) -> str:
    """The line below the verdict: what to do about it."""
    if not anyone and known.habits.stale is not None:
        return "Pick a day of the season that has pictures, or bring in this season's."
    if not anyone:
        return "Sort this season's pictures and put an age on each buck; until then nobody counts."
    if answer.stay_out:
        return "Turn the wind to see what would open a stand, or pick another day."
    way = f" by {top.way_in}" if top.way_in else ""
    return f"Be in by {clock(top.be_in_by, settings)}{way}."


def _row(row: StandRow, scene: Scene, settings: Settings, plane: Plane) -> dict[str, Any]:
    going = row.comes_going_deg
    return {
        "id": row.stand_id,
        "stand": row.stand,
        "area": row.area,
        "buck": row.buck,
        "odds": odds(row.any_chance.value) if row.area is not None else "can't tell",
        "range": span(row.any_chance),
        "scent": row.scent,
        "scent_odds": odds(row.scent_chance),
        "way_in": row.way_in,
        "way_in_scent": row.way_in_scent,
        "be_in_by": clock(row.be_in_by, settings),
        "until": clock(row.until, settings),
        "comes_at": clock(row.comes_at, settings) if row.comes_at else None,
        "comes_step": _step(scene, row.comes_at),
        "going": format_bearing(going) if going is not None else None,
        "from": format_bearing((going + 180) % 360) if going is not None else None,
        "going_deg": going,
        "turns": clock(row.air_turns_at, settings) if row.air_turns_at else None,
        "shade": clock(row.shade_at, settings) if row.shade_at else None,
        "tied": list(row.tied_with),
        "why": list(row.why),
        **_airs(scene, plane),
    }


def _step(scene: Scene, when: datetime | None) -> int:
    """The step of the sit at which he comes, else its middle."""
    steps = len(scene.plan.sit.airs)
    if when is None:
        return steps // 2
    minutes = (when - scene.plan.be_in_by).total_seconds() / 60
    return min(steps - 1, max(0, round(minutes / STEP_MIN)))


def _airs(scene: Scene, plane: Plane) -> dict[str, Any]:
    """The scent at each step; the ways along the slope are told once and named by their number."""
    streams: list[Stream] = []
    airs = []
    for air in scene.plan.sit.airs:
        which = _which(streams, air)
        scent = air.scent
        airs.append({
            "toward": scent.toward_deg, "half": scent.half_width_deg, "doubt": scent.doubt_deg,
            "share": air.slope_share if which is not None else 0.0, "stream": which,
        })  # fmt: skip
    lines = [plane.lat_lon(one.points).tolist() for one in streams]
    return {"airs": airs, "streams": lines}


def _which(streams: list[Stream], air: Air) -> int | None:
    if air.slope is None or len(air.slope.points) < 2:
        return None
    for i, known in enumerate(streams):
        if known is air.slope:
            return i
    streams.append(air.slope)
    return len(streams) - 1


# ---------------------------------------------------------------- numbers in words


def odds(chance: float | None) -> str:
    """A chance as people say it: `about 1 in 6`."""
    words = _one(chance)
    return f"about {words}" if words[0].isdigit() else words


def span(figure: Figure) -> str:
    """The interval of a chance: `anywhere from 1 in 20 to 1 in 3`."""
    if figure.low is None or figure.high is None:
        return "can't tell how close that is"
    low, high = _one(figure.low), _one(figure.high)
    return f"anywhere from {low} to {high}" if low != high else low


def _one(chance: float | None) -> str:
    if chance is None or chance < _SLIGHT:
        return "next to none"
    for least, words in ((0.95, "nearly certain"), (0.85, "9 in 10"), (0.71, "3 in 4")):
        if chance >= least:
            return words
    return "2 in 3" if chance >= 0.58 else f"1 in {round(1 / chance)}"


def clock(when: datetime, settings: Settings) -> str:
    """A time of day (UTC in) at the place: `4:07 PM`, or 16:07 in a metric logbook."""
    return People(settings.units).clock(when.astimezone(zone(settings.tz)))


def day_words(day: date, now: date) -> str:
    """A day as people say it: `Nov 4`, with its year where that is another."""
    return in_words(day, day.year != now.year)
