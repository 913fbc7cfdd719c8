"""What the page of tonight says of each stand: odds, hours and headings as people say them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from camsign.answers.odds import about
from camsign.arrays import Floats
from camsign.formats.days import People
from camsign.formats.days import day as in_words
from camsign.formats.interval import CANNOT_TELL
from camsign.logbook.settings import Settings
from camsign.sits.evenings import STEP_MIN, Air
from camsign.sits.habits import Odds
from camsign.sits.plane import Plane
from camsign.sits.rows import StandRow, chances, old_pictures
from camsign.sits.scenes import Scene
from camsign.sits.tonight import Known, Tonight, best_of
from camsign.sits.verdict import close_told, close_words
from camsign.sits.words import clock, odds, range_in_words, scent_words
from camsign.units import compass_word, format_bearing, upper_first


def said_of(
    known: Known, answer: Tonight, scenes: Sequence[Scene], settings: Settings, now: date
) -> dict[str, Any]:
    """Give an answer as the page is sent it: words for people, numbers for the drawing."""
    by_id = {scene.place.place_id: scene for scene in scenes}
    people = People(settings.units)
    top = best_of(answer.stands) or answer.stands[0]
    anyone = any(row.area is not None for row in answer.stands)
    moments = known.settings[0].outing.moments
    return {
        "state": "nobody" if not anyone else "out" if answer.stay_out else "sit",
        "day": day_words(answer.day, now),
        "part": answer.part,
        "sun": clock(answer.sunrise if known.morning else answer.sunset, settings),
        "verdict": people.prose(answer.headline or answer.said),
        "rivals": people.prose(answer.rivals),
        "top": top.stand_id if anyone else None,
        "todo": _todo(known, answer, anyone, top, settings),
        "because": _because(known, top, by_id[top.stand_id], settings) if anyone else "",
        "link": None if anyone else _link(known),
        "ground": known.terrain is not None,
        "steps": [clock(moment.when, settings) for moment in moments],
        "stands": [
            _row(row, by_id[row.stand_id], answer.sunset, settings, known.plane)
            for row in answer.stands
        ],
        "why": [people.prose(line) for line in answer.why if line != _old(known)],
        "cautions": list(answer.cautions),
        "method": answer.method,
    }


def _old(known: Known) -> str | None:
    """What the line below the verdict says already, with its link."""
    return None if known.habits.stale is None else old_pictures(known.habits.stale)


def _link(known: Known) -> dict[str, str]:
    """Where what is lacking for an answer is brought in."""
    if known.habits.to_sort is not None:
        return {"href": "/sort", "words": "Sort them"}
    if known.habits.stale is not None:
        return {"href": "/woods", "words": "Load a card"}
    return {"href": "/bucks", "words": "Check the bucks' ages"}


def _todo(known: Known, answer: Tonight, anyone: bool, top: StandRow, settings: Settings) -> str:
    """The line below the verdict: what to do about it."""
    if not anyone and known.habits.stale is not None:
        return "Or pick a day that has pictures."
    if not anyone:
        return ""
    if answer.stay_out:
        return "Turn the wind to see what would open a stand, or pick another day."
    soon = clock(top.be_in_by, settings)
    close = close_told(top, settings.units)
    if top.way_in is None:
        return f"Be in by {soon}. Draw your way in on the map, and its wind is judged too.{close}"
    told = scent_words(top.way_in_scent, top.way_in_scent_chance)
    scent = "stays off him" if told == "clean" else f"is {told}"
    walk = f"; your scent on the walk in {scent}" if told else ""
    if told not in (None, "clean"):
        walk += f": {chances(top.way_in_scent_chance)} it spoils the sit"
    return f"Go in by {top.way_in} and be there by {soon}{walk}.{close}"


def _because(known: Known, top: StandRow, scene: Scene, settings: Settings) -> str:
    """The reason in a breath: who beds where, when and whence he comes, where your scent goes."""
    if top.buck is None:
        return ""
    beds = next(
        (one for one in known.habits.odds if (one.area_id, one.buck) == (top.area_id, top.buck)),
        None,
    )
    if known.habits.watched.get(top.area_id or ""):
        said = _bedded(top, beds) if beds else ""
    else:
        said = f"{top.buck} may bed at {top.area}, where no camera has looked"
    if top.comes_at is not None and top.comes_going_deg is not None:
        side = compass_word((top.comes_going_deg + 180) % 360)
        said += (
            f". If he's there, look for him around {clock(top.comes_at, settings)} from the {side}"
        )
    toward = scene.airs[_step(scene, top.comes_at)].scent.toward_deg
    drift = f"Your scent drifts {compass_word(toward)}" if toward is not None else "The air swirls"
    reaches = f"{chances(top.scent_chance)} it reaches his bed or trail"
    return f"{said}. {drift}: {reaches}."


# Odds of this day within this factor of how often he bedded there lately need no word of it; ours.
_ALIKE = 1.5


def _bedded(top: StandRow, beds: Odds) -> str:
    """Say the odds that he beds there on the day, and why they aren't how often he did lately."""
    said = f"{upper_first(chances(beds.chance.value))} that {top.buck} is bedded at {top.area}"
    now, often = beds.chance.value or 0.0, beds.lately.value or 0.0
    if often / _ALIKE <= now <= often * _ALIKE:
        return said
    days = "this season" if beds.whole else "over the last three weeks"
    return f"{said}: he was there {about(often, 'day')} {days}, but his latest days count most"


