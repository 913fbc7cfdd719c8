"""Frames as they are compared, and what each shows within one pixel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from camsign.pixels.planes import Planes, Range, range_of


@dataclass(frozen=True, slots=True)
class FramePlanes:
    """A frame as it is compared: seconds since any instant, its burst's number, its planes."""

    at: float
    burst: int
    planes: Planes


def bursts_of(frames: Sequence[FramePlanes]) -> list[list[int]]:
    """Give the indices of each burst's frames."""
    out: list[list[int]] = []
    for i, frame in enumerate(frames):
        if out and frames[out[-1][-1]].burst == frame.burst:
            out[-1].append(i)
        else:
            out.append([i])
    return out


class Ranges:
    """Ranges by frame, computed when first wanted."""

    def __init__(self, frames: Sequence[FramePlanes]) -> None:
        self._frames = frames
        self._made: dict[int, Range] = {}

    def __getitem__(self, i: int) -> Range:
        if i not in self._made:
            self._made[i] = range_of(self._frames[i].planes.both)
        return self._made[i]

    def forget(self, burst: Sequence[int], keep: Sequence[int]) -> None:
        """Let a burst's go, but those that are to be kept."""
        for i in set(burst) - set(keep):
            self._made.pop(i, None)
