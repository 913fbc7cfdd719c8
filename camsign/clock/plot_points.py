"""Frames as points of a picture: the sun's height against the clock, as read and as put right."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from camsign.arrays import Floats, Ints
from camsign.clock.audit import Finding, audit, needs_attention, stretches_of
from camsign.clock.audit_input import AuditInput
from camsign.clock.proposals import rounded
from camsign.clock.runs import Stretch
from camsign.clock.verdicts import IMPOSSIBLE, RESET, WRONG
from camsign.logbook.records import Deployment
from camsign.sun import sun_height

_WEEK_MIN_S = 60 / 604800.0


@dataclass(frozen=True)
class ClockPoints:
    """One stretch of a deployment, an element a frame that has a time and a light.

    `light`: 1 in color, 0 not. `hours`: time of day by the deployment's clock rule [h], `height`
    the sun's there [deg], both as it is read now (`before`) and as proposed (`after`).
    """

    finding: Finding
    light: Ints
    hours_before: Floats
    height_before: Floats
    hours_after: Floats
    height_after: Floats


def clock_points(read: AuditInput, most: int = 6) -> list[ClockPoints]:
    """Give the points of the stretches that need attention, and of others up to `most` in all."""
    judged = list(zip(audit(read), stretches_of(read), strict=True))
    judged.sort(key=lambda pair: not needs_attention(pair[0]))
    some = [(f, s, s.deployment) for f, s in judged if s.deployment is not None]
    return [_points(finding, stretch, hung) for finding, stretch, hung in some[:most]]


def _points(finding: Finding, stretch: Stretch, deployment: Deployment) -> ClockPoints:
    shots = stretch.shots
    shots = shots.some((shots.light >= 0) & np.isfinite(shots.read_s))
    lag = float(np.median(shots.shown_s - shots.read_s)) if len(shots.read_s) else 0.0
    cells: list[Floats] = []
    for at in (shots.read_s, put_right(finding, shots.read_s, shots.shown_s)):
        cells.append((at + lag) % 86400.0 / 3600.0)
        when = (at * 1e3).astype("datetime64[ms]")
        cells.append(sun_height(deployment.lat, deployment.lon, when))
    return ClockPoints(finding, shots.light, *cells)


def put_right(finding: Finding, read_s: Floats, shown_s: Floats) -> Floats:
    """Give the instants [s since 1970] that a finding proposes for what was read and shown [s]."""
    if finding.place_by_shift_s is not None:
        placed: Floats = shown_s + finding.place_by_shift_s
        return placed
    if finding.verdict in (RESET, IMPOSSIBLE):
        return read_s
    if finding.verdict not in WRONG or finding.offset_minutes.value is None or not len(read_s):
        return read_s
    if finding.drift_minutes_per_week is not None:
        middle = (read_s.min() + read_s.max()) / 2
        rate = 1 + finding.drift_minutes_per_week * _WEEK_MIN_S
        steady: Floats = middle - finding.offset_minutes.value * 60 + (read_s - middle) / rate
        return steady
    right: Floats = read_s - rounded(finding) * 60
    if finding.step_at is not None and finding.step_minutes is not None:
        stepped = read_s >= finding.step_at.timestamp()
        right = np.where(stepped, right - finding.step_minutes * 60, right)
    return right
