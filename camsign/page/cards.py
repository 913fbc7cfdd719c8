"""Cards and cameras: receipts, what each camera did, and its clock against the sun."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import asdict

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.cards import listing
from camsign.clock import verbs as clocks
from camsign.clock.audit import Finding, needs_attention
from camsign.clock.audit_input import read
from camsign.clock.by_names import open_hours
from camsign.clock.plot_points import ClockPoints, clock_points
from camsign.clock.proposals import what_it_does
from camsign.clock.rules import ClockFix
from camsign.clock.verdicts import (
    DISAGREES,
    FITS,
    HANG_FIRST,
    IMPOSSIBLE,
    OFF,
    RESET,
    RIGHT,
    UNCLEAR,
    WIDEST_MIN,
    offset_words,
    rounded_words,
    width,
)  # fmt: skip
from camsign.errors import UsageError
from camsign.formats.days import People, minutes_words
from camsign.logbook.far import Progress
from camsign.logbook.session import Session
from camsign.page import inputs
from camsign.page.app_state import opened
from camsign.page.cameras import STATES, STRIP_TALL, STRIP_WIDE, cameras, months
from camsign.page.jobs import Jobs
from camsign.page.routing import Asked, Named, Sent, Told, Values, asks, post, says
from camsign.page.show import said
from camsign.page.spans import seasons_of
from camsign.units import counted, parse_when, upper_first

_MOST_FILES = 400
_MOST_POINTS = 700


def _newest_first(card: listing.CardRow) -> tuple[int, str]:
    return -card.taken_in.toordinal(), card.camera


def _page(asked: Asked) -> Values:
    said, session = asked.query.get("season", ""), asked.session
    seasons = seasons_of(session)
    known = said.isascii() and said.isdigit() and int(said) in seasons
    season = int(said) if known else seasons[0] if seasons else None
    shown, first, last = cameras(session, season)
    return {
        "cameras": shown,
        "cards": sorted(listing.list_cards(session), key=_newest_first),
        "seasons": seasons,
        "season": season,
        "months": months(first, last),
        "strip": (STRIP_WIDE, STRIP_TALL),
        "state_words": STATES,
    }


def _one(asked: Asked) -> Values:
    shown = listing.show_card(asked.session, asked.named["card"])
    known = asked.session.con.execute(
        "SELECT DISTINCT camera FROM frame_times UNION SELECT camera FROM deployments"
        " WHERE gone IS NOT TRUE ORDER BY 1"
    ).fetchall()
    others = [name for (name,) in known if name and name != shown.about.camera]
    frames = [file.frame for file in shown.files[:_MOST_FILES]]
    return {"shown": shown, "frames": frames, "others": others, "most": _MOST_FILES}


def _set_camera(session: Session, named: Named, sent: Sent) -> Told:
    camera = inputs.text(sent, "camera")
    if camera is None:
        raise UsageError("no camera was named", "choose or type whose card it is")
    done = listing.set_camera(session, named["card"], camera)
    return asdict(done), ". ".join((f"the card is {done.camera}'s", *done.doubts))


# ---------------------------------------------------------------- clocks


def _judge(request: Request, _: Sent) -> Response:
    """Begin to judge all clocks; the job's result is what `_found` gives."""
    jobs: Jobs = request.app.state.jobs
    state = opened(request)

    def work(progress: Progress) -> list[Values]:
        with state.desk.reading() as session:
            return _found(session, None, progress)

    return JSONResponse({"job": jobs.start("Checking the clocks", work).job})


def _found(session: Session, camera: str | None, progress: Progress | None = None) -> list[Values]:
    """Give every finding with the corrections that it calls for."""
    findings = clocks.audit(session, camera, progress)
    proposed = clocks.proposals(session, findings)
    people, hours = People(session.settings.units), open_hours(session, camera)
    told = (
        (f, [c for g, c in proposed if g is f], hours.get(f.deployment or "")) for f in findings
    )
    fixed = {c.deployment or c.camera for c in clocks.corrections(session, camera)}
    return [_finding(*about, people, fixed) for about in told]


def _finding(
    found: Finding,
    corrections: list[ClockFix],
    hour: str | None,
    people: People,
    fixed: Container[str] = (),
) -> Values:
    why = people.prose(_by_the_light(found))
    if found.verdict == RIGHT and (found.deployment in fixed or found.camera in fixed):
        why += ", after your fix"
    does = [upper_first(people.prose(what_it_does(found, c))) for c in corrections]
    return {
        "camera": found.camera,
        "deployment": found.deployment,
        "from": f"{found.clock_from:%Y-%m-%d}",
        "until": f"{found.clock_until:%Y-%m-%d}",
        "shown": f"{found.clock_from:%Y-%m-%dT%H:%M:%S}",
        "whole": found.whole,
        "ends": found.ends[0] if found.ends else None,
        "verdict": said(found.verdict),
        "frames": found.frames,
        "bursts": found.bursts_used,
        "why": f"{why}; {hour}" if hour else why,
        "attention": needs_attention(found),
        "proposed": does,
        "remedy": _remedy(found),
        "up_from": found.up_from and f"{found.up_from:%Y-%m-%d}",
    }


