"""The detections of bucks that a question looks at, and the bucks, as numbers.

Who is who is looked up once; detections come out of the database as plain numbers, so that a
million of them cost little.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from camsign.answers.buck_ends import ended_days
from camsign.answers.reach import Reach, columns_of
from camsign.answers.scope import DOES, Scope
from camsign.logbook.whois import known_bucks

if TYPE_CHECKING:
    from camsign.arrays import Bools, Floats, Ints, Times
    from camsign.logbook.session import Session


SURE, UNIDENTIFIED, DOUBTFUL_TIME = 0, 1, 2
DARK, GRAY, DAY = 0, 1, 2
LIGHTS = ("dark", "gray", "day")
"""Bands of light: the sun is up on DAY; GRAY is within light_before and light_after of that."""


@dataclass(frozen=True, slots=True)
class Bucks:
    """The bucks of a question by number: permanent ids, names, and numbers by any id of theirs."""

    ids: tuple[str, ...]
    names: tuple[str, ...]
    number: dict[str, int]


@dataclass(frozen=True, slots=True, eq=False)
class Detections:
    """Detections, one element each.

    `at` numbers the deployment in its Reach, `buck` the buck in its Bucks (-1: no one named).
    `utc`, `local`: datetime64[us]; `day`, `night`: datetime64[D], local. `from_sunrise`,
    `from_sunset` [min], NaN without. `light`: DARK, GRAY or DAY. `travel_deg` [deg], NaN if
    unknown. `apart`: SURE, UNIDENTIFIED or DOUBTFUL_TIME. `weak`: its time is not the camera's own
    word.
    """

    at: Ints
    buck: Ints
    utc: Times
    local: Times
    day: Times
    night: Times
    light: Ints
    from_sunrise: Floats
    from_sunset: Floats
    travel_deg: Floats
    apart: Ints
    weak: Bools


def bucks_of(session: Session, scope: Scope) -> Bucks:
    """Give the bucks of a scope, all that stand if it names none; of does, their companies."""
    if scope.who == "does":
        keys = scope.buck_ids or tuple(DOES)
        return Bucks(keys, tuple(DOES[key] for key in keys), {k: i for i, k in enumerate(keys)})
    known = known_bucks(session)
    asked = None if scope.buck_ids is None else set(scope.buck_ids)
    ids = [b for b in dict.fromkeys(known.now.values()) if asked is None or b in asked]
    ids.sort(key=lambda b: (known.name(b).lower(), b))  # what is said of them decides, not their id
    order = {b: i for i, b in enumerate(ids)}
    number = {was: order[b] for was, b in known.now.items() if b in order}
    return Bucks(tuple(ids), tuple(known.name(b) for b in ids), number)


def _companies(rows: dict[str, Any], bucks: Bucks) -> dict[str, Any]:
    """Keep the companies of does that are asked for, by their number in `bucks`."""
    import numpy as np

    number = np.array([bucks.number.get(key, -1) for key in DOES])[rows["buck"]]
    kept = {name: column[number >= 0] for name, column in rows.items()}
    return kept | {"buck": number[number >= 0]}


def _alive(rows: dict[str, Any], ended: Mapping[int, date]) -> dict[str, Any]:
    """Leave out pictures of a buck from after he ended: they are not his."""
    import numpy as np

    for buck, day in ended.items():
        keep = (rows["buck"] != buck) | (rows["day"].astype("datetime64[D]") <= np.datetime64(day))
        rows = {name: column[keep] for name, column in rows.items()}
    return rows


def detections_of(
    session: Session, scope: Scope, reach: Reach, bucks: Bucks, nameless: Bools | None = None
) -> Detections:
    """Give the detections of these bucks, and of bucks no one named, within reach and days.

    Pictures of a buck from after he ended are not his. `nameless`: at which deployments bucks no
    one named are wanted, None for all.
    """
    import numpy as np

    given: dict[str, Any] = {
        "deployments": list(reach.deployments),
        "first": scope.first,
        "last": scope.last,
    }
    if scope.who == "does":
        rows = _companies(columns_of(session, "detections_does.sql", given), bucks)
    else:
        wanted = [True] * len(reach.deployments) if nameless is None else nameless.tolist()
        given |= {"tagged": list(bucks.number), "codes": list(bucks.number.values())}
        given |= {"nameless": wanted}
        rows = columns_of(session, "detections.sql", given)
        rows = _alive(rows, ended_days(session, bucks))
    degrees = ("minutes_from_sunrise", "minutes_from_sunset", "travel_deg")
    rise, sets, travel = (np.ma.filled(rows[name].astype(float), np.nan) for name in degrees)
    return Detections(
        rows["at"],
        rows["buck"],
        rows["utc"],
        rows["local"],
        rows["day"].astype("datetime64[D]"),
        rows["night"].astype("datetime64[D]"),
        rows["light"],
        rise,
        sets,
        travel,
        rows["apart"],
        rows["weak"],
    )
