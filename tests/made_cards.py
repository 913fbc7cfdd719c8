"""Cards made for tests: small JPEGs with true EXIF, written by Pillow; logbooks to take them."""

from __future__ import annotations

import io
import json
import random
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from camsign.derive.opening import open_logbook
from camsign.logbook import folder
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder

START = datetime(2025, 10, 1, 6, 30)
TZ = "America/New_York"
NOISE = np.random.default_rng(7)


def logbook(path: Path, *cameras: str) -> Folder:
    """A new logbook in which these cameras are known."""
    book = folder.create(path, TZ, None, "imperial")
    if cameras:
        with open_logbook(book) as session:
            session.say("named cameras", [SetFields("camera", c, {"note": ""}) for c in cameras])
    return book


def exif(
    when: datetime | str | None = START,
    *,
    serial: str = "",
    model: str = "Ridge 4",
    comment: bytes = b"",
    description: str = "",
    owner: str = "",
    note: bytes = b"",
) -> bytes:
    """An EXIF block. Tag numbers: Exif 2.32 (CIPA DC-008-2019)."""
    block = Image.Exif()
    block[0x010F], block[0x0110] = "Maker", model
    if description:
        block[0x010E] = description
    ifd: dict[int, Any] = {}
    if when is not None:
        ifd[0x9003] = when if isinstance(when, str) else when.strftime("%Y:%m:%d %H:%M:%S")
    if serial:
        ifd[0xA431] = serial
    if comment:
        ifd[0x9286] = b"ASCII\0\0\0" + comment
    if owner:
        ifd[0xA430] = owner
    if note:
        ifd[0x927C] = note
    block._ifds[0x8769] = ifd
    return block.tobytes()


def jpeg(
    seed: int = 0,
    block: bytes | None = None,
    size: tuple[int, int] = (96, 64),
    gray: bool = False,
) -> bytes:
    """A small picture of noise, in color or as by infrared; each seed gives other bytes."""
    pixels = np.random.default_rng(seed).integers(0, 255, (8, 12, 3), np.uint8)
    if gray:
        pixels[:] = pixels[:, :, :1]
    out = io.BytesIO()
    picture = Image.fromarray(pixels).resize(size)
    picture.save(out, "JPEG", quality=80, exif=exif() if block is None else block)
    return out.getvalue()


def big_jpeg(seed: int) -> bytes:
    """A picture of 4000 x 3000 pixels and some 2.6 MB, without EXIF: one view, new grain."""
    rng = np.random.default_rng(seed)
    coarse = np.random.default_rng(7).integers(30, 225, (75, 100, 3), np.uint8)
    pixels = np.asarray(Image.fromarray(coarse).resize((4000, 3000), Image.Resampling.BICUBIC))
    grain = rng.integers(0, 24, (750, 1000, 1), np.uint8).repeat(4, 0).repeat(4, 1)
    out = io.BytesIO()
    grainy = np.clip(pixels + grain.astype(np.int16), 0, 255).astype(np.uint8)
    Image.fromarray(grainy).save(out, "JPEG", quality=88, subsampling=1)
    return out.getvalue()


def smooth_jpeg(seed: int) -> bytes:
    """A picture of 4000 x 3000 pixels without grain, some 0.5 MB, without EXIF."""
    coarse = np.random.default_rng(seed).integers(60, 195, (30, 40, 3), np.uint8)
    out = io.BytesIO()
    smooth = Image.fromarray(coarse).resize((4000, 3000), Image.Resampling.BICUBIC)
    smooth.save(out, "JPEG", quality=75)
    return out.getvalue()


def with_exif(data: bytes, block: bytes) -> bytes:
    """The JPEG with this EXIF block put in front. Layout: ISO/IEC 10918-1, B.2.4."""
    return b"\xff\xd8\xff\xe1" + (len(block) + 2).to_bytes(2, "big") + block + data[2:]


def big_card(root: Path, n: int, bases: int = 4) -> Path:
    """A card with `n` different pictures of some 2.6 MB each."""
    drawn = [big_jpeg(i) for i in range(bases)]
    for i in range(n):
        block = exif(START + timedelta(minutes=i))
        fill(root, {f"DCIM/100MEDIA/IMG_{i + 1:04d}.JPG": with_exif(drawn[i % bases], block)})
    return root


def card_of_bursts(root: Path, n: int, bases: int = 4) -> Path:
    """The same in bursts of three, 20 minutes apart."""
    drawn = [big_jpeg(i) for i in range(bases)]
    for i in range(n):
        at = START + (i // 3) * timedelta(minutes=20) + (i % 3) * timedelta(seconds=1)
        data = with_exif(drawn[i // 3 % bases], exif(at, comment=b"%d" % i))
        fill(root, {f"DCIM/100MEDIA/IMG_{i + 1:04d}.JPG": data})
    return root


def fill(root: Path, files: Mapping[str, bytes]) -> Path:
    """Write files under a card's root."""
    for name, data in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return root


def frames(n: int, first: int = 0, folder: str = "DCIM/100MEDIA", **about: Any) -> dict[str, bytes]:
    """`n` pictures a minute apart, named as cameras name them; `about` goes into their EXIF."""
    return {
        f"{folder}/IMG_{i + 1:04d}.JPG": jpeg(
            first + i, exif(START + timedelta(minutes=first + i), **about)
        )
        for i in range(n)
    }


def card(root: Path, n: int = 3, first: int = 0, **about: Any) -> Path:
    """A card with `n` pictures."""
    return fill(root, frames(n, first, **about))


def dump(book: Folder) -> dict[str, Any]:
    """A canonical dump: everything the logbook says but when, where and in which order it came."""
    with open_logbook(book) as session:
        con = session.con
        tables = {
            "cards": "SELECT * EXCLUDE (taken_in_utc, source) FROM cards",
            "card_files": "SELECT * FROM card_files",
            "frames": "SELECT * FROM frames",
            "looks": "SELECT * FROM looks",
            "times": "SELECT * FROM frame_times",
            "troubles": "SELECT * FROM troubles",
        }
        rows = {t: sorted(con.execute(q).fetchall(), key=repr) for t, q in tables.items()}
    return rows | {"disk": disk(book)}


def disk(book: Folder) -> dict[str, bytes]:
    """Every file under cards/ with its bytes; receipts without the moment and place of reading."""
    return {
        str(p.relative_to(book.cards)): _still(p)
        for p in sorted(book.cards.rglob("*"))
        if p.is_file()
    }


def _still(path: Path) -> bytes:
    data = path.read_bytes()
    if path.name != "receipt.json":
        return data
    held = json.loads(data)
    for moving in ("taken_in", "source", "sum"):  # the sum is of those as well
        held.pop(moving, None)
    # Writers' names and their acts' are made up anew in each logbook; how many lines are not.
    before = held["more"]["before"]
    before["lines"] = sorted(number for number, _ in before["lines"].values())
    return json.dumps(held, indent=1).encode()


def shuffled(items: Iterable[Any], seed: int) -> list[Any]:
    """The same items in another order."""
    out = list(items)
    random.Random(seed).shuffle(out)
    return out
