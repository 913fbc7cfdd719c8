"""What each part of an area's page says: one answer, its figures laid out as small charts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from camsign.answers.bedding import Bedding, bedding, oldest_first
from camsign.answers.bucks import bucks_of, mature_of
from camsign.answers.chances import best_in_words
from camsign.answers.near import Near, near
from camsign.answers.rivals import rivals
from camsign.answers.scope import Scope
from camsign.answers.verdict import CONFIRMED, LIKELY, POSSIBLE
from camsign.answers.visits import VisitRow, Visits, visits
from camsign.answers.ways import WayShare, shares_of
from camsign.answers.when import When, when
from camsign.logbook.moments import local
from camsign.logbook.session import Session
from camsign.page.charts import curve, whiskers
from camsign.page.rows import run
from camsign.units import counted, format_length

PARTS = (
    ("who", "Who comes, and how often"),
    ("when", "When"),
    ("bed", "Is it a bed?"),
    ("rivals", "How many mature bucks share it"),
    ("sign", "Sign in reach"),
    ("near", "Who was pictured near sign"),
)
"""The parts of the page in their order, each with its heading."""
_HOURS = range(-6, 6)
_BEDDERS = (CONFIRMED, LIKELY, POSSIBLE)

Ask = Callable[[str, Callable[[], Any]], Any]
"""Gives the answer of a name: known already, or by asking now."""


@dataclass(frozen=True, slots=True)
class SunClock:
    """Visits by whole hours from sunrise and sunset, each by the nearer; the others are outside."""

    from_sunrise: dict[int, int]
    from_sunset: dict[int, int]
    outside: int


@dataclass(frozen=True, slots=True)
class NearRow:
    """A buck and a kind of sign: how many signs and frames, how near, and the last time (local)."""

    buck: str
    buck_id: str | None
    kind: str
    signs: int
    frames: int
    nearest: str
    last: datetime


def values_of(
    part: str, session: Session, scope: Scope, wished: str | None, ask: Ask
) -> dict[str, Any]:
    """Give what a part's template needs; `wished` is the buck that *when* is about."""

    def seen() -> Visits:
        found: Visits = ask("visits", lambda: visits(session, scope))
        return found

    if part == "who":
        return _who(seen())
    if part == "when":
        return {"visits": seen()} | _when(_of_one(session, scope, seen(), wished, ask))
    if part == "rivals":
        few = ask("rivals", lambda: rivals(session, scope))
        return {"rivals": few}
    if part == "near":
        return _near(session, ask("near", lambda: near(session, scope)))
    bed = ask("bed", lambda: bedding(session, scope, days=True))
    if part != "short":
        shown = oldest_first(bed.bucks, scope.mature_age)
        bedded = whiskers((b.named, b.days_bedded) for b in shown)
        return {
            "bed": bed,
            "bedders": shown,
            "bedded": bedded,
            "directed": _directed(session, scope),
        }
    his = _of_one(session, scope, seen(), _first_bedder(bed), ask)
    few = ask("rivals", lambda: rivals(session, scope))
    return {
        "bed": bed,
        "likely": oldest_first(
            [b for b in bed.bucks if b.verdict in _BEDDERS and b.ended is None], scope.mature_age
        ),
        "when": his,
        "best": best_in_words(his.best_spans) if his else None,
        "dark": _all_in_the_dark(seen()),
        "leaving": _ways(bed, out=True),
        "coming": _ways(bed, out=False),
        "rivals": few,
        "ageless": _ageless(session, scope, seen()),
    }


def _ways(bed: Bedding, out: bool) -> tuple[tuple[WayShare, ...], float]:
    """Give how often each way is gone, and the share that nobody covers."""
    return shares_of(bed.ways, sum(b.days_bedded.value or 0.0 for b in bed.bucks), out)


def _all_in_the_dark(seen: Visits) -> str | None:
    """Say so where bucks with a name came, but none of them in shooting light."""
    if not seen.rows or any(row.day + row.gray for row in seen.rows):
        return None
    many, nights = sum(row.visits for row in seen.rows), seen.rows[0].nights_watched
    return (
        f"Not in shooting light: every named buck here came in the dark ({counted(many, 'visit')}, "
        f"{counted(nights, 'night')} covered)."
    )


def _first_bedder(bed: Bedding) -> str | None:
    return next((b.buck_id for b in bed.bucks if b.ended is None), None)


def _ageless(session: Session, scope: Scope, seen: Visits) -> list[VisitRow]:
    """Give those seen here whose age nobody said: whether they are mature is not known."""
    bucks = bucks_of(session, scope)
    unknown = {bucks.ids[n] for n in mature_of(session, scope, bucks).unknown}
    return [row for row in seen.rows if row.buck_id in unknown]