def _remedy(found: Finding) -> str:
    """Ask about the dates where they and the clock disagree: the page has the ways out."""
    if found.verdict != DISAGREES:
        return found.remedy
    return f"Was the camera up {'since' if found.up_from else 'until'} then, or is the clock off?"


def _by_the_light(found: Finding) -> str:
    """Say why, and by how much the clock is off by the light, with its interval."""
    ahead = found.offset_minutes
    why = f"the clock is {rounded_words(ahead)}" if found.verdict == OFF else found.why
    before, first, command = why.partition(HANG_FIRST)  # the terminal's; here it is a button
    why = f"{before}{first}on the map, Hang a camera" if command else why
    if found.verdict in (RESET, IMPOSSIBLE) or (
        found.verdict == UNCLEAR and width(ahead) <= WIDEST_MIN
    ):
        return why
    if ahead.value is None or ahead.low is None or ahead.high is None:
        return why
    head, _, ends = offset_words(ahead).partition(" (")
    if found.verdict == OFF:
        head = f"{minutes_words(round(ahead.value))} by the light"
    if found.verdict == RIGHT:
        why = why.replace(FITS, "right")
    return f"{why} ({head}; {ends}"


def _plot(asked: Asked) -> Values:
    """Give the sun's height against the clock for one camera's stretches."""
    points = clock_points(read(asked.session, asked.named["camera"]))
    return {"plots": [_points(one) for one in points]}


def _points(one: ClockPoints) -> Values:
    step = max(1, len(one.light) // _MOST_POINTS)
    names = ("hours_before", "height_before", "hours_after", "height_after")
    cut = {name: [round(float(v), 2) for v in getattr(one, name)[::step]] for name in names}
    f = one.finding
    return {
        "deployment": f.deployment,
        "from": f"{f.clock_from:%Y-%m-%d}",
        "until": f"{f.clock_until:%Y-%m-%d}",
        "verdict": f.verdict,
        "light": [int(v) for v in one.light[::step]],
        **cut,
    }


def _apply(session: Session, _: Named, sent: Sent) -> Told:
    """Note the corrections that the audit calls for, of one deployment or of all of a camera."""
    camera, deployment = inputs.text(sent, "camera"), inputs.text(sent, "deployment")
    if camera is None:
        raise UsageError("whose clock?", "load the page again")
    found = clocks.audit(session, camera)
    wanted = [f for f in found if deployment in (None, f.deployment)]
    done = clocks.apply(session, wanted)
    if not done.corrections:
        raise UsageError(f"nothing of {camera}'s clock needs fixing", "check it again")
    return {"corrections": done.corrections}, f"put {camera}'s clock right by the sun"


def _set(session: Session, _: Named, sent: Sent) -> Told:
    """Set a clock by one pair of times, as `clock set` does: of a deployment, of two pictures and
    all between them on their card, or of the days it showed."""
    camera, shown, true, deployment, first, last, start, stop = (
        inputs.text(sent, name)
        for name in ("camera", "shown", "true", "deployment", "first", "last", "from", "until")
    )
    if camera is None or shown is None or true is None:
        raise UsageError("a clock is set by what it showed and the true time", "give both")
    span = [parse_when(said) if said else None for said in (start, stop)]
    pairs = [(shown, parse_when(true))]
    done = clocks.set_clock(
        session, camera, pairs, deployment=deployment, start=span[0], stop=span[1],
        frames=(first, last),
    )  # fmt: skip
    many = counted(done.frames, "picture")
    return {"clock_fix": done.clock_fix}, f"Fixed {done.camera}'s clock for {many}"


def _judge_one(asked: Asked) -> Values:
    """Judge one camera's clock, once for what the logbook says now."""
    camera = asked.named["camera"]
    found = asked.once(("clock", camera), lambda: _found(asked.session, camera))
    return {"findings": found}


ROUTES: list[BaseRoute] = [
    asks("/cards", _page, "cards.html"),
    post("/cards/clocks", _judge),
    says("/cards/clocks/apply", _apply),
    says("/cards/clocks/set", _set),
    asks("/cards/clocks/{camera}", _judge_one),
    asks("/cards/clocks/{camera}/plot", _plot),
    asks("/cards/{card}", _one, "card.html"),
    says("/cards/{card}/camera", _set_camera),
]
