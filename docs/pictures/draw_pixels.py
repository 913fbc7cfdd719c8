"""Draws the pictures of docs/pixels.md from the demo's season, with the scores that camsign gives.

`python docs/pictures/draw_pixels.py DEMO`, where DEMO is what `camsign demo DEMO` left. The cases
that go wrong are not chosen by hand: they are the worst ones by the season's own truth.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from matplotlib import pyplot as plt

import camsign
from camsign.demo.season import make_season
from camsign.demo.specs import FrameSpec
from camsign.demo.walk import SEED
from camsign.pixels.decode import Reduced, decode_reduced
from camsign.pixels.look import look
from camsign.pixels.moved_cameras import moved_cameras

HERE = Path(__file__).parent
BOX = (40, 160, 255)  # blue, green, red
Picture = np.ndarray[Any, Any]
Case = tuple[Picture, str]


def sheet(name: str, rows: Sequence[tuple[str, Sequence[Case]]], wide: int) -> None:
    """Write a sheet: rows of pictures under a heading each, every picture with its words."""
    across, side, tall = max(len(cases) for _, cases in rows), 2.4, 1.35
    words = 0.3 + 0.12 * max(said.count("\n") + 1 for _, cases in rows for _, said in cases)
    high = len(rows) * (tall + words)
    figure = plt.figure(figsize=(across * side, high))
    for i, (heading, cases) in enumerate(rows):
        bottom = 1 - (i + 1) * (tall + words) / high
        top = bottom + (tall + words - 0.12) / high
        figure.text(0.006, top, heading, fontsize=9, fontweight="bold", va="center")
        for k, (picture, said) in enumerate(cases):
            axis = figure.add_axes((k / across + 0.004, bottom, 1 / across - 0.008, tall / high))
            axis.imshow(picture[:, :, ::-1], aspect="auto")
            axis.set_title(said, fontsize=7.5, pad=3)
            axis.axis("off")
    path = HERE / name
    figure.savefig(path, dpi=wide / (across * side), pil_kwargs={"quality": 80, "optimize": True})
    plt.close(figure)
    sys.stdout.write(f"{path}: {path.stat().st_size >> 10} kB\n")


class Demo:
    """The demo's logbook, its frames as camsign lists them, and the truth of each."""

    def __init__(self, folder: Path) -> None:
        self.book = camsign.open(folder / "logbook")
        season = make_season(SEED)
        truth = {(f.camera, shown(f)): f for f in season.frames}
        table = self.book.frames().astype(object)
        self.rows = []
        for row in table.where(table.notna(), None).to_dict("records"):
            spec = truth.get((row["camera"], row["clock_time"]))
            if spec is not None and row["compared"]:
                self.rows.append((row, spec))
        if len(self.rows) < 500:
            raise SystemExit(f"only {len(self.rows)} frames match the season: is this a demo?")

    def picture(self, row: dict[str, Any], box: bool = False) -> Picture:
        """Give a frame, with the box of its news if wanted."""
        out = cv2.resize(cv2.imread(str(self.book.folder.root / row["file"])), (768, 432))
        if box and row["box_x"] is not None:
            x, y = int(row["box_x"] * 768), int(row["box_y"] * 432)
            ends = (x + int(row["box_width"] * 768), y + int(row["box_height"] * 432))
            cv2.rectangle(out, (x, y), ends, BOX, 4)
        return out

    def some(self, fits: Callable[[dict[str, Any], FrameSpec], bool]) -> list[dict[str, Any]]:
        """Give the frames that fit, one a burst."""
        found: dict[str, dict[str, Any]] = {}
        for row, spec in self.rows:
            if fits(row, spec):
                found.setdefault(row["burst"], row)
        return list(found.values())


def shown(spec: FrameSpec) -> str:
    """Give what the camera's clock showed, as frames list it."""
    return (spec.shown + timedelta(milliseconds=spec.subsec)).isoformat("T", "milliseconds")