def _directed(session: Session, scope: Scope) -> dict[bool, int]:
    """Count the detections with a direction by whether the camera stands inside the outline."""
    given = {"area": (scope.area_ids or ("",))[0], "reach": scope.reach_m}
    days = {"first": scope.first, "last": scope.last}
    return dict(run(session.con, "directed", **given, **days).fetchall())


def _who(seen: Visits) -> dict[str, Any]:
    rates = [(row.buck, row.per_100_nights) for row in seen.rows]
    light = [(r.buck, r.shooting_light) for r in seen.rows if r.visits]
    return {"visits": seen, "rates": whiskers(rates), "light": whiskers(light, 100)}


def _of_one(
    session: Session, scope: Scope, seen: Visits, wished: str | None, ask: Ask
) -> When | None:
    """Give when the wished buck comes, else the one who comes most."""
    ids = [row.buck_id for row in seen.rows]
    lit = [row.buck_id for row in seen.rows if row.day + row.gray]
    buck = wished if wished in ids else next(iter([*lit, *ids]), None)
    if buck is None:
        return None
    narrow = replace(scope, buck_ids=(buck,))
    his: When = ask(f"when {buck}", lambda: when(session, narrow))
    return his


def _when(his: When | None) -> dict[str, Any]:
    return {"when": his, **(_of_when(his) if his else {})}


def _near(session: Session, found: Near) -> dict[str, Any]:
    """Sum the joined frames up by buck and kind of sign."""
    table = found.table.astype({"buck": object, "buck_id": object, "kind": object})
    table = table.assign(buck=table["buck"].where(table["buck"].notna(), "without a name"))
    sums = (
        table.groupby(["buck", "buck_id", "kind"], dropna=False, sort=True)
        .agg(
            signs=("sign", "nunique"), frames=("frame", "nunique"),
            nearest=("distance_m", "min"), last=("utc", "max"),
        )
        .reset_index()
    )  # fmt: skip
    sums["most"] = sums.groupby("buck")["frames"].transform("max")
    order = ["most", "buck", "frames", "kind"]
    sums = sums.sort_values(order, ascending=[False, True, False, True])
    summed: list[Any] = sums.to_dict("records")
    return {"near": found, "rows": [_near_row(session, row) for row in summed]}


def _near_row(session: Session, row: dict[str, Any]) -> NearRow:
    return NearRow(
        str(row["buck"]),
        row["buck_id"] if isinstance(row["buck_id"], str) else None,
        str(row["kind"]),
        int(row["signs"]),
        int(row["frames"]),
        format_length(float(row["nearest"]), session.settings.units),
        local(row["last"].to_pydatetime().replace(tzinfo=None), session.settings.tz),
    )


def _of_when(his: When) -> dict[str, Any]:
    clock = _sun_clock(his)
    most = max([1, *clock.from_sunrise.values(), *clock.from_sunset.values()])
    spans = [
        (_span_words(s.anchor, s.from_minutes, s.to_minutes), s.chance) for s in his.best_spans
    ]
    return {
        "clock": clock,
        "hours": list(_HOURS),
        "most": most,
        "curve": curve(his.activity),
        "parts": whiskers(((p.part, p.chance) for p in his.by_part), 100),
        "spans": whiskers(spans, 100),
        "latest": his.visits[::-1][:12],
    }


def _sun_clock(his: When) -> SunClock:
    """Count each visit once, by the nearer of sunrise and sunset."""
    rise, sets, outside = dict.fromkeys(_HOURS, 0), dict.fromkeys(_HOURS, 0), 0
    for visit in his.visits:
        a, b = visit.minutes_from_sunrise, visit.minutes_from_sunset
        if a is None or b is None:
            outside += 1
            continue
        # The evening before and the morning after are as near as this day's own.
        a, b = (a + 720) % 1440 - 720, (b + 720) % 1440 - 720
        near, counts = (a, rise) if abs(a) <= abs(b) else (b, sets)
        if (hour := int(near // 60)) in counts:
            counts[hour] += 1
        else:
            outside += 1
    return SunClock(rise, sets, outside)


def _span_words(anchor: str, first: int, last: int) -> str:
    """Name a span [min] beside a chart, in hours from sunrise or sunset: `sunset −1½ to −½ h`."""

    def at(minutes: int) -> str:
        hours, rest = divmod(abs(minutes), 60)
        part = {0: "", 15: "¼", 30: "½", 45: "¾"}.get(rest, f":{rest:02d}")
        sign = "−" if minutes < 0 else "+" if minutes else ""
        return f"{sign}{hours or ('' if part in ('¼', '½', '¾') else 0)}{part}"

    return f"{anchor} {at(first)} to {at(last)} h"
