"""Tonight: which stand on which wind, by which way in.

What no wind changes is kept, so that turning the wind by hand is answered at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.logbook.folder import Folder
from camsign.logbook.moments import today
from camsign.logbook.session import Session
from camsign.page import inputs
from camsign.page.relief import relief_of, stamp
from camsign.page.routing import Asked, Named, Sent, Told, Values, asks, says
from camsign.page.things import forms
from camsign.page.tonight_parts import PARTS
from camsign.page.tonight_words import day_words, said_of
from camsign.sits.planning import next_day
from camsign.sits.review import keep_plan
from camsign.sits.tonight import Known, answer_of, known_of, scenes_of
from camsign.sits.weather import Sky, kept_sky, typed_sky
from camsign.sits.words import SPEED_MS

_MARGIN_M = 1000.0


@dataclass(frozen=True, slots=True)
class Question:
    """A day's evening or morning, and the wind that was turned to; None for the one kept."""

    day: date
    morning: bool
    sky: Sky | None


def _page(asked: Asked) -> Values:
    settings = asked.session.settings
    row = asked.session.con.execute("SELECT max(day) FROM detections").fetchone()
    now = today(settings.tz)
    last = row[0] if row and row[0] and row[0] < now - timedelta(days=30) else None
    return {
        "today": now,
        "day": next_day(settings),
        "last": last,
        "last_words": day_words(last, now) if last else "",
        "say": forms()["sit"],
        "parts": PARTS,
        "speed_unit": SPEED_MS[settings.units][0],
    }


def _answer(asked: Asked) -> Values:
    session, settings = asked.session, asked.session.settings
    now = today(settings.tz)
    question = _question(session, asked.query)
    lacking: Values | None = asked.once("lacking for tonight", lambda: _lacking(session))
    if lacking is not None:
        return lacking
    key = ("tonight", question.day, question.morning, stamp(session.folder))
    known = asked.once(key, lambda: known_of(session, question.day, question.morning))
    sky = question.sky or kept_sky(session.folder, question.day)
    shown = {"relief": _relief_of(known, session.folder)}
    try:
        scenes = scenes_of(known, sky)
    except UsageError:
        verdict = f"No wind is saved for {day_words(question.day, now)}."
        todo = "Turn the ring to where the forecast says it comes from, and set its speed."
        return {"state": "wind", "verdict": verdict, "todo": todo, **shown}
    said = said_of(known, answer_of(known, scenes), scenes, settings, now)
    # The wind at sunset, or at sunrise, as the ring shows it.
    at = sky.wind(known.sun.anchor(known.morning))
    wind = at and {"from": at.from_deg, "speed_ms": at.speed_ms, "cloud": at.cloud}
    return {**said, "wind": wind, **shown}


def _plan(session: Session, named: Named, sent: Sent) -> Told:
    """Keep what is said of the stand one goes to, for the review."""
    stand = sent.get("stand")
    if not isinstance(stand, str):
        raise UsageError("which stand?", "load the page again")
    question = _question(session, {k: v for k, v in sent.items() if isinstance(v, str)})
    known = known_of(session, question.day, question.morning)
    sky = question.sky or kept_sky(session.folder, question.day)
    row = keep_plan(session, answer_of(known, scenes_of(known, sky)), sky, stand)
    return {"stand": row.stand}, ""


def _question(session: Session, sent: Mapping[str, str]) -> Question:
    settings = session.settings
    morning = inputs.one_of(sent, "part", "evening", "morning") == "morning"
    day = inputs.day(sent, "day") or next_day(settings, morning)
    bearing, speed = inputs.number(sent, "from"), inputs.number(sent, "speed")
    if bearing is None and speed is None:
        return Question(day, morning, None)
    cloud = inputs.number(sent, "cloud")
    if cloud is not None and not 0 <= cloud <= 100:
        raise UsageError("cloud is not between 0 and 100 percent", "choose one of the list")
    turned = None if bearing is None else f"{bearing % 360:g}"
    pace = None if speed is None else speed * SPEED_MS[settings.units][1]
    sky = typed_sky(turned, pace, None if cloud is None else cloud / 100)
    return Question(day, morning, sky)


def _lacking(session: Session) -> Values | None:
    """What must be on the map before anything can be said, and where to put it there."""
    row = session.con.execute(
        "SELECT (SELECT count(*) FROM places WHERE gone IS NOT TRUE AND kind = 'stand'"
        " AND shape IS NOT NULL), (SELECT count(*) FROM areas_now WHERE kind = 'bedding')"
    ).fetchone()
    stands, beds = row or (0, 0)
    if stands and beds:
        return None
    what = "No stand is on the map yet." if not stands else "No bedding area is on the map yet."
    todo = (
        "Add your stands, and the ways in to them." if not stands else "Draw where the bucks bed."
    )
    link = {"href": "/map", "words": "Open the map"}
    return {"state": "lacking", "verdict": what, "todo": todo, "link": link, "relief": None}


# ---------------------------------------------------------------- the ground


def _box(known: Known) -> tuple[float, float, float, float]:
    """Stands, beds and ways in, and what lies around them [m on the plane]."""
    points = [(one.place.stand.x, one.place.stand.y) for one in known.settings]
    points += [(area.bed.x, area.bed.y) for area in known.habits.areas.values()]
    for one in known.settings:
        for entry in one.entries:
            if entry.way is not None:
                points += [(float(x), float(y)) for x, y in entry.way.points]
    xs, ys = zip(*points, strict=True)
    return (
        min(xs) - _MARGIN_M, min(ys) - _MARGIN_M, max(xs) + _MARGIN_M, max(ys) + _MARGIN_M,
    )  # fmt: skip


def _relief_of(known: Known, folder: Folder) -> dict[str, Any] | None:
    return None if known.terrain is None else relief_of(folder, known.plane, _box(known))


ROUTES: list[BaseRoute] = [
    asks("/tonight", _page, "tonight.html"),
    asks("/tonight/answer", _answer),
    says("/tonight/plan", _plan),
]
