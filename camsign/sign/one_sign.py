"""One sign as it stands: every look at it, what it says of its maker, whose habit it shows."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.sign.record import TRADITIONAL_SEASONS, SignSaid
from camsign.sign.size import Evidence, size_evidence


@dataclass(frozen=True, slots=True)
class LookRow:
    """One look at a sign; days local, `travel_deg` [deg true], measures by kept name [m, deg].

    `made_from` is None where the look found it absent.
    """

    sighting: str
    seen_on: date
    state: str | None
    travel_deg: float | None
    taken_as: str | None
    made_from: date | None
    made_to: date | None
    season: int | None
    basis: str | None
    note: str | None
    measures: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SignShown:
    """A sign with its looks, oldest first. lat, lon [deg, WGS 84].

    `seasons`: in how many it was made; three or more is `traditional`. `evidence`: what its last
    measures say of its maker's size. `habit`: by name, with the buck who is said to own it.
    """

    sign: str
    kind: str
    lat: float
    lon: float
    species: str | None
    note: str | None
    bed_of: str | None
    habit: str | None
    buck: str | None
    seasons: int
    traditional: bool
    looks: Sequence[LookRow]
    evidence: Sequence[Evidence]


def sign_shown(session: Session, sign: str) -> SignShown:
    """Give one sign by its id. Raises UsageError if there is none."""
    said = sign.strip().lower()
    row = run_sql(session.con, __file__, "one_sign.sql", sign=said).fetchone()
    if row is None:
        raise UsageError(f"there is no sign {sign!r}", "list them with: camsign sign list")
    looks = _looks(session, row[0])
    seasons = len({look.season for look in looks if look.season is not None})
    latest = {name: value for look in looks for name, value in look.measures.items()}
    waist, units = session.settings.waist_m, session.settings.units
    evidence = size_evidence(latest, waist, units) if row[1] == "rub" else []
    head = dict(zip(SignShown.__slots__, row, strict=False))
    traditional = seasons >= TRADITIONAL_SEASONS
    return SignShown(
        **head, seasons=seasons, traditional=traditional, looks=looks, evidence=evidence
    )


def narrowed(session: Session, said: SignSaid) -> SignSaid:
    """Give what was said of a look with the window that other looks at its sign have narrowed.

    The session must have been opened after it was said.
    """
    look = next(k for k in _looks(session, said.sign) if k.sighting == said.sighting)
    if look.made_from is None:
        return said
    words = f"made between {look.made_from} and {look.made_to} ({look.basis})"
    before = said.read_as.rpartition("; made between")[0]
    return replace(
        said,
        made_from=look.made_from,
        made_to=look.made_to,
        season=look.season,
        read_as=f"{before}; {words}" if before else words,
    )


def _looks(session: Session, sign: str) -> list[LookRow]:
    rows = run_sql(session.con, __file__, "looks.sql", sign=sign).fetchall()
    return [
        LookRow(
            **dict(zip(LookRow.__slots__, row[:-1], strict=False)),
            measures=json.loads(row[-1]) if row[-1] else {},
        )
        for row in rows
    ]
