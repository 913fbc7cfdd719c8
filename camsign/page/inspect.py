"""Looking closer: facts of one frame, reference pictures beside it, the ruler."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.page import inputs
from camsign.page.app_state import desk_of
from camsign.page.routing import Named, Sent, Told, get, says
from camsign.stats.estimate import Estimate
from camsign.tags.measuring import (
    INCH_M,
    Yardstick,
    checked_yardstick,
    drop_measurement,
    measure_spread,
    spread,
    usual_yardstick,
)
from camsign.tags.pictures import choose_reference, drop_reference, references
from camsign.units import format_length


def _facts(request: Request) -> Response:
    frame = str(request.path_params["frame"])
    with desk_of(request).reading() as session:
        row = session.con.execute(
            "SELECT f.file, f.bytes, f.width, f.height, f.make, f.model, f.shown, t.basis"
            " FROM frames f LEFT JOIN frame_times t USING (frame) WHERE f.frame = ?",
            [frame],
        ).fetchone()
    if row is None:
        raise HTTPException(404)
    names = ("file", "bytes", "width", "height", "make", "model", "clock_time", "basis")
    return JSONResponse(dict(zip(names, row, strict=True)))


def _references(request: Request) -> Response:
    with desk_of(request).reading(settled=True) as session:
        found = references(session)
    bucks: dict[str, dict[str, Any]] = {}
    for one in found:
        buck = bucks.setdefault(
            one.buck_id, {"buck_id": one.buck_id, "buck": one.buck, "pictures": []}
        )
        at = one.at.isoformat(timespec="seconds") if one.at else None
        buck["pictures"].append(
            {"frame": one.frame, "camera": one.camera, "at": at, "note": one.note}
        )
    return JSONResponse({"bucks": list(bucks.values())})


def _choose(session: Session, _: Named, sent: Sent) -> Told:
    buck, frame = _needed(sent, "buck_id"), _needed(sent, "frame")
    if sent.get("drop"):
        name = drop_reference(session, buck, frame).buck
        return {"buck": name}, f"no longer a reference picture of {name}"
    name = choose_reference(session, buck, frame, inputs.text(sent, "note")).buck
    return {"buck": name}, f"a reference picture of {name}"


def _yardstick(request: Request) -> Response:
    with desk_of(request).reading() as session:
        stick, units = usual_yardstick(session), session.settings.units
    unit_m = INCH_M if units == "imperial" else 0.01
    return JSONResponse(
        {
            "unit": "in" if units == "imperial" else "cm",
            "unit_m": unit_m,
            "low": round(stick.low_m / unit_m, 1),
            "high": round(stick.high_m / unit_m, 1),
        }
    )


def _measure(session: Session, _: Named, sent: Sent) -> Told:
    """Work the spread out; note it if a buck is named."""
    marks, stick = sent.get("marks"), _stick(sent)
    if not isinstance(marks, dict):
        raise UsageError("nothing is marked", "mark both ear tips and both beams")
    buck = inputs.text(sent, "buck_id")
    if buck is None:
        return _in_words(spread(marks, stick), session.settings), ""
    found, result = measure_spread(session, buck, _needed(sent, "frame"), marks, stick)
    words = _in_words(result, session.settings)
    return {**words, "buck": found.buck}, f"spread of {found.buck}"


def _drop(session: Session, _: Named, sent: Sent) -> Told:
    drop_measurement(session, _needed(sent, "measurement"))
    return {}, "dropped a measurement"


def _stick(sent: Sent) -> Yardstick:
    low, high = inputs.number(sent, "low_m"), inputs.number(sent, "high_m")
    if low is None or high is None:
        raise UsageError("the ears' width is not said", "give it as a range, such as 13 to 16 in")
    return checked_yardstick(low, high)


def _in_words(spread_m: Estimate, settings: Settings) -> dict[str, Any]:
    value, low, high = (
        format_length(x, settings.units, small=True) if x is not None else ""
        for x in (spread_m.value, spread_m.low, spread_m.high)
    )
    return {"spread_m": asdict(spread_m), "words": f"about {value}; between {low} and {high}"}


def _needed(sent: Sent, name: str) -> str:
    said = inputs.text(sent, name)
    if said is None:
        raise UsageError(f"{name} is missing", "load the page again")
    return said


ROUTES: list[BaseRoute] = [
    get("/closer/{frame}", _facts),
    get("/references", _references),
    says("/references", _choose),
    get("/ruler", _yardstick),
    says("/ruler", _measure),
    says("/ruler/drop", _drop),
]
