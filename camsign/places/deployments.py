"""Cameras hung, taken down and known not to have worked.

A camera hangs in one place at a time: deployments of one camera that overlap are refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.edits import SetFields, new_id
from camsign.logbook.moments import as_text, end_of, local, start_of, stored
from camsign.logbook.naming import camera_as_known
from camsign.logbook.records import checked_rule
from camsign.logbook.session import Session
from camsign.places.hang_checks import check_hang, check_not_ahead, not_hanging
from camsign.units import Bearing, DayOrInstant
from camsign.zones import zone

_COLUMNS = "deployment, camera, lat, lon, hung, taken_down, worked_to_end, facing_deg, clock, note"


@dataclass(frozen=True, slots=True)
class Hung:
    """A deployment as said. lat, lon [deg, WGS 84]; `hung`, `until` local with offset.

    `guesses_gone`: the guesses about its clock that were taken back with a date they rested on.
    """

    deployment: str
    camera: str
    lat: float
    lon: float
    hung: datetime
    until: datetime | None = None
    worked_to_end: bool = False
    facing_deg: float | None = None
    clock: str = "hung"
    note: str | None = None
    guesses_gone: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Outage:
    """A span in which a camera is known not to have worked; local with offset."""

    outage: str
    camera: str
    start: datetime
    stop: datetime
    note: str | None = None


def is_cell(camera: str) -> bool:
    """Say whether a camera is called a cell camera."""
    return bool(re.search(r"\bcell", camera, re.IGNORECASE))


def hang(
    session: Session,
    camera: str,
    at: tuple[float, float],
    start: DayOrInstant,
    until: DayOrInstant | None = None,
    facing: Bearing | None = None,
    clock: str | None = None,
    tz: str | None = None,
    note: str | None = None,
) -> Hung:
    """Say that a camera hangs at a place (lat, lon) [deg, WGS 84]; the spelling of its ID that was
    first used in this logbook is kept.

    Whole days count from their midnight (`start`) and to their end (`until`, None while it hangs).
    `clock`: `hung`, `local` or `±HH:MM`; without, `local` if it was so where the camera hung last,
    since the network sets it there too, else `hung`; `tz`: the place's zone if not the logbook's.

    Raises:
        UsageError: no such place, clock rule or zone, an end before the start, or the camera hangs
            elsewhere at that time.
    """
    fields = hang_fields(session, camera, at, start, until, facing, clock, tz, note)
    deployment = new_id("d")
    session.say(f"hung {fields['camera']}", [SetFields("deployment", deployment, fields)])
    return _result(session, deployment, fields)


def hang_fields(
    session: Session,
    camera: str,
    at: tuple[float, float],
    start: DayOrInstant,
    until: DayOrInstant | None = None,
    facing: Bearing | None = None,
    clock: str | None = None,
    tz: str | None = None,
    note: str | None = None,
    ends: str = "",
) -> dict[str, Any]:
    """Give the fields of a deployment, checked. Arguments and errors as for `hang`; `ends` is the
    ID of one that ends as this one begins."""
    name = camera_as_known(session.con, camera)
    if tz:
        zone(tz)
    hung = start_of(start, session.settings.tz)
    down = end_of(until, session.settings.tz) if until else None
    check_not_ahead(hung, session.settings.tz)
    check_hang(session, name, at, hung, down, but=ends)
    said: dict[str, Any] = {
        "camera": name,
        "lat": at[0],
        "lon": at[1],
        "hung": as_text(hung),
        "taken_down": as_text(down) if down else None,
        "facing_deg": session.settings.to_true(facing, at, hung.date()) if facing else None,
        "clock": checked_rule(clock or _clock_before(session, name)),
        "tz": tz,
        "note": note,
    }
    return {k: v for k, v in said.items() if v is not None}


def _clock_before(session: Session, camera: str) -> str:
    row = session.con.execute(
        "SELECT clock FROM deployments WHERE camera = ? AND gone IS NOT TRUE"
        " ORDER BY hung DESC LIMIT 1",
        [camera],
    ).fetchone()
    return "local" if row == ("local",) else "hung"


def takedown(session: Session, camera: str, on: DayOrInstant, working: bool = False) -> Hung:
    """End the deployment in which the camera hangs at `on`; a whole day counts to its end.

    `working`: it was found working, which counts as a sign of life.

    Raises:
        UsageError: it does not hang anywhere then.
    """
    name = camera_as_known(session.con, camera)
    down = end_of(on, session.settings.tz)
    row = session.con.execute(
        "SELECT deployment, hung FROM deployments WHERE camera = ? AND gone IS NOT TRUE"
        " AND hung < ? AND taken_down IS NULL ORDER BY hung DESC LIMIT 1",
        [name, stored(down)],
    ).fetchone()
    if row is None:
        raise not_hanging(session, name, down)
    fields: dict[str, Any] = {"taken_down": as_text(down)}
    if working:
        fields["worked_to_end"] = True
    session.say(f"took down {name}", [SetFields("deployment", row[0], fields)])
    return _result(session, row[0], fields)


def outage(
    session: Session, camera: str, start: DayOrInstant, stop: DayOrInstant, note: str | None = None
) -> Outage:
    """Say that a camera did not work from `start` to `stop`; whole days count to their end.

    Raises:
        UsageError: the end is not behind the start, or no such camera ever hung.
    """
    name = camera_as_known(session.con, camera)
    tz = session.settings.tz
    first, last = start_of(start, tz), end_of(stop, tz)
    if last <= first:
        raise UsageError(f"the down days of {name} run backward", "swap --from and --to")
    known = "SELECT 1 FROM deployments WHERE camera = ? AND gone IS NOT TRUE LIMIT 1"
    if session.con.execute(known, [name]).fetchone() is None:
        raise UsageError(f"{name} never hung anywhere", "hang it first, or mend its ID")
    fields = {"camera": name, "start": as_text(first), "stop": as_text(last)}
    if note:
        fields["note"] = note
    said = new_id("o")
    session.say(f"marked {name} down", [SetFields("outage", said, fields)])
    return Outage(said, name, first.astimezone(zone(tz)), last.astimezone(zone(tz)), note)


def deployments(session: Session, camera: str | None = None) -> list[Hung]:
    """Give the deployments that stand, by camera and time."""
    name = camera_as_known(session.con, camera) if camera else None
    rows = session.con.execute(
        f"SELECT {_COLUMNS} FROM deployments WHERE gone IS NOT TRUE"
        " AND ($camera IS NULL OR camera = $camera) ORDER BY lower(camera), hung",
        {"camera": name},
    ).fetchall()
    return [_of_row(row, session.settings.tz) for row in rows]


def outages(session: Session) -> list[Outage]:
    """Give the outages that stand, by camera and time."""
    rows = session.con.execute(
        'SELECT outage, camera, start, "stop", note FROM outages WHERE gone IS NOT TRUE'
        " ORDER BY lower(camera), start"
    ).fetchall()
    tz = session.settings.tz
    return [Outage(o, c, local(a, tz), local(b, tz), note) for o, c, a, b, note in rows]


def correct_deployment(
    session: Session,
    deployment: str,
    camera: str | None = None,
    at: tuple[float, float] | None = None,
    start: DayOrInstant | None = None,
    until: DayOrInstant | None = None,
    still_hanging: bool = False,
    working: bool | None = None,
    facing: Bearing | None = None,
    clock: str | None = None,
    note: str | None = None,
) -> Hung:
    """Put a deployment right; what is None stays, `still_hanging` takes its end away.

    With its dates go the guesses about its clock that rest on them, as `clock audit` applied them.

    Raises:
        UsageError: there is no such deployment, nothing to change, or as for `hang`.
    """
    old = _standing(session, deployment)
    name = camera_as_known(session.con, camera) if camera else old.camera
    place = at or (old.lat, old.lon)
    tz = session.settings.tz
    hung = start_of(start, tz) if start else old.hung
    if start:
        check_not_ahead(hung, tz)
    down = None if still_hanging else end_of(until, tz) if until else old.until
    check_hang(session, name, place, hung, down, but=old.deployment)
    said: dict[str, Any] = {
        "camera": name if camera else None,
        "lat": at and at[0],
        "lon": at and at[1],
        "hung": as_text(hung) if start else None,
        "taken_down": as_text(down) if until and down else None,
        "worked_to_end": working,
        "facing_deg": session.settings.to_true(facing, place, hung.date()) if facing else None,
        "clock": checked_rule(clock) if clock else None,
        "note": note,
    }
    fields = {k: v for k, v in said.items() if v is not None}
    fields |= {"taken_down": None} if still_hanging else {}
    if not fields:
        raise UsageError(f"nothing to change in {old.deployment} was named")
    twins = _twins(session, old.deployment)
    guesses = _guesses(session, twins) if (hung, down) != (old.hung, old.until) else ()
    edits = [SetFields("deployment", one, fields) for one in twins]
    edits += [SetFields("clock_fix", one, {"gone": True}) for one in guesses]
    session.say(f"corrected where or when {name} hung", edits)
    return replace(_result(session, old.deployment, fields), guesses_gone=guesses)


def remove_deployment(session: Session, deployment: str, only: bool = False) -> Hung:
    """Take a deployment that never was out of every answer; `undo` brings it back.

    Where two people said the same one, both their words go, with `only` just the one of this id.

    Raises:
        UsageError: there is no such deployment.
    """
    old = _standing(session, deployment)
    gone = [deployment.strip().lower()] if only else _twins(session, old.deployment)
    edits = [SetFields("deployment", one, {"gone": True}) for one in gone]
    session.say(f"deleted a spot of {old.camera}", edits)
    return old


def _standing(session: Session, deployment: str) -> Hung:
    row = session.con.execute(
        f"SELECT {_COLUMNS} FROM deployments WHERE gone IS NOT TRUE AND deployment ="
        " coalesce((SELECT stands_for FROM deployment_twins WHERE deployment = $said), $said)",
        {"said": deployment.strip().lower()},
    ).fetchone()
    if row is None:
        raise UsageError(f"there is no deployment {deployment!r}", "see the list of deployments")
    return _of_row(row, session.settings.tz)


def _twins(session: Session, deployment: str) -> list[str]:
    """Give the ids under which people said one deployment."""
    rows = session.con.execute(
        "SELECT deployment FROM deployment_twins WHERE stands_for = ? ORDER BY deployment",
        [deployment],
    ).fetchall()
    return [str(row[0]) for row in rows] or [deployment]


def _guesses(session: Session, deployments: list[str]) -> tuple[str, ...]:
    """Give the fixes of a clock that its deployment's dates had to bound."""
    rows = session.con.execute(
        "SELECT clock_fix FROM clock_fixes WHERE gone IS NOT TRUE AND estimated"
        " AND list_contains($of::VARCHAR[], deployment) ORDER BY clock_fix",
        {"of": deployments},
    ).fetchall()
    return tuple(str(row[0]) for row in rows)


def _of_row(row: tuple[Any, ...], tz: str) -> Hung:
    deployment, camera, lat, lon, hung, down, worked, facing, clock, note = row
    span = local(hung, tz), local(down, tz) if down else None
    return Hung(deployment, camera, lat, lon, *span, bool(worked), facing, clock or "hung", note)


def _result(session: Session, deployment: str, said: dict[str, Any]) -> Hung:
    """Give the deployment as it will stand: the database first, then what was `said`."""
    row = session.con.execute(
        f"SELECT {_COLUMNS} FROM deployments WHERE deployment = ?", [deployment]
    ).fetchone()
    names = _COLUMNS.split(", ")
    now: dict[str, Any] = dict(zip(names, row or [None] * len(names), strict=True))
    for name, value in said.items():
        is_time = name in ("hung", "taken_down") and value is not None
        now[name] = stored(datetime.fromisoformat(value)) if is_time else value
    now["deployment"] = deployment
    return _of_row(tuple(now[n] for n in names), session.settings.tz)