def judged(picture: Picture, words: str, quality: int = 90) -> Case:
    """Give a picture with its light class and the scores that are not 0."""
    data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()
    reduced = decode_reduced(data)
    assert isinstance(reduced, Reduced)  # noqa: S101
    found = look("f", reduced)
    numbers = json.loads(found.numbers)
    named = [(n, numbers[n]) for n in ("flash", "washed", "fogged", "blurred")]
    flaws = [f"{name} {value:.2f}" for name, value in named if value]
    return picture, f"{words}:\n{', '.join([found.light, *flaws])}"


def toned(night: Picture, blue: float, green: float, curve: float) -> Picture:
    """Tone an infrared picture; the curve makes its darker parts redder."""
    gray = night[:, :, 0] / 255.0
    return byte(np.dstack([blue * gray**curve, green * gray ** (1 + (curve - 1) / 4), gray]) * 255)


def byte(picture: Picture) -> Picture:
    """Cut to 0..255."""
    return np.clip(picture, 0, 255).astype(np.uint8)


def by_flash(night: Picture, day: Picture) -> Picture:
    """Lay the colors of a picture by day over one by infrared."""
    hue = day.astype(float) / np.maximum(day.astype(float).mean(axis=2, keepdims=True), 1)
    return byte(night[:, :, :1] * np.clip(hue, 0.4, 2.0))


def light(demo: Demo) -> None:
    """Draw light classes and flaws, right ones and ones at the limit."""
    day = demo.picture(demo.some(lambda _, s: s.light == "day" and not s.subjects)[8])
    nights = [demo.picture(r) for r in demo.some(lambda _, s: s.light == "infrared")[:40]]
    night = nights[3]
    purple = night * np.array([1.0, 0.82, 0.97])
    flashes = [judged(by_flash(one, day), "color by a flash") for one in nights]
    flashes.sort(key=lambda case: case[1].rpartition("flash ")[2] if "flash " in case[1] else "")
    rng = np.random.default_rng(1)
    sheet(
        "pixels-light.jpg",
        [
            ("Light", [
                judged(day, "by day"),
                judged(night, "by infrared"),
                judged(toned(night, 0.85, 0.94, 1.15), "infrared, sepia"),
                judged(byte(purple), "infrared, purple"),
                judged(byte(day * 0.07), "hardly any light"),
            ]),
            ("Flaws that are seen", [
                flashes[-1],
                judged(byte(day * 3.0), "sun into the lens"),
                judged(byte(day * 0.15 + 165 * 0.85), "fog or a wet lens"),
                judged(cv2.GaussianBlur(day, (0, 0), 12), "out of focus"),
            ]),
            ("Taken wrongly, or not seen", [
                judged(toned(night, 0.7, 0.88, 1.4), "infrared, strongly toned"),
                flashes[0],
                judged(byte(day * 0.7 + 165 * 0.3), "thin fog"),
                judged(cv2.GaussianBlur(day, (0, 0), 4), "slightly out of focus"),
                judged(
                    byte(cv2.GaussianBlur(day, (0, 0), 12) + rng.normal(0, 14, day.shape)),
                    "blurred, but grainy",
                ),
            ]),
        ],
        1200,
    )  # fmt: skip


def score(row: dict[str, Any]) -> str:
    """Write a frame's empty score."""
    return f"empty_score {row['empty_score']:.2f}"


