"""Logbooks for the tests of the pages, made on the spot: cards written as an ingest leaves them."""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

from camsign.logbook import journal, lock, receipts
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder, create
from camsign.logbook.parquet import RowFile
from camsign.logbook.records import FrameFacts, Look

HOME = (44.1, -71.5)
TZ = "America/New_York"
START = datetime(2025, 10, 3, 5, 0)


@dataclass(frozen=True)
class Shot:
    """One frame: what its camera's clock showed, its light, and what to draw."""

    shown: datetime
    light: str = "colour"
    deer_at: float | None = None


def season(camera_number: int, visits: int, frames: int = 6, gap_hours: float = 5) -> list[Shot]:
    """Shots of one camera: visits of bursts of three, `frames` in each visit."""
    shots = []
    for v in range(visits):
        begin = START + timedelta(hours=v * gap_hours, minutes=7 * camera_number)
        light = "colour" if 7 <= begin.hour < 18 else "infrared"
        for i in range(frames):
            at = begin + timedelta(minutes=3 * (i // 3), seconds=2 * (i % 3))
            shots.append(Shot(at, light, (i + 1) / (frames + 1)))
    return shots


@lru_cache(maxsize=2000)
def picture(shot: Shot, camera: str, number: int, width: int = 1280, height: int = 960) -> bytes:
    """Draw a frame: ground, trees, perhaps a deer shape, a strip with the time."""
    rng = np.random.default_rng(zlib.crc32(camera.encode()))
    night = shot.light != "colour"
    top, low = ((18, 18, 18), (60, 60, 60)) if night else ((200, 190, 170), (60, 90, 70))
    ramp = np.linspace(0, 1, height)[:, None, None]
    image = np.broadcast_to((1 - ramp) * top + ramp * low, (height, width, 3)).astype(np.uint8)
    image = np.ascontiguousarray(image)
    for _ in range(14):
        x, w = int(rng.uniform(0, width)), int(rng.uniform(8, 40) * width / 1280)
        shade = int(rng.uniform(20, 70))
        cv2.rectangle(
            image, (x, 0), (x + w, int(height * rng.uniform(0.7, 0.95))), (shade,) * 3, -1
        )
    if shot.deer_at is not None:
        _deer(image, shot.deer_at, (150, 150, 150) if night else (50, 80, 120))
    cv2.rectangle(image, (0, height - 40), (width, height), (0, 0, 0), -1)
    words = f"{camera}  {shot.shown:%Y-%m-%d %H:%M:%S}  {number:05d}"
    cv2.putText(image, words, (12, height - 12), cv2.FONT_HERSHEY_SIMPLEX, 0.8, (255,) * 3, 2)
    return bytes(cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, 80])[1])


def _deer(image: np.ndarray, at: float, colour: tuple[int, int, int]) -> None:
    height, width = image.shape[:2]
    x, y, s = int(at * width), int(height * 0.66), height / 960
    cv2.ellipse(image, (x, y), (int(110 * s), int(52 * s)), 0, 0, 360, colour, -1)
    cv2.ellipse(
        image,
        (x + int(120 * s), y - int(85 * s)),
        (int(38 * s), int(26 * s)),
        20,
        0,
        360,
        colour,
        -1,
    )
    cv2.line(
        image,
        (x + int(80 * s), y - int(20 * s)),
        (x + int(112 * s), y - int(85 * s)),
        colour,
        int(34 * s),
    )
    for dx in (-80, -50, 50, 80):
        cv2.line(
            image, (x + int(dx * s), y), (x + int(dx * s), y + int(140 * s)), colour, int(14 * s)
        )
    for side in (-1, 1):
        tip = (x + int((120 + side * 60) * s), y - int(190 * s))
        cv2.line(image, (x + int(120 * s), y - int(105 * s)), tip, (190, 200, 205), int(7 * s))


