"""A small logbook and the cards it takes in, and all that is said of them: test_intake_small.py.

`python tests/intake_small.py --write` writes what is kept anew after a change of what is said. Look
at the difference before you commit it, and work what changed by hand.
"""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import made_cards as made
import pytest

from camsign.answers.result import plain
from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused
from camsign.flows.intake import ingest
from camsign.flows.intake.result import IngestResult, verdict
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder
from camsign.logbook.receipts import FILE, read

KEPT = Path(__file__).with_name("intake_small.json")
ABOUT: dict[str, Any] = {"serial": "SN1", "comment": b"at cam03 now"}
HUNG = {"camera": "CAM03", "lat": 40.0, "lon": -75.0, "hung": "2025-09-20T12:00:00Z"}


def clip(seconds: int) -> bytes:
    """An MP4 without a picture whose container says 2025-10-02 12:00 and so many seconds.

    Layout: ISO/IEC 14496-12, ftyp, and moov with mvhd (version 0; seconds since 1904).
    """
    created = (2_082_844_800 + 1_759_406_400 + seconds).to_bytes(4, "big")
    head = bytes(4) + created * 2 + (1000).to_bytes(4, "big") + bytes(84)
    mvhd = (len(head) + 8).to_bytes(4, "big") + b"mvhd" + head
    moov = (len(mvhd) + 8).to_bytes(4, "big") + b"moov" + mvhd
    return (16).to_bytes(4, "big") + b"ftypisom" + bytes(4) + moov


def first_card(root: Path) -> Path:
    """CAM03's: four pictures by infrared and color, one without a time but with one in its name, a
    clip, and what systems and bad luck leave: an empty file, text, a cut picture, thumbnails."""
    made.card(root, 3, **ABOUT)
    cut = made.jpeg(9, made.exif("2025:10:01 07:00:00", **ABOUT))
    made.fill(root, {
        "DCIM/100MEDIA/IMG_0004.JPG": made.jpeg(4, made.exif("2025:10:01 06:40:00", **ABOUT),
                                                gray=True),
        "DCIM/100MEDIA/20251001_065000.JPG": made.jpeg(5, made.exif(None, **ABOUT)),
        "DCIM/100MEDIA/IMG_0006.MP4": clip(6),
        "DCIM/100MEDIA/IMG_0007.JPG": b"",
        "DCIM/100MEDIA/IMG_0008.JPG": b"no picture at all",
        "DCIM/100MEDIA/IMG_0009.JPG": cut[: len(cut) // 2],
        "DCIM/100MEDIA/Thumbs.db": b"x",
        "System Volume Information/x": b"x",
        "notes.txt": b"by hand",
    })  # fmt: skip
    return root


def second_card(root: Path) -> Path:
    """CAM03's again: one picture of before, two of October 20, and one whose name says CAM07."""
    made.card(root, 1, **ABOUT)
    made.fill(root, {
        f"DCIM/101MEDIA/IMG_{n:04d}.JPG": made.jpeg(
            20 + n, made.exif(f"2025:10:20 17:0{n}:00", **ABOUT))
        for n in (1, 2)
    } | {"DCIM/101MEDIA/CAM07.JPG": made.jpeg(30, made.exif("2025:10:21 12:00:00"))})  # fmt: skip
    return root


def strange_card(root: Path) -> Path:
    """A card that says nothing of its camera."""
    return made.card(root, 2, first=50, folder="DCIM/100OTHER")


SOME_ID = re.compile(r"\b[0-9a-f]{8,64}\b")
SPARE = (
    "set_aside",
    "seconds",
    "taken_in",
    "bytes",
    "program",
    "sum",
    "sha256",
    "file_time",
    "frame",
    "shape",
)


def scrubbed(value: Any, home: Path, ids: dict[str, str]) -> Any:
    """Leave out moments, sizes, sums and what pixels say, which every library has its own of,
    and number ids in the order in which they come."""
    if isinstance(value, dict):
        kept = [pair for pair in value.items() if pair[0] not in SPARE]
        return {scrubbed(k, home, ids): scrubbed(v, home, ids) for k, v in kept}
    if isinstance(value, list):
        return [scrubbed(v, home, ids) for v in value]
    if isinstance(value, str):
        text = value.replace(str(home), "HOME")
        return SOME_ID.sub(lambda m: ids.setdefault(m[0], f"<{len(ids)}>"), text)
    return value


def _frames(book: Folder) -> list[dict[str, Any]]:
    with open_logbook(book) as session:
        cursor = session.con.execute(
            "SELECT f.*, t.camera, t.utc, t.basis, t.doubt, t.time_from, t.weak FROM frames f"
            " JOIN frame_times t USING (frame) ORDER BY f.card_path, f.shown"
        )
        names = [column[0] for column in cursor.description or ()]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def told(home: Path) -> dict[str, Any]:
    """Take the cards in and give results, receipts and frames, as JSON."""
    book = made.logbook(home / "book", "CAM03", "CAM07")
    with open_logbook(book) as session:
        session.say("hung", [SetFields("deployment", "d-1", HUNG)])
    done: dict[str, IngestResult] = {
        "dry": ingest(book, [first_card(home / "one")], dry_run=True),
        "first": ingest(book, [home / "one"]),
        "again": ingest(book, [home / "one"], accept_refused=True),
        "second": ingest(book, [second_card(home / "two")]),
        "said": ingest(book, [strange_card(home / "three")], camera="CAM07"),
    }
    with pytest.raises(InputRefused) as refused:
        ingest(book, [made.card(home / "four", 2, first=70, model="Glen 2")])
    found: dict[str, Any] = {name: plain(one) for name, one in done.items()}
    found["verdicts"] = {name: verdict(one) for name, one in done.items()}
    found["refused"] = str(refused.value)
    found["receipts"] = [plain(read(path)) for path in sorted(book.cards.glob(f"*/{FILE}"))]
    found["frames"] = plain(_frames(book))
    ids: dict[str, str] = {}
    return json.loads(json.dumps(scrubbed(found, home, ids)))


if __name__ == "__main__" and "--write" in sys.argv:
    from answers_small import written

    with TemporaryDirectory() as name, pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", f"{name}/cache")
        patch.setenv("CAMSIGN_CONFIG", f"{name}/config")
        KEPT.write_text(written(told(Path(name) / "x")) + "\n", encoding="utf-8")