def empty(demo: Demo) -> None:
    """Draw what is found, what is rightly set aside, and the worst mistakes on either side."""

    def lone(day: bool) -> list[dict[str, Any]]:
        """Frames with one animal that was found, by its distance."""
        far = {r["frame"]: s.subjects[0].distance_m for r, s in demo.rows if s.subjects}
        fits = demo.some(
            lambda r, s: (
                len(s.subjects) == 1
                and s.subjects[0].what in ("buck", "doe")
                and (s.light == "day") == day
                and not r["likely_empty"]
                and r["box_x"] is not None
            )
        )
        return sorted(fits, key=lambda r: far[r["frame"]])

    days, nights = lone(True), lone(False)
    found = [(days[0], "near"), (days[-1], "far off"), (nights[0], "near"), (nights[-1], "far off")]
    none = demo.some(lambda r, s: not s.subjects and r["likely_empty"])
    windy = {r["frame"]: s.weather.wind for r, s in demo.rows}
    aside = sorted(none, key=lambda r: -windy[r["frame"]])
    dark = [r for r in none if r["light"] == "infrared"]
    rightly = [(aside[0], "wind"), (aside[len(aside) // 2], "leaves"), (dark[0], "infrared")]
    rightly.append((aside[-1], "calm"))
    missed = sorted((r for r, s in demo.rows if s.subjects), key=lambda r: -r["empty_score"])
    kept = sorted(demo.some(lambda _, s: not s.subjects), key=lambda r: r["empty_score"])
    worst = [(r, "an animal") for r in once(missed)[:2]] + [(r, "empty") for r in once(kept)[:2]]
    said = {True: "set aside", False: "kept"}
    sheet(
        "pixels-empty.jpg",
        [
            ("Found, with the box of what is new",
             [(demo.picture(r, True), f"{words}: {score(r)}") for r, words in found]),
            ("Rightly set aside",
             [(demo.picture(r), f"{words}: {score(r)}") for r, words in rightly]),
            ("The worst of the whole season",
             [(demo.picture(r, True), f"{words}, {said[r['likely_empty']]}: {score(r)}")
              for r, words in worst]),
        ],
        1200,
    )  # fmt: skip


def once(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Keep the first frame of each camera."""
    found: dict[str, dict[str, Any]] = {}
    for row in rows:
        found.setdefault(row["camera"], row)
    return list(found.values())


def travel(demo: Demo) -> None:
    """Draw a burst whose way is seen, and one whose way is not or is wrong."""
    bursts: dict[str, list[tuple[dict[str, Any], FrameSpec]]] = {}
    for row, spec in demo.rows:
        bursts.setdefault(row["burst"], []).append((row, spec))
    alone = [b for b in bursts.values() if len(b) == 3 and all(len(s.subjects) == 1 for _, s in b)]
    going = [b for b in alone if b[0][1].subjects[0].travel_deg is not None]

    def true_way(burst: list[tuple[dict[str, Any], FrameSpec]]) -> str:
        return "right" if burst[-1][1].subjects[0].x > burst[0][1].subjects[0].x else "left"

    def moved(burst: list[tuple[dict[str, Any], FrameSpec]]) -> float:
        return abs(burst[-1][1].subjects[0].x - burst[0][1].subjects[0].x)

    right = [b for b in going if b[0][0]["estimated_way"] == true_way(b)]
    wrong = [b for b in going if b[0][0]["estimated_way"] not in (true_way(b), None)]
    none = [b for b in going if b[0][0]["estimated_way"] is None]
    sys.stdout.write(f"travel: {len(right)} right, {len(wrong)} wrong, {len(none)} not said\n")
    chosen = [("The way is seen", max(right, key=moved))]
    if none:
        chosen.append(("No way is said", max(none, key=moved)))
    if wrong:
        chosen.append(("Wrong", max(wrong, key=moved)))
    sheet(
        "pixels-travel.jpg",
        [
            (heading, [
                (demo.picture(row, True), f"{row['local']:%H:%M:%S}   {way(row)}")
                for row, _ in burst
            ])
            for heading, burst in chosen
        ],
        900,
    )  # fmt: skip


def way(row: dict[str, Any]) -> str:
    """Write a suggested way."""
    if row["estimated_way"] is None:
        return "no way"
    low, high = row["estimated_travel_deg_low"], row["estimated_travel_deg_high"]
    return f"{row['estimated_way']}, {low:.0f}° to {high:.0f}° (estimated)"


def moved(demo: Demo) -> None:
    """Draw a camera before and after its move."""
    with demo.book.session() as session:
        found = moved_cameras(session)
    cases: list[Case] = []
    for move in found[:1]:
        mine = [r for r, _ in demo.rows if r["camera"] == move.camera and r["light"] == "colour"]
        for row in (
            [r for r in mine if r["local"] <= move.after][-1],
            next(r for r in mine if r["local"] >= move.before),
        ):
            cases.append((demo.picture(row), f"{row['local']:%Y-%m-%d %H:%M}"))
        heading = f"{move.camera}: {move.amount}"
    sheet("pixels-moved.jpg", [(heading, cases)], 800)


if __name__ == "__main__":
    given = Demo(Path(sys.argv[1]))
    for draw in (light, empty, travel, moved):
        draw(given)
