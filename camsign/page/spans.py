"""Which days a page of areas is about: a season, one of its phases, the last days, or two days."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.requests import Request

from camsign.answers.scope import Scope, scope_of
from camsign.errors import UsageError
from camsign.logbook.moments import latest_season
from camsign.logbook.session import Session
from camsign.units import parse_day

LAST = (7, 14, 30)
"""How many days back the form offers."""


@dataclass(frozen=True, slots=True)
class Span:
    """What was chosen: a season, and a phase of it, the last days, or two days, as text."""

    season: int | None
    phases: tuple[str, ...]
    phase: str = ""
    last: str = ""
    first_day: str = ""
    last_day: str = ""
    trouble: str = ""

    def scope(self, session: Session, area: str | None = None) -> Scope:
        """Give the scope of a question about these days."""
        areas = None if area is None else [area]
        if self.first_day or self.last_day:
            days = [parse_day(x) if x else None for x in (self.first_day, self.last_day)]
            return scope_of(session, areas=areas, first=days[0], last=days[1])
        if self.last:
            return scope_of(session, areas=areas, days_back=int(self.last))
        phase = self.phase or None
        return scope_of(session, areas=areas, season=self.season, phase=phase)

    def query(self) -> str:
        """Give what a link to another page about these days carries."""
        said = {
            "season": self.season, "phase": self.phase, "last": self.last,
            "from": self.first_day, "to": self.last_day,
        }  # fmt: skip
        return urlencode({k: v for k, v in said.items() if v})


def span_of(request: Request, session: Session, seasons: list[int]) -> Span:
    """Read the days that a page was asked about; what does not fit falls back to the season."""
    said = {k: request.query_params.get(k, "").strip()[:40] for k in _ASKED}
    phases = tuple(session.settings.phases)
    season = int(said["season"]) if _number(said["season"], 4) else None
    if season not in seasons:
        season = latest_season(session)
    last = said["last"] if _number(said["last"], 3) and int(said["last"]) else ""
    phase = said["phase"] if said["phase"] in phases and not last else ""
    plain = Span(season, phases)
    if not (said["from"] or said["to"]):
        return Span(season, phases, phase, last)
    span = Span(season, phases, first_day=said["from"], last_day=said["to"])
    try:
        span.scope(session)
    except UsageError as e:
        return Span(plain.season, phases, trouble=str(e))
    return span


_ASKED = ("season", "phase", "last", "from", "to")


def _number(text: str, digits: int) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= digits
