"""Since the last check: what one camera did, what is wrong with it, what to do next."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from camsign.clock.audit import audit, needs_attention
from camsign.clock.audit_input import read
from camsign.clock.by_names import open_hours
from camsign.clock.outside import just_outside
from camsign.clock.verbs import proposals
from camsign.clock.verdicts import DISAGREES
from camsign.derive.silence import TOO_UNLIKELY, chance_of_silence
from camsign.errors import quoted
from camsign.logbook.database import run_sql
from camsign.logbook.moments import local
from camsign.logbook.naming import slip_of
from camsign.logbook.session import Session
from camsign.pixels.moved_cameras import moved_cameras
from camsign.units import counted

_RATE_DAYS = 30
_ENOUGH_DAYS = 5
# A card may lie in a pocket for a while before it is read: common practice, no source.
_POCKET_DAYS = 3


@dataclass(frozen=True, slots=True)
class SilentSpell:
    """Nights, first to last, on which the camera was silent too long for its own rate."""

    first: date
    last: date
    nights: int


@dataclass(frozen=True, slots=True)
class SinceLastCheck:
    """One camera since its frames were taken in before.

    `last_check`: the last frame that the logbook held before, None at the first check; times are
    local with offset. It worked on `nights_watched` of `nights` since then, sorted or not: whole
    nights at spots of which there is any picture. `stopped`: its last frame, if it is known to have
    hung longer without one than its own rate allows.
    `nothing`: silences before a spot's first picture or between two cards: a card that isn't
    loaded, or it was down. `card_full`: hardly any room was
    left on the card. `clock`: what the sun says against its clock. `moved`: when and how far its
    view moved since the last check. `bucks`: tagged in frames that were known before. `untagged` of
    `frames` new ones. `next_steps` are lines for people. `cards`: how many brought the new frames;
    `earlier`: the first day of new frames that are from before the last check, with whose nights
    `nights` begin.
    """

    camera: str
    last_check: datetime | None
    frames: int
    nights: int
    nights_watched: int
    silent: tuple[SilentSpell, ...]
    nothing: tuple[SilentSpell, ...]
    stopped: datetime | None
    card_full: bool
    clock: tuple[str, ...]
    moved: tuple[str, ...]
    bucks: tuple[str, ...]
    untagged: int
    next_steps: tuple[str, ...]
    cards: int = 1
    earlier: date | None = None


def since_last_check(
    session: Session, camera: str, cards: Sequence[str], card_full: bool
) -> SinceLastCheck:
    """Sum up what cards just taken in (their ids) say of their camera."""
    tz = session.settings.tz
    given = {"camera": camera, "cards": list(cards), "pocket": _POCKET_DAYS}
    cursor = run_sql(session.con, __file__, "since_last_check.sql", **given)
    names = [column[0] for column in cursor.description or ()]
    found = dict(zip(names, cursor.fetchall()[0], strict=True)) | {"cards": cards}
    last_check = local(found["last_check"], tz) if found["last_check"] else None
    since, first = last_check.date() if last_check else None, found["first_placed"]
    earlier = first if since and first and first < since else None
    since = earlier or since
    given = {"camera": camera, "since": since}
    nights = run_sql(session.con, __file__, "nights.sql", **given).fetchall()
    stopped = _stopped(found, tz)
    taken = read(session, camera)
    judged = audit(taken)
    doubts = bool(proposals(session, judged))
    asked = [f for f in judged if f.verdict == DISAGREES]
    days = [f"{f.why}. {f.remedy}" for f in asked] + just_outside(taken)
    # Of a camera that was never hung nothing can be judged, which has to be said as well.
    told = [f for f in judged if f not in asked and (needs_attention(f) or f.deployment is None)]
    clock = tuple(dict.fromkeys(f"{f.why}. {f.remedy}" if f.remedy else f.why for f in told))
    clock += tuple(open_hours(session, camera).values())
    found_moved = moved_cameras(session, camera)
    moved = tuple(m.words for m in found_moved if last_check is None or m.before > last_check)
    return SinceLastCheck(
        camera=camera,
        last_check=last_check,
        frames=found["frames"],
        nights=len(nights),
        nights_watched=sum(watched for _, watched, _ in nights),
        silent=_why(nights, "silent"),
        nothing=_why(nights, "nothing"),
        stopped=stopped[0] if stopped else None,
        card_full=card_full,
        clock=clock,
        moved=moved,
        bucks=tuple(found["bucks"]),
        untagged=found["untagged"],
        next_steps=(
            *_in_turns(session, cards),
            *days,
            *_next(camera, found, doubts, stopped, card_full),
            *([_bumped(camera)] if moved else []),
        ),
        cards=len(cards),
        earlier=earlier,
    )


def _in_turns(session: Session, cards: Sequence[str]) -> list[str]:
    """Say which of these cards can't be this camera's beside another one, and what settles it."""
    sql = (
        "SELECT what || '; ' || remedy FROM conflicts WHERE kind = 'cards in turns'"
        " AND list_has_any(ids, ?) ORDER BY what"
    )
    return [told for (told,) in session.con.execute(sql, [list(cards)]).fetchall()]


def _bumped(camera: str) -> str:
    again = f"camsign hang {quoted(camera)} --at LAT,LON --from DAY"
    return f"it got bumped: straighten it, or save how it looks now as a new spot: {again}"


def _why(nights: Iterable[tuple[date, bool, str | None]], which: str) -> tuple[SilentSpell, ...]:
    return tuple(spells(night for night, _, why in nights if why == which))


def spells(nights: Iterable[date]) -> list[SilentSpell]:
    """Join nights (in order) that follow one another."""
    found: list[SilentSpell] = []
    for night in nights:
        if found and night - found[-1].last <= timedelta(days=1):
            found[-1] = SilentSpell(found[-1].first, night, found[-1].nights + 1)
        else:
            found.append(SilentSpell(night, night, 1))
    return found


def _stopped(found: dict[str, Any], tz: str) -> tuple[datetime, str] | None:
    """Give a camera's last frame, local, and how it is known to have hung longer, if by its own
    rate it was silent for too long before the card was pulled.

    Nobody can tell a dead camera's card from an old one by the day it is read: when it was pulled
    must be known, by a stated take-down or by the other cards of the same round.
    """
    if not found["days"]:
        return None
    last = local(found["last_utc"], tz)
    if found["taken_down"]:
        pulled = local(found["taken_down"] - timedelta(seconds=1), tz).date()
        how = f"but was taken down on {pulled}"
    elif found["hangs"] and found["others_utc"]:
        pulled = local(found["others_utc"], tz).date()
        how = f"while the other cards of these days go on to {pulled}"
    else:
        return None
    silent = (pulled - last.date()).days - 1
    first = max(found["days"][0], last.date() - timedelta(days=_RATE_DAYS))
    of = (last.date() - first).days + 1
    lively = sum(day >= first for day in found["days"])
    if silent < 1 or of < _ENOUGH_DAYS:
        return None
    too_long = chance_of_silence(silent, lively, of) < TOO_UNLIKELY
    return (last, how) if too_long else None


def _next(
    camera: str,
    found: dict[str, Any],
    clock: bool,
    stopped: tuple[datetime, str] | None,
    full: bool,
) -> Iterable[str]:
    name = quoted(camera)
    if found["homeless"]:
        day, have = found["first_day"] or "DAY", "has" if found["homeless"] == 1 else "have"
        hang = f"camsign hang {name} --at LAT,LON --from {day}"
        if meant := slip_of(camera, found["hung"]):
            as_meant = f"--camera {quoted(meant)}"
            moves = " and ".join(f"camsign cards set {card} {as_meant}" for card in found["cards"])
            yield (
                f"no camera {camera} is hung here. Did you mean {meant}? Then: {moves}. "
                f"If {camera} is a new camera, hang it: {hang}"
            )
        else:
            pictures = counted(found["homeless"], "picture")
            yield f"{pictures} {have} no place: say where {camera} hung: {hang}"
    if found["undated"]:
        one = found["undated"] == 1
        told = "has no date, so it counts" if one else "have no date, so they count"
        yield f"{counted(found['undated'], 'picture')} {told} for no spot of {camera}"
    if clock:
        yield f"fix its clock: camsign clock audit {name} --apply"
    if full:
        yield "its card was full: use a larger one, or come more often"
    elif stopped:
        yield (
            f"it gave nothing after {stopped[0]:%Y-%m-%d}, {stopped[1]}: "
            "look at its batteries, card and lens"
        )
    if found["untagged"]:
        yield f"tag what is in its pictures: camsign frames --camera {name} --untagged"
