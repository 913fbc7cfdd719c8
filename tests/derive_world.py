"""A logbook on disk for tests of what is derived: cards without pictures, and words."""

from __future__ import annotations

import hashlib
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from camsign.derive import opening
from camsign.derive.opening import open_logbook
from camsign.logbook import folder
from camsign.logbook.cardfacts import FRAMES, LOOKS
from camsign.logbook.edits import Edit, SetFields
from camsign.logbook.parquet import RowFile
from camsign.logbook.receipts import FILE, Receipt
from camsign.logbook.records import FrameFacts, Look

TZ = "America/New_York"
DERIVED = (
    "clock_pieces",
    "zone_offsets",
    "sun_days",
    "frame_times",
    "detections",
    "watch",
    "made_windows",
    "sign_pairs",
    "area_pairs",
    "area_signs",
    "unsorted",
    "frame_twins",
    "tags",
    "held_twice",
    "several_bucks",
    "lines_read",
    "conflicts",
)


@dataclass
class Shot:
    """A frame of a test card: what its clock showed (ISO, naive), its file, its light."""

    shown: str | None
    card_path: str = ""
    light: str = "colour"
    brightness: float = 0.5
    offset_minutes: int | None = None
    name: str = ""
    file_time: str | None = None
    pixels: tuple[int, int] | None = None
    shown_from: str | None = None


def book(path: Path, home: tuple[float, float] | None = (44.1, -71.2)) -> folder.Folder:
    """A new logbook in New York's zone."""
    return folder.create(path, TZ, home, "imperial")


def frame_id(card: str, name: str) -> str:
    return hashlib.sha256(f"{card}/{name}".encode()).hexdigest()


def put_card(
    book: folder.Folder,
    card: str,
    camera: str,
    shots: Sequence[Shot],
    taken_in: str = "2026-06-01T12:00:00Z",
    serial: str = "",
) -> list[str]:
    """Place a card of these shots, in file order; give its frames' ids."""
    named = [s.card_path or f"DCIM/100CAMS/IMG_{i:04d}.JPG" for i, s in enumerate(shots, 1)]
    shas = [frame_id(card, s.name or n) for s, n in zip(shots, named, strict=True)]
    facts = [
        FrameFacts(
            frame=sha[:16], sha256=sha, file=f"files/{name}", card_path=name, bytes=1000,
            kind="jpeg", shown=s.shown, offset_minutes=s.offset_minutes, file_time=s.file_time,
            shown_from=s.shown_from, width=s.pixels and s.pixels[0],
            height=s.pixels and s.pixels[1],
        )
        for s, name, sha in zip(shots, named, shas, strict=True)
    ]  # fmt: skip
    looks = [
        Look(sha[:16], 1, s.light, s.brightness, 0.2, 0.3, 0.4)
        for s, sha in zip(shots, shas, strict=True)
    ]
    place = book.cards / f"card-{card}"
    place.mkdir()
    for record, rows, file in ((FrameFacts, facts, FRAMES), (Look, looks, LOOKS)):
        with RowFile(record) as out:
            out.add(rows)
            out.write(place / file, ["frame"])
    receipt = Receipt(card, camera, "test", place.name, taken_in, "test", len(shots), len(shots), 0,
                      serials=(serial,) if serial else ())  # fmt: skip
    (place / FILE).write_bytes(receipt.to_bytes())
    return [sha[:16] for sha in shas]


def say(book: folder.Folder, *edits: Edit, what: str = "said") -> str:
    with open_logbook(book) as s:
        return s.say(what, edits)


def hang(
    camera: str,
    hung: str,
    taken_down: str | None = None,
    id: str = "",
    at: tuple[float, float] = (44.1, -71.2),
    **more: Any,
) -> SetFields:
    """A deployment's edit; times in UTC."""
    said = {"camera": camera, "lat": at[0], "lon": at[1], "hung": hung, "taken_down": taken_down}
    return SetFields("deployment", id or f"d-{camera}", said | more)


def rows(book: folder.Folder, sql: str, *values: Any) -> list[tuple[Any, ...]]:
    with open_logbook(book) as s:
        return s.con.execute(sql, list(values) or None).fetchall()


def derived(book: folder.Folder) -> dict[str, list[tuple[Any, ...]]]:
    """Every derived table as it stands, in an order that does not hang on how it came to be."""
    with open_logbook(book) as s:
        return {t: s.con.execute(f"SELECT * FROM {t} ORDER BY ALL").fetchall() for t in DERIVED}


def rebuilt(book: folder.Folder) -> dict[str, list[tuple[Any, ...]]]:
    """The same after the database is gone."""
    opening.remove_database(book)
    return derived(book)


def lines_arrive(
    left: dict[str, list[bytes]], journal: Path, chance: random.Random, look: Callable[[], object]
) -> None:
    """Let the lines of a journal's files come in any order, each file's own kept; look between."""
    turns = [name for name, lines in left.items() for _ in lines]
    chance.shuffle(turns)
    for name in turns:
        with (journal / name).open("ab") as f:
            f.write(left[name].pop(0))
        if chance.random() < 0.5:
            look()
