"""From news to a score: how likely a frame is empty, and which frames are set aside.

The score is 1 / (1 + (news / threshold)²): 0.5 at the threshold, 1 where nothing at all is new.
Frames above 0.5 are set aside; frames of which nothing can be said score 0 and are not. The
thresholds were set so that 99% of the frames with an animal are kept in rendered scenes of all
kinds together, and 98% in wind (docs/accuracy.md shows what they keep in others). What people tag
lowers a camera's own threshold: `thresholds.sql` says how.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from camsign.logbook.database import run_sql

if TYPE_CHECKING:
    from camsign.logbook.session import Session

THRESHOLDS: Mapping[str, float] = MappingProxyType({"colour": 1.5, "infrared": 2.0, "dark": 1.2})
"""News below which a frame is set aside, by light class, until a camera has its own."""

SET_ASIDE = 0.5
"""Frames with a higher score are likely empty. They are set aside, but those held for a look first
(the table `empty_scores` says which); none is hidden or deleted."""


BLIND = ("too dark", "glare")
"""Reasons why a frame cannot be judged that mean it shows nothing at all."""

SPOKEN = {
    "too few to compare": "with too few like them to compare",
    "no date": "without a date to compare them by",
}
"""How a reason reads behind a number of pictures, where it reads otherwise."""


@dataclass(frozen=True, slots=True)
class Aside:
    """How many frames of a camera were set aside as likely empty, of how many that have a score.

    look_first: how many are likely empty, but held for a look. cant_judge: how many could not be
    judged, by the reason, most frequent first. taught: from how many bursts that a person had
    tagged as nothing was learned what shows there when nothing does.
    """

    camera: str
    frames: int
    scored: int
    likely_empty: int
    look_first: int = 0
    cant_judge: Mapping[str, int] = field(default_factory=dict)
    taught: int = 0


def empty_score(news: float | None, threshold: float) -> float:
    """Give the score, 0..1, of a frame with so much news (None: nothing can be said)."""
    return 0.0 if news is None else 1.0 / (1.0 + (news / threshold) ** 2)


def fit_thresholds(session: Session, cameras: Collection[str] | None = None) -> set[str]:
    """Fit the thresholds of these cameras, or of all, to what people tagged.

    Returns:
        The cameras whose thresholds moved: their frames are to be scored again.
    """
    rows = "SELECT camera, light, threshold FROM empty_thresholds"
    before = set(session.con.execute(rows).fetchall())
    among = None if cameras is None else sorted(cameras)
    given = {"lights": list(THRESHOLDS), "values": list(THRESHOLDS.values())}
    run_sql(session.con, __file__, "thresholds.sql", cameras=among, **given)
    after = set(session.con.execute(rows).fetchall())
    return {camera for camera, *_ in before ^ after if camera is not None}


def score(session: Session, cameras: Collection[str] | None = None) -> None:
    """Make `empty_scores` of the frames of these cameras, or of all."""
    among = None if cameras is None else sorted(cameras)
    run_sql(session.con, __file__, "scores.sql", cameras=among)


def set_aside(session: Session, cards: Sequence[str] | None = None) -> list[Aside]:
    """Count by camera what was set aside, of all frames or of these cards' (their ids)."""
    given = None if cards is None else list(cards)
    rows = run_sql(session.con, __file__, "set_aside.sql", cards=given).fetchall()
    out: dict[str, Aside] = {}
    for camera, why, *counts in rows:
        before = out.get(camera, Aside(camera, 0, 0, 0))
        frames, scored, empty, look, taught = counts
        out[camera] = Aside(
            camera,
            before.frames + frames,
            before.scored + scored,
            before.likely_empty + empty,
            before.look_first + look,
            {**before.cant_judge, **({why: frames} if why else {})},
            max(before.taught, taught),
        )
    return list(out.values())
