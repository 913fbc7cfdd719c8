"""Frames as they are compared, and what is made of each when it is first wanted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from camsign.pixels.planes import Planes, Range, range_of

T = TypeVar("T")


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


class Made(Generic[T]):
    """What is made of each frame's planes, by the frame's number: when first wanted."""

    def __init__(self, frames: Sequence[FramePlanes], make: Callable[[Planes], T]) -> None:
        self._frames, self._make = frames, make
        self._made: dict[int, T] = {}

    def __getitem__(self, i: int) -> T:
        if i not in self._made:
            self._made[i] = self._make(self._frames[i].planes)
        return self._made[i]

    def forget(self, burst: Sequence[int], keep: Sequence[int]) -> None:
        """Let a burst's go, but those that are to be kept."""
        for i in set(burst) - set(keep):
            self._made.pop(i, None)


def ranges_of(frames: Sequence[FramePlanes]) -> Made[Range]:
    """Give what each frame shows within one pixel."""
    return Made(frames, lambda planes: range_of(planes.both))
