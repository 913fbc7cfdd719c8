"""The sorting page: strips to look through, and saying who or what is in them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict

from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.answers.reach import reach_of
from camsign.answers.scope import scope_of
from camsign.errors import UsageError
from camsign.logbook.edits import Subject
from camsign.logbook.session import Session
from camsign.page import inputs, lists
from camsign.page.app_state import AppState, desk_of
from camsign.page.likely import likely_bucks
from camsign.page.lists import FIRST_STRIPS, MOST_STRIPS, Filter, Lists
from camsign.page.portrait import faces
from camsign.page.routing import Named, Sent, Told, get, post, says
from camsign.page.show import render
from camsign.tags.bucks import BuckSaid, add_buck, names
from camsign.tags.frames import Chosen, Skipped
from camsign.tags.tagging import buck_subject, subject_of, tag, untag
from camsign.tags.vocabulary import words
from camsign.units import counted, parse_bearing

_BIG_BODY = 4 << 20
_COUNTED = re.compile(r"(\d{1,3})\s+(\S.*)")


def _page(request: Request) -> Response:
    with desk_of(request).reading() as session:
        cameras = session.con.execute(
            "SELECT camera, count(*) AS frames FROM page.strips GROUP BY camera"
            " ORDER BY lower(camera)"
        ).fetchall()
        areas = session.con.execute(
            "SELECT area_id, name FROM areas_now ORDER BY lower(name)"
        ).fetchall()
        bucks = sorted(names(session).items(), key=lambda b: b[1].casefold())
    values = {"cameras": cameras, "areas": areas, "bucks": bucks, "empty": not cameras}
    return render(request, "sort.html", values)


def _list(request: Request) -> Response:
    q = request.query_params
    with desk_of(request).reading(settled=True) as session:
        parts = lists.listed(session, _wanted(session, q))
        begun = lists.strips(session, parts[0].strips[:FIRST_STRIPS]) if parts else []
    return JSONResponse(
        {
            "list": _lists(request).keep(parts),
            "parts": {p.part: {"strips": len(p.strips), "frames": p.frames} for p in parts},
            "begun": [asdict(s) for s in begun],
        }
    )


def _wanted(session: Session, q: QueryParams) -> Filter:
    return Filter(
        cameras=q.getlist("camera") or None,
        deployments=_around(session, q["area"]) if q.get("area") else None,
        buck=q.get("buck") or None,
        first=inputs.day(q, "from"),
        last=inputs.day(q, "to"),
        light=inputs.one_of(q, "light", "colour", "infrared", "dark"),
        tagged=inputs.one_of(q, "tagged", "no", "partly", "yes"),
        doubt=inputs.one_of(q, "doubt", "time", "unsure"),
        oldest=q.get("order") == "oldest",
    )


def _around(session: Session, area: str) -> list[str]:
    """Give the deployments in reach of an area."""
    return list(reach_of(session, scope_of(session, areas=[area])).deployments)


def _nearest(request: Request) -> Response:
    """Give where in a list the visit nearest to a day is."""
    parts, day = _kept(request), inputs.day(request.query_params, "day")
    if parts is None:
        return _let_go()
    if day is None:
        raise UsageError("no day was given", "choose one")
    with desk_of(request).reading() as session:
        found = lists.nearest(session, parts, day)
    return JSONResponse({"part": found[0], "at": found[1]} if found else {"part": None})


def _done(request: Request) -> Response:
    with desk_of(request).reading(settled=True) as session:
        found = lists.cards_done(session)
    return JSONResponse({"cards": [asdict(one) for one in found]})


def _faces(request: Request) -> Response:
    """Give the frame that shows each buck's head."""
    with desk_of(request).reading() as session:
        return JSONResponse({"faces": faces(session)})


def _kept(request: Request) -> list[lists.Part] | None:
    return _lists(request).find(request.query_params.get("list", ""))


def _let_go() -> Response:
    return JSONResponse({"what": "this list was let go", "remedy": "load it again"}, 410)


def _strips(request: Request) -> Response:
    parts = _kept(request)
    if parts is None:
        return _let_go()
    at, count = (_whole(request, name) for name in ("at", "count"))
    name = request.query_params.get("part", "")
    order = next((p.strips for p in parts if p.part == name), [])
    with desk_of(request).reading() as session:
        found = lists.strips(session, order[at : at + min(count, MOST_STRIPS)])
    return JSONResponse({"strips": [asdict(s) for s in found]})


