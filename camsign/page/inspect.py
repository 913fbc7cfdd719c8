"""Looking closer at a frame: reference pictures beside it, the ruler."""

from __future__ import annotations

from dataclasses import asdict

from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.page import inputs
from camsign.page.routing import Asked, Named, Sent, Told, Values, asks, says
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


def _references(asked: Asked) -> Values:
    bucks: dict[str, Values] = {}
    for one in references(asked.session):
        buck = bucks.setdefault(
            one.buck_id, {"buck_id": one.buck_id, "buck": one.buck, "pictures": []}
        )
        at = one.at.isoformat(timespec="seconds") if one.at else None
        buck["pictures"].append(
            {"frame": one.frame, "camera": one.camera, "at": at, "note": one.note}
        )
    return {"bucks": list(bucks.values())}


def _choose(session: Session, _: Named, sent: Sent) -> Told:
    buck, frame = _needed(sent, "buck_id"), _needed(sent, "frame")
    if sent.get("drop"):
        name = drop_reference(session, buck, frame).buck
        return {"buck": name}, f"no longer a reference picture of {name}"
    name = choose_reference(session, buck, frame, inputs.text(sent, "note")).buck
    return {"buck": name}, f"a reference picture of {name}"


def _yardstick(asked: Asked) -> Values:
    stick = usual_yardstick(asked.session)
    unit, m = ("in", INCH_M) if asked.session.settings.units == "imperial" else ("cm", 0.01)
    low, high = (round(length / m, 1) for length in (stick.low_m, stick.high_m))
    return {"unit": unit, "unit_m": m, "low": low, "high": high}


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


def _in_words(spread_m: Estimate, settings: Settings) -> Values:
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
    asks("/references", _references, settled=True),
    says("/references", _choose),
    asks("/ruler", _yardstick),
    says("/ruler", _measure),
    says("/ruler/drop", _drop),
]
