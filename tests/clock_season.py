"""Invented deployments whose clocks are wrong in known ways, as the arrays an audit works on.

Animals come mostly about dawn and dusk. A picture is in color or not by a logistic law of the
sun's height whose middle differs between dawn and dusk, and one burst in ten has the wrong light
whatever the sun does, which is harsher than any cloud.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from camsign.clock.audit_input import AROUND_S, AuditInput
from camsign.clock.stretches import Shots
from camsign.logbook.records import Deployment
from camsign.sun import sun_days, sun_height
from camsign.zones import offset_s, offsets

Floats = NDArray[np.float64]
DAY = 86400.0
TZ = "America/New_York"
KINDS = ("right", "an hour", "twelve hours", "any offset", "switch", "drift", "reset")


@dataclass(frozen=True)
class Case:
    """One deployment with the truth: `true_s` of each frame, how its clock is wrong, and the switch
    heights [deg] of dawn and dusk."""

    read: AuditInput
    true_s: Floats
    kind: str
    dawn: float
    dusk: float


def case(
    rng: np.random.Generator,
    kind: str,
    frames: int | None = None,
    before: tuple[float, float] = (0.25, 0.75),
) -> Case:
    """Make one deployment; `before`: of the days of one with a switch, the share ahead of it."""
    lat, lon = rng.uniform(25, 50), rng.uniform(-85, -68)
    days = int(rng.integers(30, 121))
    hung = datetime(2024, 1, 1, 16, tzinfo=UTC) + timedelta(days=int(rng.integers(0, 600)))
    if kind == "switch":
        # So that a switch lies well inside.
        autumn = datetime(2024, 11, 3, 6, tzinfo=UTC) if rng.random() < 0.5 else None
        switch = autumn or datetime(2025, 3, 9, 7, tzinfo=UTC)
        hung = switch - timedelta(days=float(days * rng.uniform(*before)))
    n = frames or int(np.exp(rng.uniform(np.log(40), np.log(2000))))
    true, burst = visits(rng, lat, lon, hung, days, n)
    colour, dawn, dusk = light(rng, lat, lon, true, burst)
    shown = true + offset_s(TZ, hung) + wrong(rng, kind, true, hung)
    taken_in = hung + timedelta(days=days + int(rng.integers(1, 60)))
    deployment = Deployment(
        "d-1", "CAM1", lat, lon, hung, hung + timedelta(days=days), clock="hung", tz=TZ
    )
    return Case(read(deployment, taken_in, shown, burst, colour), true, kind, dawn, dusk)


def visits(
    rng: np.random.Generator, lat: float, lon: float, hung: datetime, days: int, n: int
) -> tuple[Floats, NDArray[np.int64]]:
    """Times [s] of n frames in bursts of one to five, three visits in five about dawn or dusk."""
    first = hung.date()
    sun = sun_days(lat, lon, first, first + timedelta(days=days), TZ)
    edges = [np.asarray(e, "datetime64[s]").astype(float) for e in (sun.sunrise, sun.sunset)]
    start, stop = hung.timestamp(), hung.timestamp() + days * DAY
    times: list[Floats] = []
    count = 0
    while count < n:
        where = rng.random()
        at = rng.uniform(start, stop)
        if where < 0.6:
            at = edges[int(where < 0.3)][rng.integers(0, days)] + rng.normal(0, 75 * 60)
        if not start < at < stop:
            continue
        size = min(int(rng.integers(1, 6)), n - count)
        times.append(np.floor(at) + np.arange(size) * 2.0)
        count += size
    times.sort(key=lambda t: float(t[0]))
    burst = np.repeat(np.arange(len(times)), [len(t) for t in times])
    return np.concatenate(times), burst


def light(
    rng: np.random.Generator, lat: float, lon: float, true: Floats, burst: NDArray[np.int64]
) -> tuple[NDArray[np.int64], float, float]:
    """Color (1) or not (0) of each frame; switch heights from -6° to +6°, up to 3° apart."""
    middle, apart = rng.uniform(-6, 6), rng.uniform(-3, 3)
    dawn, dusk = np.clip([middle + apart / 2, middle - apart / 2], -6, 6)
    at = true.astype("datetime64[s]")
    height = sun_height(lat, lon, at)
    rising = sun_height(lat, lon, at + np.timedelta64(60, "s")) > height
    switch = (
        np.where(rising, dawn, dusk) + rng.logistic(0, rng.uniform(0.3, 1.2), burst[-1] + 1)[burst]
    )
    misjudged = (rng.random(burst[-1] + 1) < 0.1)[burst]
    return ((height > switch) ^ misjudged).astype(np.int64), float(dawn), float(dusk)


def wrong(rng: np.random.Generator, kind: str, true: Floats, hung: datetime) -> Floats:
    """How far the clock is ahead at each frame [s]."""
    if kind == "an hour":
        return np.full(len(true), rng.choice([-3600.0, 3600.0]))
    if kind == "twelve hours":
        return np.full(len(true), rng.choice([-43200.0, 43200.0]))
    if kind == "any offset":
        return np.full(len(true), rng.uniform(-43200, 43200))
    if kind == "drift":
        middle = (true[0] + true[-1]) / 2
        return (true - middle) * rng.choice([-180.0, 180.0]) / (7 * DAY)
    if kind == "switch":
        spans = offsets(TZ, hung, datetime.fromtimestamp(true[-1], UTC))
        seconds = np.zeros(len(true))
        for span in spans:
            seconds[true >= span.start.timestamp()] = span.seconds - spans[0].seconds
        return seconds
    if kind == "reset":
        at = int(len(true) * rng.uniform(0.3, 0.7))
        begun = datetime(2017, 1, 1, tzinfo=UTC).timestamp() - offset_s(TZ, hung)
        since = true - true[at] + begun + rng.uniform(0, 300)
        return np.where(np.arange(len(true)) < at, 0.0, since - true)
    return np.zeros(len(true))


def read(
    deployment: Deployment,
    taken_in: datetime,
    shown: Floats,
    burst: NDArray[np.int64],
    colour: NDArray[np.int64],
) -> AuditInput:
    """One card of one camera as the logbook would give it, read by the rule `hung`."""
    n = len(shown)
    read_s = shown - offset_s(TZ, deployment.hung)
    start, stop = deployment.hung.timestamp(), deployment.taken_down.timestamp()
    inside = (read_s >= start) & (read_s <= stop)
    near = (read_s >= start - AROUND_S) & (read_s <= stop + AROUND_S)
    zero = np.zeros(n, dtype=np.int64)
    shots = Shots(
        frame=np.array([f"{i:016x}" for i in range(n)], dtype=object),
        camera=zero, card=zero, folder=zero, number=np.arange(n), shown_s=shown, read_s=read_s,
        deployment=np.where(inside, 0, -1), near=np.where(near, 0, -1), light=colour,
        brightness=np.where(colour == 1, 110.0, 60.0), burst=burst, file_s=shown,
        fine=np.zeros(n, dtype=bool), odd=np.zeros(n, dtype=bool),
    )  # fmt: skip
    return AuditInput(shots, ["CAM1"], ["k1"], [taken_in], [deployment])


def bracketed(case: Case, which: NDArray[np.bool_]) -> bool:
    """Whether five bursts lie within 6° below and above the switch height, at dawn and at dusk."""
    shots, deployment = case.read.shots, case.read.deployments[0]
    _, first = np.unique(shots.burst[which], return_index=True)
    true = case.true_s[which][first].astype("datetime64[s]")
    height = sun_height(deployment.lat, deployment.lon, true)
    later = sun_height(deployment.lat, deployment.lon, true + np.timedelta64(60, "s"))
    for side, switch in ((later > height, case.dawn), (later <= height, case.dusk)):
        over = height[side] - switch
        if min(((over > 0) & (over < 6)).sum(), ((over < 0) & (over > -6)).sum()) < 5:
            return False
    return True