def _whole(request: Request, name: str) -> int:
    text = request.query_params.get(name, "0")
    if not (text.isascii() and text.isdigit() and len(text) < 9):
        raise UsageError(f"{name} is no whole number", "load the page again")
    return int(text)


def _tags_of(request: Request, sent: Sent) -> Response:
    with desk_of(request).reading() as session:
        found = lists.tags_of(session, inputs.frames(sent))
    return JSONResponse({"frames": {f: [asdict(t) for t in tags] for f, tags in found.items()}})


def _likely(request: Request) -> Response:
    strip, last = request.query_params.get("strip", ""), request.query_params.getlist("last")
    with desk_of(request).reading() as session:
        found = likely_bucks(session, strip, last[:9])
    state: AppState = request.app.state.opened
    slots = state.digits.place([one.buck_id for one in found])
    return JSONResponse({"likely": [asdict(one) for one in found], "slots": slots})


def _words(request: Request) -> Response:
    with desk_of(request).reading() as session:
        bucks = sorted(names(session).items(), key=lambda b: b[1].casefold())
    known = [{"buck_id": buck_id, "buck": name} for buck_id, name in bucks]
    return JSONResponse({"bucks": known, "words": words()})


def _tag(session: Session, _: Named, sent: Sent) -> Told:
    """Say the tag, and first the buck where he is new: both are one act."""
    new, travel = inputs.text(sent, "new_buck"), inputs.text(sent, "travel")
    frames = inputs.frames(sent)
    buck = add_buck(session, new) if new else None
    subject, count = _subject(session, sent, buck)
    bearing = parse_bearing(travel) if travel else None
    sure = inputs.one_of(sent, "sure", "sure", "unsure")
    done = tag(session, subject, _chosen(session, frames), count, bearing, sure)
    name = buck.buck if buck else done.subject
    answer = {"tagged": done.tagged, "skipped": len(done.skipped), "subject": name}
    answer["buck_id"] = buck.buck_id if buck else None
    return answer, f"{name}: {counted(done.tagged, 'picture')}"


def _chosen(session: Session, frames: Sequence[str]) -> Chosen:
    """Find frames by their whole ids, as pages send them; quicker than by any beginning."""
    rows = session.con.execute(
        "SELECT frame FROM page.strips WHERE frame IN (SELECT unnest(?::VARCHAR[]))", [frames]
    ).fetchall()
    known = {frame for (frame,) in rows}
    lost = [Skipped(f, "no such picture in this logbook") for f in frames if f not in known]
    return Chosen(list(dict.fromkeys(f for f in frames if f in known)), lost)


def _subject(session: Session, sent: Sent, buck: BuckSaid | None) -> tuple[Subject, int]:
    """Give the subject and number of what was said, such as `Split Brow`, `doe` or `3 does`."""
    said = inputs.text(sent, "said") or ""
    count = int(inputs.number(sent, "count") or 1)
    if buck:
        return buck_subject(buck.buck_id), count
    if known := inputs.text(sent, "buck_id"):
        return subject_of(session, known), count
    counted = _COUNTED.fullmatch(said)
    if counted and said.casefold() not in (n.casefold() for n in names(session).values()):
        said, count = counted[2], int(counted[1])
    details = (inputs.text(sent, name) for name in ("species", "sex", "stage"))
    return subject_of(session, said, *details), count


def _untag(session: Session, _: Named, sent: Sent) -> Told:
    done = untag(session, _chosen(session, inputs.frames(sent)))
    return {"tagged": done.tagged}, f"tags taken off {counted(done.tagged, 'picture')}"


def _lists(request: Request) -> Lists:
    state: AppState = request.app.state.opened
    return state.lists


ROUTES: list[BaseRoute] = [
    get("/sort", _page),
    get("/sort/list", _list),
    get("/sort/strips", _strips),
    post("/sort/frames", _tags_of, _BIG_BODY),
    get("/sort/likely", _likely),
    get("/sort/nearest", _nearest),
    get("/sort/done", _done),
    get("/sort/faces", _faces),
    get("/sort/words", _words),
    says("/sort/tag", _tag, _BIG_BODY),
    says("/sort/untag", _untag, _BIG_BODY),
]
