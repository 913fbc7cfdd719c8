"""The sorting page's strips, what one camera showed without a long gap, and lists of them.

An order that was shown stays as it is while tags are made, so that nothing moves under the hand; it
is made anew when the page asks for a new list.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from typing import Any

from camsign.answers.result import local_of
from camsign.formats.days import moved_words
from camsign.logbook.database import run_sql
from camsign.logbook.edits import Subject
from camsign.logbook.session import Session
from camsign.page.rows import dicts, rows
from camsign.tags.tagging import in_words

MOST_STRIPS = 100
"""At most so many strips are given at once."""
FIRST_STRIPS = 12
"""So many come along with a new list."""
_MARKS = {"animal": "animal", "person": "people", "vehicle": "people", "nothing": "nothing"}


def make_strips(session: Session) -> None:
    """Make the tables page.strips (a row a frame) and page.visits (a row a strip) anew."""
    con = session.con
    con.begin()
    try:
        con.execute("CREATE SCHEMA IF NOT EXISTS page")
        run_sql(con, __file__, "queries/strips.sql", gap=session.settings.visit_gap_s)
        run_sql(con, __file__, "queries/visits.sql")
    except BaseException:
        con.rollback()
        raise
    con.commit()


@dataclass(frozen=True, slots=True)
class Filter:
    """Which strips are wanted; None means all. Days are local, both included.

    light: color, infrared or dark. tagged: no, partly or yes. doubt: time or unsure.
    """

    cameras: list[str] | None = None
    deployments: list[str] | None = None
    buck: str | None = None
    first: date | None = None
    last: date | None = None
    light: str | None = None
    tagged: str | None = None
    doubt: str | None = None
    oldest: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a list: untagged, partly, tagged or empty; its strips in order, its frames."""

    part: str
    frames: int
    strips: list[str]


def listed(session: Session, wanted: Filter) -> list[Part]:
    """Give the strips that a filter lets through, untagged ones first, likely-empty ones last."""
    return rows(session.con, "list", Part, **asdict(wanted))


def nearest(session: Session, parts: Sequence[Part], day: date) -> tuple[str, int] | None:
    """Give the part and the place in it of the visit nearest to a local day; None without any."""
    known = dict(session.con.execute("SELECT strip, first FROM page.visits").fetchall())
    found = [
        (abs((known[strip] - day).days), nth, at, part.part)
        for nth, part in enumerate(parts)
        for at, strip in enumerate(part.strips)
        if known.get(strip)
    ]
    if not found:
        return None
    _, _, at, name = min(found)
    return name, at


_OF_STRIP = ("strip", "camera", "deployment", "card", "facing_deg")
_OF_FRAME = ("frame", "burst", "light", "kind", "doubt", "shown", "box", "way")


def strips(session: Session, wanted: Sequence[str]) -> list[dict[str, Any]]:
    """Give strips with all their frames, in the order of `wanted`; what is gone is left out.

    Of a strip `facing_deg` says where its camera looks [deg true], `wide` that its pictures are
    wider than 3 to 2. Of a frame `at`: local time with offset, or None; `kind`: jpeg, mp4, ...;
    `shown`: what the camera's clock showed, where that is a minute or more off, and `why` it is;
    `box`: where something is new, as shares of the picture: left, top, width, height; `way`: left
    or right, as estimated across its burst.
    """
    found: dict[str, dict[str, Any]] = {}
    frames = dicts(session.con, "frames", strips=list(wanted))
    tags = tags_of(session, (row["frame"] for row in frames))
    for row in frames:
        if row["strip"] not in found:
            strip = {name: row[name] for name in _OF_STRIP}
            found[row["strip"]] = strip | {"wide": bool(row["wide"]), "frames": []}
        at = row["utc"] and row["local"] and local_of(row["utc"], row["local"])
        shown = row["shown"] and datetime.fromisoformat(row["shown"])
        frame = {name: row[name] for name in _OF_FRAME}
        frame |= {
            "at": at.isoformat(timespec="seconds") if at else None,
            "tags": tags[row["frame"]],
            "why": shown and why_moved(row["basis"], row["local"], shown),
        }
        found[row["strip"]]["frames"].append(frame)
    return [found[strip] for strip in wanted if strip in found]


_RULES = {
    "offset in the picture": "by the UTC offset in the picture",
    "hung, since": "its clock rule is not understood",
}


def why_moved(basis: str, at: datetime, shown: datetime) -> str:
    """Say why a picture's time (local, naive) is not what its camera showed, by the `basis` of
    frame_times."""
    if basis.startswith("correction"):
        return f"clock fixed: {moved_words(round((at - shown).total_seconds() / 60))}"
    if basis == "hung" and abs(at - shown) != timedelta(hours=1):
        return "set in another time zone"
    if basis == "hung":
        return f"still on {'daylight saving' if shown > at else 'standard'} time"
    if basis[0] in "+-":
        return f"its clock runs at UTC{basis}"
    rules = (words for name, words in _RULES.items() if basis.startswith(name))
    return next(rules, "in the hour that spring-forward skips")


def tags_of(session: Session, frames: Iterable[str]) -> dict[str, list[dict[str, Any]]]:
    """Give what stands on each of these frames as pages show it, also on those with nothing.

    `words` names a tag's subject; `mark` is buck, animal, people, nothing or unknown.
    """
    found: dict[str, list[dict[str, Any]]] = {frame: [] for frame in frames}
    known: dict[str, str] = {}  # words of subjects, which are asked for once each
    for row in dicts(session.con, "tags", frames=list(found)):
        words = row["buck"] or known.get(row["subject"])
        if words is None:
            subject = Subject(row["what"], row["buck_id"], row["species"], row["sex"], row["stage"])
            words = known[row["subject"]] = in_words(session, subject)
        mark = "buck" if row["buck_id"] else _MARKS.get(row["what"], "unknown")
        tag = {name: row[name] for name in ("subject", "buck_id", "count", "travel_deg")}
        tag |= {"words": words, "mark": mark, "unsure": row["sure"] == "unsure"}
        found[row["frame"]].append(tag)
    return found
