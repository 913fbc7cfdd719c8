"""What each part of an area's page says: one answer, its figures laid out as small charts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import Any

from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute

from camsign.answers.bedded import NO_BUCK, no_one, oldest_first
from camsign.answers.bedding import Bedding, bedding
from camsign.answers.chances import PartChance, best_in_words
from camsign.answers.compare import WINDLESS
from camsign.answers.near import Near, nameless, near
from camsign.answers.odds import about, odds
from camsign.answers.rivals import how_many, rivals
from camsign.answers.scope import Scope, area_id_of
from camsign.answers.verdict import (
    CONFIRMED,
    LIKELY,
    MEANINGS,
    NOT_ENOUGH,
    NOT_SHOWN,
    POSSIBLE,
    SAID,
    SHORT,
)
from camsign.answers.visits import Visits, visits
from camsign.answers.ways import shares_of
from camsign.answers.when import When, when
from camsign.formats.interval import interval
from camsign.logbook.database import run_sql
from camsign.logbook.moments import local
from camsign.logbook.session import Session
from camsign.page.charts import CURVE_TALL, WIDTH, curve, in_words, sun_clock, whiskers
from camsign.page.routing import Asked, Values, asks
from camsign.page.spans import span_of
from camsign.sign.surroundings import NEAR_M
from camsign.units import counted, format_length, per_area

PARTS = (
    ("who", "Who comes, and how often"),
    ("when", "When"),
    ("bed", "Is it a bed?"),
    ("rivals", "How many mature bucks share it"),
    ("sign", "Sign near it"),
    ("near", "Who was pictured near sign"),
)
"""The parts of the page in their order, each with its heading."""
_BEDDERS = (CONFIRMED, LIKELY, POSSIBLE)
# Of an area, without a name: who it is stands on its own page.
_BEDDED = {
    CONFIRMED: "A mature buck beds here",
    LIKELY: "A mature buck probably beds here",
    POSSIBLE: "A mature buck may bed here",
    NOT_SHOWN: NO_BUCK,
    NOT_ENOUGH: "Can't tell yet if a mature buck beds here",
}


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


def _part(asked: Asked) -> Values:
    """Give what a part's template needs; the address may name the buck that *when* is about."""
    part, session, ask = asked.named["part"], asked.session, asked.once
    if part != "short" and part not in dict(PARTS):
        raise HTTPException(404)
    span = span_of(asked)
    scope = span.scope(session, area_id_of(session, asked.named["area"]))
    reach = format_length(scope.reach_m, session.settings.units)
    values = {**shared(session), "reach": reach, "part": part, "span": span}
    if part == "rivals":
        return values | {"rivals": ask(("rivals", scope), lambda: rivals(session, scope))}
    if part == "near":
        return values | _near(session, ask(("near", scope), lambda: near(session, scope)))
    if part != "bed":
        seen: Visits = ask(("visits", scope), lambda: visits(session, scope))
    if part == "who":
        return values | _who(seen)
    if part == "when":
        his = _of_one(asked, scope, seen, asked.query.get("buck"))
        return values | {"visits": seen} | _of_when(his)
    bed: Bedding = ask(("bed", scope), lambda: bedding(session, scope, days=True))
    found = _bed(session, scope, bed) if part == "bed" else _short(asked, scope, bed, seen)
    return values | found


def shared(session: Session) -> Values:
    """Give what the templates of all parts need."""
    return {
        "meanings": MEANINGS,
        "verdict_words": SAID,
        "short_words": SHORT,
        "bedded_here": _BEDDED,
        "figure": in_words,
        "whole": lambda days: interval(days, 0),
        "odds": odds,
        "about": about,
        "how_many": how_many,
        "no_one": no_one,
        "near_reach": format_length(NEAR_M, session.settings.units),
        "per_area": per_area(session.settings.units)[::-1],
        "windless": WINDLESS,
        "width": WIDTH,
        "curve_tall": CURVE_TALL,
    }


def _bed(session: Session, scope: Scope, bed: Bedding) -> Values:
    shown = oldest_first(bed.bucks, scope.mature_age)
    bedded = whiskers((b.named, b.days_bedded) for b in shown)
    directed = _directed(session, scope)
    return {"bed": bed, "bedders": shown, "bedded": bedded, "directed": directed}


def _short(asked: Asked, scope: Scope, bed: Bedding, seen: Visits) -> Values:
    here = [b for b in bed.bucks if b.ended is None]
    first = here[0].buck_id if here else None
    his = _of_one(asked, scope, seen, first)
    narrow = replace(scope, buck_ids=(first,)) if first else scope
    of_him: Bedding = asked.once(("bed", narrow), lambda: bedding(asked.session, narrow))
    days = sum(b.days_bedded.value or 0.0 for b in of_him.bucks)
    waits, effort = bed.watch.unsorted_in_words(), bed.watch.with_days()
    return {
        "bed": bed,
        "whose": here[0].buck if here else None,
        "once": partial(_once, waits),
        "sure": _once(waits, effort) if waits and waits in bed.said else effort,
        "likely": oldest_first([b for b in here if b.verdict in _BEDDERS], scope.mature_age),
        "when": his,
        "best": best_in_words(his.best_spans) if his else None,
        "dark": _all_in_the_dark(seen),
        "leaving": (*shares_of(of_him.ways, days, True), sum(b.evenings for b in of_him.bucks)),
        "coming": (*shares_of(of_him.ways, days, False), sum(b.mornings for b in of_him.bucks)),
        "rivals": asked.once(("rivals", scope), lambda: rivals(asked.session, scope)),
    }


