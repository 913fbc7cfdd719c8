"""The sorting page: strips to look through, and saying who or what is in them."""

from __future__ import annotations

import re
from dataclasses import asdict

from starlette.datastructures import QueryParams
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.answers.reach import reach_of
from camsign.answers.scope import scope_of
from camsign.errors import UsageError
from camsign.logbook.named import known_bucks
from camsign.logbook.session import Session
from camsign.page import inputs, lists
from camsign.page.likely import likely_bucks
from camsign.page.lists import FIRST_STRIPS, MOST_STRIPS, Filter
from camsign.page.portrait import faces
from camsign.page.routing import Asked, Named, Sent, Told, Values, asks, says
from camsign.page.rows import dicts
from camsign.tags.bucks import add_buck
from camsign.tags.frames import Chosen, Skipped
from camsign.tags.tagging import buck_subject, subject_of, tag, untag
from camsign.tags.vocabulary import words
from camsign.units import counted, parse_bearing

_BIG_BODY = 4 << 20
_MOST_FRAMES = 20_000
_COUNTED = re.compile(r"(\d{1,3})\s+(\S.*)")


def _page(asked: Asked) -> Values:
    con = asked.session.con
    cameras = con.execute(
        "SELECT camera, count(*) AS frames FROM page.strips GROUP BY camera ORDER BY lower(camera)"
    ).fetchall()
    areas = con.execute("SELECT area_id, name FROM areas_now ORDER BY lower(name)").fetchall()
    bucks = _by_name(asked.session)
    many = [(camera, f"{camera} ({frames})") for camera, frames in cameras]
    return {"cameras": many, "areas": areas, "bucks": bucks, "empty": not cameras}


def _by_name(session: Session) -> list[tuple[str, str]]:
    """Give ids and names of the bucks, in the order of names."""
    return sorted(known_bucks(session).names.items(), key=lambda b: b[1].casefold())


def _list(asked: Asked) -> Values:
    parts = lists.listed(asked.session, _wanted(asked.session, asked.query))
    begun = lists.strips(asked.session, parts[0].strips[:FIRST_STRIPS]) if parts else []
    return {
        "list": asked.state.lists.keep(parts),
        "parts": {p.part: {"strips": len(p.strips), "frames": p.frames} for p in parts},
        "begun": begun,
    }


def _wanted(session: Session, q: QueryParams) -> Filter:
    around = reach_of(session, scope_of(session, areas=[q["area"]])) if q.get("area") else None
    return Filter(
        cameras=q.getlist("camera") or None,
        deployments=list(around.deployments) if around else None,
        buck=q.get("buck") or None,
        first=inputs.day(q, "from"),
        last=inputs.day(q, "to"),
        light=inputs.one_of(q, "light", "colour", "infrared", "dark"),
        tagged=inputs.one_of(q, "tagged", "no", "partly", "yes"),
        doubt=inputs.one_of(q, "doubt", "time", "unsure"),
        oldest=q.get("order") == "oldest",
    )


def _nearest(asked: Asked) -> Values | Response:
    """Give where in a list the visit nearest to a day is."""
    parts, day = _kept(asked), inputs.day(asked.query, "day")
    if parts is None:
        return _let_go()
    if day is None:
        raise UsageError("no day was given", "choose one")
    found = lists.nearest(asked.session, parts, day)
    return {"part": found[0], "at": found[1]} if found else {"part": None}


def _kept(asked: Asked) -> list[lists.Part] | None:
    return asked.state.lists.find(asked.query.get("list", ""))


def _let_go() -> Response:
    return JSONResponse({"what": "this list was let go", "remedy": "load it again"}, 410)


def _strips(asked: Asked) -> Values | Response:
    parts = _kept(asked)
    if parts is None:
        return _let_go()
    at, count = (_whole(asked.query, name) for name in ("at", "count"))
    name = asked.query.get("part", "")
    order = next((p.strips for p in parts if p.part == name), [])
    found = lists.strips(asked.session, order[at : at + min(count, MOST_STRIPS)])
    return {"strips": found}