def _row(
    row: StandRow, scene: Scene, sunset: datetime, settings: Settings, plane: Plane
) -> dict[str, Any]:
    going, morning = row.comes_going_deg, scene.outing.sit.morning
    # After sunset all is in shade, and before sunrise.
    shade = row.shade_at if row.shade_at and row.shade_at < sunset and not morning else None
    return {
        "id": row.stand_id,
        "stand": row.stand,
        "area": row.area_id,
        "who": f"{row.buck}, {'headed in to' if morning else 'out of'} {row.area}"
        if row.buck
        else None,
        "odds": odds(row.any_chance.value) if row.area is not None else CANNOT_TELL,
        "range": range_in_words(row.any_chance) if row.area is not None else "",
        "scent": row.scent,
        "scent_words": scent_words(row.scent, row.scent_chance),
        "scent_odds": chances(row.scent_chance),
        "way_in": row.way_in,
        "way_in_scent": row.way_in_scent,
        "way_in_words": scent_words(row.way_in_scent, row.way_in_scent_chance),
        "close": upper_first(close_words(row, settings.units) or ""),
        "be_in_by": clock(row.be_in_by, settings),
        "until": clock(row.until, settings),
        "comes_at": clock(row.comes_at, settings) if row.comes_at else None,
        "comes_step": _step(scene, row.comes_at),
        "going": format_bearing(going) if going is not None else None,
        "from": format_bearing((going + 180) % 360) if going is not None else None,
        "going_deg": going,
        "turns": clock(row.air_turns_at, settings) if row.air_turns_at else None,
        "shade": clock(shade, settings) if shade else None,
        "tied": list(row.tied_with),
        "why": People(settings.units).lines(row.why),
        **_airs(scene, plane),
    }


def _step(scene: Scene, when: datetime | None) -> int:
    """The step of the sit at which he comes, else its middle."""
    steps = len(scene.airs)
    if when is None:
        return steps // 2
    minutes = (when - scene.outing.be_in_by).total_seconds() / 60
    return min(steps - 1, max(0, round(minutes / STEP_MIN)))


def _airs(scene: Scene, plane: Plane) -> dict[str, Any]:
    """The scent at each step; the ways along the slope are told once and named by their number."""
    streams: list[Floats] = []
    airs = []
    for air in scene.airs:
        which = _which(streams, air)
        scent = air.scent
        airs.append({
            "toward": scent.toward_deg, "half": scent.half_width_deg, "doubt": scent.doubt_deg,
            "share": air.slope_share if which is not None else 0.0, "stream": which,
        })  # fmt: skip
    lines = [plane.lat_lon(one).tolist() for one in streams]
    return {"airs": airs, "streams": lines}


def _which(streams: list[Floats], air: Air) -> int | None:
    if air.slope is None or len(air.slope) < 2:
        return None
    for i, known in enumerate(streams):
        if known is air.slope:
            return i
    streams.append(air.slope)
    return len(streams) - 1


def day_words(day: date, now: date) -> str:
    """A day as people say it: `Nov 4`, with its year where that is another."""
    return in_words(day, day.year != now.year)