def _once(waits: str | None, words: str) -> str:
    """Leave out of a sentence how many nights aren't sorted: elsewhere on the page says so."""
    if not waits:
        return words
    short = words.replace(f"{waits}. Sort them first", "too many nights aren't sorted")
    return short.replace(f"; {waits}", "")


def _all_in_the_dark(seen: Visits) -> str | None:
    """Say so where bucks with a name came, but none of them in shooting light."""
    if not seen.rows or any(row.day + row.gray for row in seen.rows):
        return None
    many, nights = sum(row.visits for row in seen.rows), seen.rows[0].nights_watched
    return (
        f"Not in shooting light: every named buck here came in the dark ({counted(many, 'visit')}, "
        f"{counted(nights, 'night')} covered)."
    )


def _directed(session: Session, scope: Scope) -> dict[bool, int]:
    """Count the detections with a direction by whether the camera stands inside the outline."""
    given = {"area": (scope.area_ids or ("",))[0], "reach": scope.reach_m}
    days = {"first": scope.first, "last": scope.last}
    return dict(run_sql(session.con, __file__, "queries/directed.sql", **given, **days).fetchall())


def _who(seen: Visits) -> dict[str, Any]:
    rates = [(row.buck, row.per_100_nights) for row in seen.rows]
    light = [(r.buck, r.shooting_light) for r in seen.rows if r.visits]
    return {"visits": seen, "rates": whiskers(rates), "light": whiskers(light, 100)}


def _of_one(asked: Asked, scope: Scope, seen: Visits, wished: str | None) -> When | None:
    """Give when the wished buck comes, else the one who comes most."""
    ids = [row.buck_id for row in seen.rows]
    lit = [row.buck_id for row in seen.rows if row.day + row.gray]
    buck = wished if wished in ids else next(iter([*lit, *ids]), None)
    if buck is None:
        return None
    narrow = replace(scope, buck_ids=(buck,))
    his: When = asked.once(("when", narrow), lambda: when(asked.session, narrow))
    return his


def _near(session: Session, found: Near) -> dict[str, Any]:
    """Sum the joined frames up by buck and kind of sign."""
    text = dict.fromkeys(("buck", "buck_id", "kind", "species", "sex"), object)
    table = found.table.astype(text).where(found.table.notna(), None)
    tagged = zip(table["buck"], table["species"], table["sex"], strict=True)
    table = table.assign(buck=[buck or nameless(*kind) for buck, *kind in tagged])
    sums = (
        table.groupby(["buck", "buck_id", "kind"], dropna=False, sort=True)
        .agg(
            signs=("sign", "nunique"), frames=("frame", "nunique"),
            nearest=("distance_m", "min"), last=("utc", "max"),
        )
        .reset_index()
    )  # fmt: skip
    # As the sentence above them: bucks with a name first, by how much sign they were near.
    sums["nameless"] = sums["buck_id"].isna()
    sums["most"] = sums["buck"].map(table.groupby("buck")["sign"].nunique())
    order = ["nameless", "most", "buck", "signs", "kind"]
    sums = sums.sort_values(order, ascending=[True, False, True, False, True])
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


def _of_when(his: When | None) -> dict[str, Any]:
    if his is None:
        return {"when": None}
    spans = [
        (_span_words(s.anchor, s.from_minutes, s.to_minutes), s.chance) for s in his.best_spans
    ]
    return {
        "when": his,
        "clock": sun_clock((v.minutes_from_sunrise, v.minutes_from_sunset) for v in his.visits),
        "curve": curve(his.activity),
        "parts": whiskers(((p.part, p.chance) for p in _told_apart(his)), 100),
        "spans": whiskers(spans, 100),
        "latest": his.visits[::-1][:12],
    }


def _told_apart(his: When) -> tuple[PartChance, ...]:
    """Give the parts of the season if they forecast better than his average, else none."""
    return his.by_part if his.back_test and his.back_test.better else ()


def _span_words(anchor: str, first: int, last: int) -> str:
    """Name a span [min] beside a chart, in hours from sunrise or sunset: `sunset −1½ to −½ h`."""

    def at(minutes: int) -> str:
        hours, rest = divmod(abs(minutes), 60)
        part = {0: "", 15: "¼", 30: "½", 45: "¾"}.get(rest, f":{rest:02d}")
        sign = "−" if minutes < 0 else "+" if minutes else ""
        return f"{sign}{hours or ('' if part in ('¼', '½', '¾') else 0)}{part}"

    return f"{anchor} {at(first)} to {at(last)} h"


ROUTES: list[BaseRoute] = [asks("/areas/{area}/{part}", _part, "area_parts.html")]
