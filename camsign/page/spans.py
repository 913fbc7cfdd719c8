"""Which days a page of areas is about: a season, one of its phases, the last days, or two days."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from camsign.answers.scope import Scope, scope_of
from camsign.answers.unsorted import untagged_season
from camsign.errors import UsageError
from camsign.logbook.moments import latest_season
from camsign.logbook.session import Session
from camsign.page.routing import Asked
from camsign.units import parse_day

LAST = (7, 14, 30)
"""How many days back the form offers."""


@dataclass(frozen=True, slots=True)
class Span:
    """What was chosen: a season, and a phase of it, the last days, or two days, as text.

    `seasons`: those to choose from, the latest first. `untagged`: that they are no days of the
    newest pictures, where nobody chose.
    """

    seasons: list[int]
    season: int | None
    phases: tuple[str, ...]
    phase: str = ""
    last: str = ""
    first_day: str = ""
    last_day: str = ""
    trouble: str = ""
    untagged: str = ""

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

    @property
    def when(self) -> str:
        """Say which days those are, behind a count: `in the 2025 season`."""
        if self.first_day or self.last_day:
            return "on those days"
        if self.last:
            return f"in the last {self.last} days"
        return f"in the {self.season} {self.phase or 'season'}"

    def query(self) -> str:
        """Give what a link to another page about these days carries."""
        said = {
            "season": self.season, "phase": self.phase, "last": self.last,
            "from": self.first_day, "to": self.last_day,
        }  # fmt: skip
        return urlencode({k: v for k, v in said.items() if v})


def seasons_of(session: Session) -> list[int]:
    """Give the seasons in which anything was watched, seen or made, the latest first."""
    month, day = session.settings.season_start
    rows = session.con.execute(
        "SELECT DISTINCT year(day) - (strftime(day, '%m-%d') < ?)::INTEGER AS season FROM ("
        " SELECT day FROM detections UNION ALL SELECT night FROM watch"
        " UNION ALL SELECT made_to FROM made_windows) WHERE day IS NOT NULL ORDER BY 1 DESC",
        [f"{month:02d}-{day:02d}"],
    ).fetchall()
    return [season for (season,) in rows]


def span_of(asked: Asked) -> Span:
    """Read the days that a page was asked about; what does not fit falls back to the season."""
    said = {k: asked.query.get(k, "").strip()[:40] for k in _ASKED}
    session, seasons = asked.session, seasons_of(asked.session)
    phases = tuple(session.settings.phases)
    season = int(said["season"]) if _number(said["season"], 4) else None
    untagged = ""
    if season not in seasons:
        season, untagged = latest_season(session), untagged_season(session)
    last = said["last"] if _number(said["last"], 3) and int(said["last"]) else ""
    phase = said["phase"] if said["phase"] in phases and not last else ""
    if not (said["from"] or said["to"]):
        return Span(seasons, season, phases, phase, last, untagged="" if last else untagged)
    span = Span(seasons, season, phases, first_day=said["from"], last_day=said["to"])
    try:
        span.scope(session)
    except UsageError as e:
        return Span(seasons, season, phases, trouble=str(e))
    return span


_ASKED = ("season", "phase", "last", "from", "to")


def _number(text: str, digits: int) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= digits