def _whole(q: QueryParams, name: str) -> int:
    text = q.get(name, "0")
    if not (text.isascii() and text.isdigit() and len(text) < 9):
        raise UsageError(f"{name} is no whole number", "load the page again")
    return int(text)


def _tags(asked: Asked) -> Values:
    """Give what stands on each of these frames, also on those with nothing."""
    chosen = _chosen(asked.session, asked.sent)
    return {"frames": lists.tags_of(asked.session, chosen.frames)}


def _likely(asked: Asked) -> Values:
    strip, last = asked.query.get("strip", ""), asked.query.getlist("last")
    found = likely_bucks(asked.session, strip, last[:9])
    slots = asked.state.digits.place([one.buck_id for one in found])
    return {"likely": [asdict(one) for one in found], "slots": slots}


def _words(asked: Asked) -> Values:
    known = [{"buck_id": buck_id, "buck": name} for buck_id, name in _by_name(asked.session)]
    return {"bucks": known, "words": words()}


def _tag(session: Session, _: Named, sent: Sent) -> Told:
    """Say the tag, and first the buck where he is new: both are one act."""
    new, travel = inputs.text(sent, "new_buck"), inputs.text(sent, "travel")
    chosen, bearing = _chosen(session, sent), parse_bearing(travel) if travel else None
    sure = inputs.one_of(sent, "sure", "sure", "unsure")
    said = inputs.text(sent, "buck_id") or inputs.text(sent, "said") or ""
    count = int(inputs.number(sent, "count") or 1)
    if (counted_ := _COUNTED.fullmatch(said)) and said.casefold() not in map(
        str.casefold, known_bucks(session).names.values()
    ):
        count, said = int(counted_[1]), counted_[2]  # such as `3 does`
    buck = add_buck(session, new) if new else None
    details = (inputs.text(sent, name) for name in ("species", "sex", "stage"))
    subject = buck_subject(buck.buck_id) if buck else subject_of(session, said, *details)
    done = tag(session, subject, chosen, count, bearing, sure)
    name = buck.buck if buck else done.subject
    answer = {"tagged": done.tagged, "skipped": len(done.skipped), "subject": name}
    answer["buck_id"] = buck.buck_id if buck else None
    return answer, f"{name}: {counted(done.tagged, 'picture')}"


def _chosen(session: Session, sent: Sent) -> Chosen:
    """Find the frames that were sent, by their whole ids; quicker than by any beginning.

    Raises UsageError: none, too many, or no texts.
    """
    frames = sent.get("frames")
    if not isinstance(frames, list) or not all(isinstance(f, str) for f in frames):
        raise UsageError("no frames were named", "load the page again")
    if len(frames) > _MOST_FRAMES:
        raise UsageError(
            f"{len(frames)} frames at once are too many", f"take {_MOST_FRAMES} or less"
        )
    rows = session.con.execute(
        "SELECT frame FROM page.strips WHERE frame IN (SELECT unnest(?::VARCHAR[]))", [frames]
    ).fetchall()
    known = {frame for (frame,) in rows}
    lost = [Skipped(f, "no such picture in this logbook") for f in frames if f not in known]
    return Chosen(list(dict.fromkeys(f for f in frames if f in known)), lost)


def _untag(session: Session, _: Named, sent: Sent) -> Told:
    done = untag(session, _chosen(session, sent))
    return {"tagged": done.tagged}, f"tags taken off {counted(done.tagged, 'picture')}"


ROUTES: list[BaseRoute] = [
    asks("/sort", _page, "sort.html"),
    asks("/sort/list", _list, settled=True),
    asks("/sort/strips", _strips),
    asks("/sort/frames", _tags, body=_BIG_BODY),
    asks("/sort/likely", _likely),
    asks("/sort/nearest", _nearest),
    asks("/sort/done", lambda q: {"cards": dicts(q.session.con, "cards_done")}, settled=True),
    asks("/sort/faces", lambda asked: {"faces": faces(asked.session)}),
    asks("/sort/words", _words),
    says("/sort/tag", _tag, _BIG_BODY),
    says("/sort/untag", _untag, _BIG_BODY),
]
