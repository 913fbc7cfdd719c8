"""Cards and cameras: receipts, what each camera did, and its clock against the sun."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.cards import listing
from camsign.clock import verbs as clocks
from camsign.clock.audit import Finding, needs_attention
from camsign.clock.audit_input import read
from camsign.clock.plot_points import ClockPoints, clock_points
from camsign.clock.proposals import Correction
from camsign.errors import UsageError
from camsign.formats.days import People
from camsign.logbook.far import Progress
from camsign.logbook.session import Session
from camsign.page import inputs
from camsign.page.app_state import AppState, desk_of
from camsign.page.areas import seasons_of
from camsign.page.cameras import STATES, STRIP_TALL, STRIP_WIDE, cameras, months
from camsign.page.jobs import Jobs
from camsign.page.routing import Named, Sent, Told, get, post, says
from camsign.page.show import render, said

_MOST_FILES = 400
_MOST_POINTS = 700


def _newest_first(card: listing.CardRow) -> tuple[int, str]:
    return -card.last.toordinal() if card.last else 0, card.camera


def _page(request: Request) -> Response:
    said = request.query_params.get("season", "")
    with desk_of(request).reading() as session:
        seasons = seasons_of(session)
        known = said.isascii() and said.isdigit() and int(said) in seasons
        season = int(said) if known else seasons[0] if seasons else None
        shown, first, last = cameras(session, season)
        cards = listing.list_cards(session)
    values = {
        "cameras": shown,
        "cards": sorted(cards, key=_newest_first),
        "seasons": seasons,
        "season": season,
        "months": months(first, last),
        "strip": (STRIP_WIDE, STRIP_TALL),
        "state_words": STATES,
    }
    return render(request, "cards.html", values)


def _one(request: Request) -> Response:
    with desk_of(request).reading() as session:
        shown = listing.show_card(session, str(request.path_params["card"]))
        known = session.con.execute(
            "SELECT DISTINCT camera FROM frame_times UNION SELECT camera FROM deployments"
            " WHERE gone IS NOT TRUE ORDER BY 1"
        ).fetchall()
        frames = [file.frame for file in shown.files[:_MOST_FILES]]
    others = [name for (name,) in known if name and name != shown.about.camera]
    values = {"shown": shown, "frames": frames, "others": others, "most": _MOST_FILES}
    return render(request, "card.html", values)


def _set_camera(session: Session, named: Named, sent: Sent) -> Told:
    camera = inputs.text(sent, "camera")
    if camera is None:
        raise UsageError("no camera was named", "choose or type whose card it is")
    done = listing.set_camera(session, named["card"], camera)
    return asdict(done), f"the card is {done.camera}’s"


# ---------------------------------------------------------------- clocks


def _judge(request: Request, _: Sent) -> Response:
    """Begin to judge all clocks; the job's result is what `_found` gives."""
    jobs: Jobs = request.app.state.jobs
    state: AppState = request.app.state.opened

    def work(progress: Progress) -> list[dict[str, Any]]:
        with state.desk.reading() as session:
            return _found(session, None, progress)

    return JSONResponse({"job": jobs.start("Checking the clocks", work).job})


def _found(
    session: Session, camera: str | None, progress: Progress | None = None
) -> list[dict[str, Any]]:
    """Give every finding with the corrections that it calls for."""
    findings = clocks.audit(session, camera, progress)
    proposed = clocks.proposals(session, findings)
    people = People(session.settings.units)
    return [_finding(f, [c for g, c in proposed if g is f], people) for f in findings]


def _finding(found: Finding, corrections: list[Correction], people: People) -> dict[str, Any]:
    return {
        "camera": found.camera,
        "deployment": found.deployment,
        "from": f"{found.clock_from:%Y-%m-%d}",
        "until": f"{found.clock_until:%Y-%m-%d}",
        "verdict": said(found.verdict),
        "ahead": _minutes(found),
        "frames": found.frames,
        "bursts": found.bursts_used,
        "why": people.prose(found.why),
        "attention": needs_attention(found),
        "proposed": [people.prose(c.reason) for c in corrections],
    }


def _minutes(found: Finding) -> str:
    e = found.offset_minutes
    if e.value is None:
        return "–"
    span = "" if e.low is None or e.high is None else f" ({e.low:.0f} to {e.high:.0f})"
    return f"{e.value:.0f}{span}"


def _plot(request: Request) -> Response:
    """Give the sun's height against the clock for one camera's stretches."""
    with desk_of(request).reading() as session:
        points = clock_points(read(session, str(request.path_params["camera"])))
    return JSONResponse({"plots": [_points(one) for one in points]})


def _points(one: ClockPoints) -> dict[str, Any]:
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
    return {"corrections": done.corrections}, f"put {camera}’s clock right by the sun"


def _judge_one(request: Request) -> Response:
    """Judge one camera's clock, once for what the logbook says now."""
    state, camera = request.app.state.opened, str(request.path_params["camera"])
    version = state.desk.version
    with state.desk.reading() as session:
        found = state.answered.give(version, ("clock", camera), lambda: _found(session, camera))
    return JSONResponse({"findings": found})


ROUTES: list[BaseRoute] = [
    get("/cards", _page),
    post("/cards/clocks", _judge),
    says("/cards/clocks/apply", _apply),
    get("/cards/clocks/{camera}", _judge_one),
    get("/cards/clocks/{camera}/plot", _plot),
    get("/cards/{card}", _one),
    says("/cards/{card}/camera", _set_camera),
]
