"""The visits by deer of which frames were lost, by name and in pictures, for docs/accuracy.md."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from scenes import Grid, Shot, drawn

PICTURES = Path(__file__).resolve().parents[1] / "docs" / "pictures"
TALL, ACROSS = 150, 3  # a picture's rows, visits in a row
BOX = (40, 160, 255)  # blue, green, red


@dataclass(frozen=True)
class Lost:
    """A frame with a deer that went: of which scenes and which of their cameras, how, and its news
    as a multiple of the threshold."""

    scenes: str
    camera: int
    shot: Shot
    how: str
    over: float


def lost(name: str, frames: Iterable[Lost]) -> list[str]:
    """Markdown that names every such visit and shows its first lost frame; draws the picture."""
    visits: dict[tuple[str, int, int], list[Lost]] = {}
    for one in frames:
        visits.setdefault((one.scenes, one.camera, one.shot.burst), []).append(one)
    path = PICTURES / f"lost-{name}.jpg"
    path.unlink(missing_ok=True)
    if not visits:
        return ["No frame with a deer was lost.", ""]
    cells = [_cell(nth, of[0].shot) for nth, of in enumerate(visits.values(), 1)]
    cv2.imwrite(str(path), _sheet(cells), [cv2.IMWRITE_JPEG_QUALITY, 80])
    head = ("visit", "scenes", "light", "deer's height", "it", "frames lost", "how", "news / asked")
    return [
        f"**What was lost**, all of it: {len(visits)} visits. The picture shows each visit's first "
        "lost frame, as it was compared, and the deer from near.",
        "",
        f"| {' | '.join(head)} |",
        "|---" * len(head) + "|",
        *(f"| {' | '.join(_line(nth, of))} |" for nth, of in enumerate(visits.values(), 1)),
        "",
        f"![Each lost visit, numbered as in the table](pictures/{path.name})",
        "",
    ]


def _line(nth: int, of: Sequence[Lost]) -> list[str]:
    first = of[0]
    deer = first.shot.deer
    assert deer is not None
    does = "walks" if first.shot.heading else "lies" if deer.bedded else "stands"
    how = {"aside": "set aside", "sheet": "on the sheet"}[first.how]
    light = first.shot.light.replace("colour", "color")
    hides = ", partly hidden" if deer.hidden else ""
    over = f"{min(o.over for o in of):.2f}"
    tall = f"{deer.height:.1%}"
    return [str(nth), first.scenes, light, tall, does + hides, str(len(of)), how, over]


def _cell(nth: int, shot: Shot) -> Grid:
    """The whole frame with a box around the deer, and beside it the deer from near."""
    pixels = np.asarray(shot.pixels, np.uint8)
    rows, columns = pixels.shape[:2]
    assert shot.deer is not None
    y, x = np.nonzero(drawn(shot.deer, rows, columns)[1] > 0.5)
    side = int(min(rows, max(40, 2.2 * (np.ptp(y) + 1), 1.5 * (np.ptp(x) + 1))))
    top, left = (
        int(np.clip(middle - side / 2, 0, most - side))
        for middle, most in ((y.mean(), rows), (x.mean(), columns))
    )
    near = pixels[top : top + side, left : left + side]
    near = cv2.resize(near, (TALL, TALL), interpolation=cv2.INTER_CUBIC)
    whole = pixels.copy()
    cv2.rectangle(whole, (left, top), (left + side - 1, top + side - 1), BOX, 1)
    whole = cv2.resize(whole, (columns * TALL // rows, TALL), interpolation=cv2.INTER_AREA)
    cv2.putText(whole, str(nth), (5, 18), cv2.FONT_HERSHEY_SIMPLEX, 0.55, (255, 255, 255), 2)
    cv2.putText(whole, str(nth), (5, 18), cv2.FONT_HERSHEY_SIMPLEX, 0.55, (0, 0, 0), 1)
    return cv2.copyMakeBorder(
        np.hstack([whole, near]), 3, 3, 3, 3, cv2.BORDER_CONSTANT, value=(255,) * 3
    )


def _sheet(cells: Sequence[Grid]) -> Grid:
    blank = np.full_like(cells[0], 255)
    filled = [*cells, *[blank] * (-len(cells) % ACROSS)] if len(cells) > ACROSS else cells
    across = min(len(cells), ACROSS)
    return np.vstack([np.hstack(filled[k : k + across]) for k in range(0, len(filled), across)])
