"""Cameras as the cards page shows them: what each did night by night, and what is wrong with it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Iterator
from dataclasses import asdict, dataclass, field
from datetime import date, datetime, timedelta

from camsign.answers.result import local_of
from camsign.logbook.session import Session
from camsign.page.rows import rows
from camsign.pixels.moved_cameras import MovedCamera, moved_cameras
from camsign.places.deployments import Hung, Outage, deployments, outages
from camsign.units import counted

WATCHED = "watched"
STRIP_WIDE, STRIP_TALL = 760.0, 22.0


@dataclass(frozen=True, slots=True)
class Spell:
    """Nights in a row, first to last, in which a camera watched, or did not and why."""

    state: str
    first: date
    last: date
    nights: int


@dataclass(frozen=True, slots=True)
class Bar:
    """A spell on the strip of a season [pixels]."""

    x: float
    wide: float
    spell: Spell


@dataclass(frozen=True, slots=True)
class _Facts:
    """A row of camera_facts.sql; `homeless` frames lie outside every deployment."""

    camera: str
    frames: int
    untagged: int
    homeless: int
    doubtful: int
    last_local: datetime | None
    last_utc: datetime | None


@dataclass(frozen=True, slots=True)
class CameraShown(_Facts):
    """One camera. `last`: its last frame; `moved`: when its view moved, in the days shown."""

    last: datetime | None
    nights: int
    watched: int
    spells: list[Spell]
    hung: list[Hung]
    outages: list[Outage]
    bars: list[Bar] = field(default_factory=list)
    moved: list[MovedCamera] = field(default_factory=list)

    @property
    def bad(self) -> list[Spell]:
        """Spells in which it should have watched and did not; without any card nobody knows."""
        return [] if not self.frames else [spell for spell in self.spells if spell.state in _BAD]

    @property
    def nothing(self) -> list[Spell]:
        """Spells without a picture that a card that isn't loaded may hold."""
        return (
            [] if not self.frames else [spell for spell in self.spells if spell.state in _NOTHING]
        )

    @property
    def since(self) -> datetime | None:
        """Since when it is known to be up, at its first spot."""
        return min((one.hung for one in self.hung if one.hung), default=None)

    @property
    def flags(self) -> str:
        """What needs a look, in a few words: nights without work, pictures without a place."""
        bad, none = (sum(spell.nights for spell in some) for some in (self.bad, self.nothing))
        given = (
            (bad, f"{counted(bad, 'night')} down or quiet"),
            (none, f"{counted(none, 'night')} without pictures (a card not loaded?)"),
            (self.homeless, f"{counted(self.homeless, 'picture')} without a place"),
            (len(self.moved), "its view moved"),
            (self.doubtful, f"{counted(self.doubtful, 'doubtful time')}"),
        )
        return ", ".join(words for n, words in given if n)


NO_CARD, NOTHING = "no card", "nothing"
STATES = {
    WATCHED: "worked",
    "silent": "quiet longer than it should be",
    "outage": "you marked it down",
    "doubtful times": "its times are in doubt",
    "after the last sign of life": "nothing since its last picture",
    NO_CARD: "no card loaded",
    NOTHING: "no pictures: a card not loaded, or was the camera down?",
}
"""What a strip shows, for people."""
_NOTHING = (NO_CARD, NOTHING)
_BAD = tuple(state for state in STATES if state not in (WATCHED, *_NOTHING))


@dataclass(frozen=True, slots=True)
class _Night:
    """A row of camera_nights.sql."""

    camera: str
    deployment: str
    night: date
    watched: bool
    why: str | None


def cameras(session: Session, season: int | None) -> tuple[list[CameraShown], date, date]:
    """Give every camera with its nights of a season (None: all), and the days that strips span."""
    start = "{:02d}-{:02d}".format(*session.settings.season_start)
    nights = rows(session.con, "camera_nights", _Night, season=season, start=start)
    by_camera: defaultdict[str, list[_Night]] = defaultdict(list)
    for night in nights:
        by_camera[night.camera].append(night)
    hung, out, moved = deployments(session), outages(session), moved_cameras(session)
    days = [n.night for n in nights] or [date.today()]  # noqa: DTZ011 (an empty strip)
    first, last = min(days), max(days)
    shown = [m for m in moved if first <= m.after.date() and m.before.date() <= last]
    made = [
        _shown(facts, by_camera[facts.camera], hung, out, shown, (first, last))
        for facts in rows(session.con, "camera_facts", _Facts)
    ]
    return made, first, last


def _shown(
    facts: _Facts,
    nights: list[_Night],
    hung: Iterable[Hung],
    out: Iterable[Outage],
    moved: Iterable[MovedCamera],
    days: tuple[date, date],
) -> CameraShown:
    found = spells((n.night, WATCHED if n.watched else n.why or "silent") for n in nights)
    utc, local = facts.last_utc, facts.last_local
    mine = [one for one in hung if one.camera == facts.camera]
    hanging = _without_card(mine, {n.deployment for n in nights}, *days)
    return CameraShown(
        **asdict(facts),
        last=local_of(utc, local) if utc and local else None,
        nights=len(nights),
        watched=sum(n.watched for n in nights),
        spells=found,
        hung=mine,
        outages=[one for one in out if one.camera == facts.camera],
        bars=[_bar(spell, *days) for spell in (*found, *hanging)],
        moved=[one for one in moved if one.camera == facts.camera],
    )


def _without_card(
    hung: Iterable[Hung], known: Container[str], first: date, last: date
) -> Iterator[Spell]:
    """Give the days shown on which it hung at a spot from which no card has a night."""
    for one in hung:
        if one.deployment in known:
            continue
        begin = max(first, one.hung.date())
        end = min(last, one.until.date() - timedelta(days=1)) if one.until else last
        if begin <= end:
            yield Spell(NO_CARD, begin, end, (end - begin).days + 1)


def spells(nights: Iterable[tuple[date, str]]) -> list[Spell]:
    """Join nights (in order) that follow one another in the same state."""
    found: list[Spell] = []
    for night, state in nights:
        last = found[-1] if found else None
        if last and last.state == state and night - last.last <= timedelta(days=1):
            found[-1] = Spell(state, last.first, night, last.nights + (night != last.last))
        else:
            found.append(Spell(state, night, night, 1))
    return found


def _bar(spell: Spell, first: date, last: date) -> Bar:
    scale = STRIP_WIDE / ((last - first).days + 1)
    x = (spell.first - first).days * scale
    wide = ((spell.last - spell.first).days + 1) * scale
    return Bar(round(x, 1), max(1.0, round(wide, 1)), spell)


def months(first: date, last: date) -> list[tuple[float, str]]:
    """Give where each month begins on a strip [pixels], with its name."""
    scale = STRIP_WIDE / ((last - first).days + 1)
    found, day = [], first.replace(day=1)
    while day <= last:
        x = max(0.0, (day - first).days * scale)
        found.append((round(x, 1), f"{day:%b}"))
        day = (day + timedelta(days=32)).replace(day=1)
    # A month that is cut off at either side leaves no room for its name.
    ends = [x for x, _ in found[1:]] + [STRIP_WIDE]
    return [month for month, end in zip(found, ends, strict=True) if end - month[0] > 34]
