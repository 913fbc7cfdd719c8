"""Every reader of others' files and of the logbook's own: bytes changed, cut or doubled are read.

What cannot be read is one clear line; never another error, and never slow. The pictures' reader has
its own in test_intake_hostile.
"""

from __future__ import annotations

import io
import json
import random
import time
import warnings
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from camsign.errors import CamsignError
from camsign.flows.fieldwork.parsed import read_field_file
from camsign.formats.elevation import Elevation, elevation_bytes, read_elevation
from camsign.formats.wind import read_wind
from camsign.ground.grid import Grid
from camsign.logbook import journal, let_go, receipts, settings
from camsign.logbook.receipts import Receipt

SLOWEST_S = 5.0
GPX = (
    b'<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="x"'
    b' xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="44.2" lon="-71.4"><ele>412</ele>'
    b"<time>2025-10-05T12:00:00Z</time><name>rub cedar 4in NE</name></wpt><trk><name>walk</name>"
    b'<trkseg><trkpt lat="44.2" lon="-71.4"><time>2025-10-05T12:00:00Z</time></trkpt>'
    b'<trkpt lat="44.21" lon="-71.41"><time>2025-10-05T12:10:00Z</time></trkpt></trkseg></trk>'
    b"</gpx>"
)
KML = (
    b'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark>'
    b"<name>stand pine</name><TimeStamp><when>2025-10-05</when></TimeStamp><Point><coordinates>"
    b"-71.4,44.2,310</coordinates></Point></Placemark><Placemark><name>Knob</name><Polygon>"
    b"<outerBoundaryIs><LinearRing><coordinates>-71.4,44.2 -71.39,44.2 -71.39,44.21 -71.4,44.2"
    b"</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Document></kml>"
)
GEOJSON = json.dumps(
    {"type": "FeatureCollection", "features": [
        {"type": "Feature", "properties": {"name": "bed", "time": "2025-10-05"},
         "geometry": {"type": "Point", "coordinates": [-71.4, 44.2]}},
        {"type": "Feature", "properties": {"name": "Knob", "kind": "bedding"}, "geometry": {
            "type": "Polygon", "coordinates": [[[-71.4, 44.2], [-71.3, 44.2], [-71.3, 44.3],
                                                [-71.4, 44.2]]]}}]}
).encode()  # fmt: skip
TABLE = (
    b"name,lat,lon,date,note\nrub NE,44.2,-71.4,10/5/2025,cedar\nscrape,44.21,-71.41,2025-10-06,\n"
)
METAR = (
    b"KBML 051252Z AUTO 31006KT 10SM CLR 08/03 A3012\n"
    b"KBML 051352Z AUTO VRB03KT 10SM FEW035 09/03 A3012\n"
)
WIND = b"time,from,speed\n2025-10-05 12:00,310,6\n2025-10-05 13:00,NW,calm\n"


def zipped(name: str, data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, data)
    return out.getvalue()


def lines() -> bytes:
    edit = {"do": "set", "thing": "buck", "id": "b-1", "fields": {"name": "Split Brow"}}
    said = [
        journal.Line("abcdef012345", n, f"2025-10-05T12:0{n}:00.000Z-00000", f"{n:012x}",
                     "named a buck", [edit], journal.VERSION)
        for n in (1, 2, 3)
    ]  # fmt: skip
    return b"".join(journal.encode(line) for line in said)


def receipt() -> bytes:
    return Receipt(
        "0" * 12, "CAM01", "said", "card", "2025-12-01T12:00:00Z", "/card", 3, 3, 0
    ).to_bytes()


def let_go_list() -> bytes:
    body = f"{'a' * 64}  {'b' * 64}  files/DCIM/IMG_0001.JPG"
    return f"{let_go._sum(body)}  {body}\n".encode()