@dataclass
class Book:
    """A logbook under construction."""

    folder: Folder

    def say(self, what: str, edits: Sequence[SetFields]) -> None:
        with lock.held(self.folder.cache):
            journal.append(self.folder, what, edits)

    def hang(self, camera: str, lat: float, lon: float, facing: float | None = 90.0) -> None:
        fields = {"camera": camera, "lat": lat, "lon": lon, "hung": "2025-08-01T12:00:00Z"}
        fields["facing_deg"] = facing
        self.say(f"hung {camera}", [SetFields("deployment", f"d-{camera.lower()}", fields)])

    def buck(self, name: str, id_: str = "") -> str:
        made = id_ or f"b-{hashlib.sha256(name.encode()).hexdigest()[:8]}"
        self.say(f"added buck {name[:40]}", [SetFields("buck", made, {"name": name})])
        return made

    def card(
        self,
        camera: str,
        shots: Iterable[Shot],
        real: int | None = None,
        size: tuple[int, int] = (1280, 960),
    ) -> list[str]:
        """Write a card as an ingest leaves it; the first `real` pictures (all by default) exist."""
        card = f"2026-01-02-{camera.lower()}-{hashlib.sha256(camera.encode()).hexdigest()[:8]}"
        path = self.folder.cards / card
        frames: list[str] = []
        facts_file, looks_file = RowFile(FrameFacts), RowFile(Look)
        shots = list(shots)
        with facts_file as facts, looks_file as looks:
            rows, seen = [], []
            for n, shot in enumerate(shots):
                name = f"DCIM/100MEDIA/IMG_{n + 1:04d}.JPG"
                drawn = real is None or n < real
                data = picture(shot, camera, n, *size) if drawn else f"{camera}{n}".encode()
                sha = hashlib.sha256(data).hexdigest()
                if drawn:
                    (path / "files" / name).parent.mkdir(parents=True, exist_ok=True)
                    (path / "files" / name).write_bytes(data)
                rows.append(_facts(sha, name, len(data), shot))
                seen.append(_look(sha[:16], shot))
                frames.append(sha[:16])
            path.mkdir(parents=True, exist_ok=True)
            for at in range(0, len(rows), 20000):
                facts.add(rows[at : at + 20000])
                looks.add(seen[at : at + 20000])
            facts.write(path / "frames.parquet", ["frame"])
            looks.write(path / "looks.parquet", ["frame"])
        receipt = receipts.Receipt(
            card=f"c-{card[-8:]}", camera=camera, known_by="--camera", folder=card,
            taken_in="2026-01-02T20:00:00Z", source="/media/card", files=len(frames),
            new=len(frames), known=0, safe_to_wipe=True,
        )  # fmt: skip
        (path / receipts.FILE).write_bytes(receipt.to_bytes())
        return frames


def _facts(sha: str, name: str, size: int, shot: Shot) -> FrameFacts:
    return FrameFacts(
        frame=sha[:16], sha256=sha, file=f"files/{name}", card_path=name, bytes=size, kind="jpeg",
        shown=shot.shown.isoformat(), shown_from="DateTimeOriginal", make="Invented", model="T1",
        width=1280, height=960,
    )  # fmt: skip


def _look(frame: str, shot: Shot) -> Look:
    """What its pixels measured; without a glance, so that no frame is set aside as likely empty."""
    colour = 12.0 if shot.light == "colour" else 0.4
    return Look(frame, 1, shot.light, 90.0, 40.0, colour, 0.2, json.dumps({}))


def new_book(root: Path) -> Book:
    """Start an empty logbook."""
    return Book(create(root, TZ, HOME, "imperial"))


def small_book(root: Path, cameras: int = 3, visits: int = 8, frames: int = 6) -> Book:
    """Give a logbook with a few cameras, visits and bucks."""
    book = new_book(root)
    for c in range(cameras):
        book.hang(f"CAM{c + 1:02d}", HOME[0] + 0.004 * c, HOME[1] + 0.003 * c)
        book.card(f"CAM{c + 1:02d}", season(c, visits, frames))
    for name in ("Split Brow", "Old Crooked", "Hollow Ten", "Kicker", "Slim"):
        book.buck(name)
    return book
