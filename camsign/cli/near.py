"""Who was pictured near which sign, while it was made?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Annotated, Any

import typer

from camsign.answers import near as answers
from camsign.answers.near import Near, nameless
from camsign.answers.scope import Scope
from camsign.cli.asked import WITHIN, length
from camsign.cli.command import Out, command
from camsign.cli.show import Aside, Block, bearing, lengths, listed
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.sign.marks import MARKS
from camsign.units import counted
from camsign.zones import zone

SHOWN = 40


@command(asks=("named", "bucks", "areas", *WITHIN), csv=True)
def near(
    session: Session,
    asked: Scope,
    kinds: Annotated[list[str] | None, typer.Option("--kind", help="Such as rub.")] = None,
    within: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="From camera to sign; else the reach.")
    ] = None,
    days: Annotated[
        int, typer.Option(min=0, help="How many days before or after it was made.")
    ] = 0,
) -> Out[Near]:
    """Who was pictured near which sign, while it was made?"""
    limit = length(session, within) if within else None
    answer = answers.near(session, asked, kinds=kinds, within_m=limit, days=days)
    settings = session.settings
    return Out(answer, _table(answer, settings), _each_visit(answer, settings, asked.gap_s))


def _table(answer: Near, settings: Settings) -> Iterator[Block]:
    """Say who was near how many pieces of sign, bucks with a name first, by how many."""
    by_who: dict[str, list[dict[str, Any]]] = {}
    for row in answer.to_records():
        by_who.setdefault(_who(row), []).append(row)
    groups = sorted(by_who.values(), key=lambda mine: (mine[0]["buck"] is None, -_signs(mine)))
    yield from listed(groups, {
        "who": lambda mine: _who(mine[0]), "pieces of sign": _signs,
        "pictures": lambda mine: len({r["frame"] for r in mine}),
        "closest camera": lambda mine: lengths(settings.units, min(r["distance_m"] for r in mine)),
        "of which": _kinds,
    })  # fmt: skip


def _each_visit(answer: Near, settings: Settings, gap_s: float) -> Iterator[Block]:
    there, visits = zone(settings.tz), _visits(answer.to_records(), gap_s)
    yield from listed(visits[:SHOWN], {
        "who": lambda v: _who(v[0]), "when": lambda v: v[0]["utc"].astimezone(there),
        "pictures": lambda v: v[1], "sign": lambda v: v[0]["sign"], "kind": lambda v: v[0]["kind"],
        "distance": lambda v: lengths(settings.units, v[0]["distance_m"]),
        "direction": lambda v: bearing(v[0]["bearing_deg"]), "days": lambda v: v[0]["days"],
        "first picture": lambda v: v[0]["frame"][:12],
    })  # fmt: skip
    if len(visits) > SHOWN:
        yield Aside(f"{len(visits) - SHOWN:,} more rows; --csv and --json give every picture.")


def _visits(records: list[dict[str, Any]], gap_s: float) -> list[tuple[dict[str, Any], int]]:
    """Give the first row of each visit to one camera by a piece of sign, with its pictures."""
    found: list[list[dict[str, Any]]] = []
    latest: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for row in sorted(records, key=lambda one: one["utc"]):
        key = (_who(row), row["sign"], row["distance_m"], row["bearing_deg"])
        visit = latest.get(key)
        if visit is None or (row["utc"] - visit[-1]["utc"]).total_seconds() > gap_s:
            visit = latest[key] = []
            found.append(visit)
        visit.append(row)
    return [(visit[0], len({row["frame"] for row in visit})) for visit in found]


def _signs(rows: list[dict[str, Any]]) -> int:
    return len({row["sign"] for row in rows})


def _who(row: dict[str, Any]) -> str:
    """Say who is in a picture: a buck by name, else as much as was tagged."""
    return str(row["buck"] or nameless(row["species"], row["sex"]))


def _kinds(rows: list[dict[str, Any]]) -> str:
    by_kind = Counter(kind for kind, _ in dict.fromkeys((r["kind"], r["sign"]) for r in rows))
    return ", ".join(_many(n, kind) for kind, n in by_kind.most_common())


def _many(n: int, kind: str) -> str:
    if kind == "droppings":
        return f"{counted(n, 'pile')} of droppings"
    return f"{n} {MARKS[kind].plural if n > 1 else kind}"