def land() -> bytes:
    heights = 300.0 + np.arange(400.0).reshape(20, 20)
    return elevation_bytes(Elevation(Grid(heights, -200.0, 200.0, 20.0), 44.2, -71.4, 20.0, 0.0))


def wind(path: Path) -> Any:
    return read_wind(path, ZoneInfo("America/New_York"), date(2025, 10, 1), "mph")


def let_go_of(path: Path) -> Any:
    return let_go.read(path.parent), let_go.damaged(path.parent)


# Name of the file, the bytes to begin with, the reader, and what it may raise beside CamsignError.
READERS: dict[str, tuple[str, bytes, Callable[[Path], Any], tuple[type[Exception], ...]]] = {
    "gpx": ("a.gpx", GPX, read_field_file, ()),
    "kml": ("a.kml", KML, read_field_file, ()),
    "kmz": ("a.kmz", zipped("doc.kml", KML), read_field_file, ()),
    "geojson": ("a.geojson", GEOJSON, read_field_file, ()),
    "table": ("a.csv", TABLE, read_field_file, ()),
    "metar": ("a.txt", METAR, wind, ()),
    "wind": ("a.csv", WIND, wind, ()),
    "elevation": ("a.tif", land(), lambda path: read_elevation(path, 44.2, -71.4, 300.0), ()),
    "journal": ("a.jsonl", lines(), journal.read, ()),
    "receipt": ("receipt.json", receipt(), receipts.read, (ValueError,)),
    "let go": (let_go.FILE, let_go_list(), let_go_of, ()),
    "settings": (
        settings.FILE, settings.render("a1b2c3", "America/New_York", (44.2, -71.4), "imperial",
                                       (30, 30)).encode(), settings.read, ()),
}  # fmt: skip


def changed(data: bytes, chance: random.Random) -> bytes:
    """Bytes flipped, set, taken out, put in twice, or the end cut off."""
    out = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 4, 16))):
        if not out:
            break
        at, size = chance.randrange(len(out)), chance.choice((1, 2, 4, 40))
        match chance.randrange(6):
            case 0:
                out[at] ^= 1 << chance.randrange(8)
            case 1:
                out[at : at + size] = chance.choice((b"\xff", b"\0", b"9", b"-", b"<", b'"')) * size
            case 2:
                out[at : at + size] = chance.randbytes(size)
            case 3:
                del out[at : at + size]
            case 4:
                out[at:at] = out[at : at + size] * chance.choice((1, 2, 50))
            case _:
                del out[chance.randrange(len(out)) :]
    return bytes(out)


def survive(tmp_path: Path, name: str, times: int, seed: int) -> tuple[int, int]:
    """Give changed bytes to a reader; count what was read, and what was refused."""
    file, data, read, also = READERS[name]
    chance, path = random.Random(seed), tmp_path / file
    path.write_bytes(data)
    read(path)  # as it is written it is read
    kept = refused = 0
    for number in range(times):
        path.write_bytes(changed(data, chance))
        began = time.process_time()
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                read(path)
            kept += 1
        except (CamsignError, *also) as e:
            refused += 1
            assert str(e).strip() and "\n" not in str(e), (number, str(e))
        except Exception as e:
            raise AssertionError(f"case {number} of seed {seed}: {path.read_bytes()!r}") from e
        took = time.process_time() - began
        assert took < SLOWEST_S, f"case {number} of seed {seed} took {took:.1f} s"
    return kept, refused


@pytest.mark.parametrize("name", READERS)
def test_sixty_changed_files(tmp_path: Path, name: str) -> None:
    assert sum(survive(tmp_path, name, 60, seed=21)) == 60


@pytest.mark.long
@pytest.mark.parametrize("name", READERS)
def test_ten_thousand_changed_files(
    tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    kept, refused = survive(tmp_path, name, 10_000, seed=22)
    with capsys.disabled():
        print(f"\n{name}: {kept} read, {refused} refused")
    assert (kept and refused) or name in ("journal", "let go")
