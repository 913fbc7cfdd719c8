"""What pictures of a season say about who bedded where: plain arrays, no database behind them.

Bucks, days and areas are numbered from 0. A day's two ends are 0 (around sunrise, coming in) and 1
(around sunset, going out). Of several pictures at one end only the deciding one counts: the last of
a morning, the first of an evening, those with a known direction first.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

from camsign.arrays import Bools, Floats, Ints

MORNING, EVENING = 0, 1
DARK, LIT = 0, 1
UNTOLD, IN, ACROSS, OUT = 0, 1, 2, 3


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """Ends of days with a picture, one element each.

    `half`: DARK or LIT, on which side of sunrise or sunset (less half an hour) it was taken. `way`:
    UNTOLD, or against the bearing to the area's center. `inside`: the camera hangs in the area.
    """

    buck: Ints
    day: Ints
    area: Ints
    end: Ints
    half: Ints
    way: Ints
    inside: Bools

    def take(self, rows: Ints | Bools) -> Looks:
        """Give these of them, in this order."""
        return Looks(*(getattr(self, f.name)[rows] for f in fields(self)))


@dataclass(frozen=True, slots=True, eq=False)
class Nameless:
    """Ends of days with a picture of a buck nobody named, one element each, as in `Looks`.

    `area`, `way`, `inside` have two columns: a camera may speak for two areas; the second area is
    -1 if it does not.
    """

    day: Ints
    end: Ints
    half: Ints
    area: Ints
    way: Ints
    inside: Bools


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """A season.

    `watch` (days, areas): which set of cameras watched at both ends, numbered over all areas, -1
    for none; `cameras` (sets): how many are in each. `stirred` (bucks, days, areas): seen there in
    full daylight; `within`: by a camera inside it. `far`: so far off that he hardly bedded there.
    `night_hits` (bucks, areas): stretches of an hour and a half at night with a picture of him, of
    `night_spans` (areas) watched. `likes` (areas): how likely a bed it is before any picture, 1 for
    a bedding area without sign.
    """

    bucks: int
    days: int
    areas: int
    looks: Looks
    nameless: Nameless
    watch: Ints
    cameras: Ints
    stirred: Bools
    within: Bools
    far: Bools
    night_hits: Floats
    night_spans: Floats
    likes: Floats
