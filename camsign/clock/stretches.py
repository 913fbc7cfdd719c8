"""Cards in the order of their files: where a clock jumped, and what else the order says of it.

A clock that goes back while file numbers go on was set anew. Between such breaks lies a stretch in
which the clock ran on. All functions work on arrays; times are seconds, readings are counted as if
they were UTC.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from camsign.arrays import Bools, Floats, Ints

# The hour of a switch, and more, is no break.
BACK_S = 7200.0
# Nobody hangs a camera for a year without a picture: the clock was set, or a date is garbage.
_LEAP_S = 365 * 86400.0
# Frames of a burst are written one after another; a second back is rounding.
_OUT_OF_ORDER_S = 2.0
_FILE_TIME_S = 120.0


@dataclass(frozen=True, slots=True)
class Shots:
    """Frames, an element each, in the order of camera, card, folder, file number.

    `shown_s`: what the clock showed (NaN: nothing); `read_s`: UTC as read so far; `deployment` -1
    for none; `near`: the deployment in or around whose time the reading lies, else -1; `light` 1
    color, 0 infrared or dark, -1 not looked at; `burst` any number; `file_s` the file's own
    stamp; `fine`: the reading has parts of a second; `odd`: it counts in no answer, since the
    picture states an offset from UTC that its place doesn't have.
    """

    frame: npt.NDArray[Any]
    camera: Ints
    card: Ints
    folder: Ints
    number: Ints
    shown_s: Floats
    read_s: Floats
    deployment: Ints
    near: Ints
    light: Ints
    brightness: Floats
    burst: npt.NDArray[Any]
    file_s: Floats
    fine: Bools
    odd: Bools

    def some(self, which: Bools | Ints) -> Shots:
        """The frames of a mask or index, in the same order."""
        return Shots(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


def stretch_numbers(shots: Shots) -> Ints:
    """Number the stretches of one card, from 0, in file order.

    A break is where, in one folder, the reading goes back by more than two hours, where it comes
    into or leaves the time of the deployments, or outside of that leaps ahead by a year. A folder
    that begins anew (clips beside pictures) counts its own breaks from 0.
    """
    number = np.zeros(len(shots.shown_s), dtype=np.int64)
    dated = np.flatnonzero(np.isfinite(shots.shown_s))
    if len(dated) < 2:
        return number
    shown, folder = shots.shown_s[dated], shots.folder[dated]
    likely = shots.near[dated] >= 0
    back = np.diff(shown) < -BACK_S
    other = np.diff(folder) != 0
    flips = likely[1:] != likely[:-1]
    leaps = (np.diff(shown) > _LEAP_S) & ~likely[1:] & ~other
    breaks = np.concatenate([[0], np.cumsum(flips | leaps | (back & ~other))])
    anew = np.concatenate([[False], other & back & ~flips])
    since = np.maximum.accumulate(np.where(anew, np.arange(len(dated)), 0))
    begun = np.where(since > 0, breaks[since], 0)
    number[dated] = breaks - begun
    # What shows no time goes with the file before it.
    last = np.maximum.accumulate(np.where(np.isfinite(shots.shown_s), np.arange(len(number)), 0))
    return number[last]


@dataclass(frozen=True, slots=True)
class OrderCheck:
    """How well order and clock agree: frames that are out of order, and a line on each kind."""

    out_of_order: int
    fractions_back: int
    stamps_apart: int
    stamp_shift_s: float | None

    def lines(self) -> tuple[str, ...]:
        """What is odd, in words; nothing if all agrees."""
        said = []
        if n := self.out_of_order:
            many = "1 frame shows" if n == 1 else f"{n} frames show"
            said.append(f"{many} an earlier time than the file before")
        if n := self.fractions_back:
            said.append(f"parts of a second run back inside {n} burst{'s' * (n > 1)}")
        if n := self.stamps_apart:
            many = "1 file carries" if n == 1 else f"{n} files carry"
            said.append(f"{many} another time than {'its' if n == 1 else 'their'} picture")
        return tuple(said)


def check_order(shots: Shots) -> OrderCheck:
    """Compare file order, parts of a second and the files' own stamps with what the clock showed.

    A shift that all stamps share (another zone, a copy) is taken off first; where they scatter by
    more than a day, they are the copy's own and say nothing.
    """
    dated = shots.some(np.isfinite(shots.shown_s))
    if len(dated.shown_s) < 2:
        return OrderCheck(0, 0, 0, None)
    step = np.diff(dated.shown_s)
    along = (np.diff(dated.folder) == 0) & (np.diff(dated.card) == 0)
    together = along & (dated.burst[1:] == dated.burst[:-1]) & dated.fine[1:] & dated.fine[:-1]
    late = along & (step < -_OUT_OF_ORDER_S)
    bursts = len(np.unique(dated.burst[1:][together & (step < 0)]))
    apart, shift = _stamps(dated)
    return OrderCheck(int(late.sum()), bursts, apart, shift)


def _stamps(dated: Shots) -> tuple[int, float | None]:
    known = np.isfinite(dated.file_s)
    if not known.any():
        return 0, None
    ahead = dated.file_s[known] - dated.shown_s[known]
    middle = float(np.median(ahead))
    if np.quantile(np.abs(ahead - middle), 0.25) > 86400:
        return 0, None
    return int((np.abs(ahead - middle) > _FILE_TIME_S).sum()), middle


def one_a_burst(shots: Shots) -> tuple[Ints, Floats]:
    """Give the first frame of each burst (as an index) and the share of its frames in color.

    Frames without a time or a look are left out.
    """
    usable = np.flatnonzero((shots.light >= 0) & np.isfinite(shots.read_s))
    if not len(usable):
        return usable, np.zeros(0)
    burst = shots.burst[usable]
    _, first, which, count = np.unique(
        burst, return_index=True, return_inverse=True, return_counts=True
    )
    colour = np.bincount(which, weights=shots.light[usable], minlength=len(first)) / count
    return usable[first], colour
