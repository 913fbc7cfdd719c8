"""What a file is, from its content: against Pillow's own writers, the samples and made-up heads."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from PIL import Image

from camsign.formats.kinds import HEAD_BYTES, Kind, is_map, sniff


@pytest.mark.parametrize(
    ("name", "kind"),
    [("JPEG", Kind.JPEG), ("PNG", Kind.PNG), ("GIF", Kind.GIF), ("TIFF", Kind.TIFF)],
)
def test_pictures_that_pillow_writes(name: str, kind: Kind) -> None:
    stream = io.BytesIO()
    Image.new("RGB", (8, 8)).save(stream, format=name)
    assert sniff(stream.getvalue()[:HEAD_BYTES]) is kind


def test_a_tiff_of_heights_is_a_map_and_a_photo_in_one_is_not() -> None:
    """Against GDAL's own writer, and Pillow's; a damaged one is no map."""
    import numpy as np
    from rasterio.io import MemoryFile
    from rasterio.transform import from_origin

    ground = np.zeros((1, 4, 4), np.float32)
    form = {"driver": "GTiff", "height": 4, "width": 4, "count": 1, "dtype": "float32"}
    with MemoryFile() as memory:
        with memory.open(**form, crs="EPSG:4326", transform=from_origin(-71, 44, 1, 1)) as raster:
            raster.write(ground)
        heights = memory.read()
    assert sniff(heights[:HEAD_BYTES]) is Kind.TIFF and is_map(io.BytesIO(heights))
    photo = io.BytesIO()
    Image.new("RGB", (8, 8)).save(photo, format="TIFF")
    assert not is_map(photo)
    for damaged in (b"", heights[:6], heights[:8], b"\xff\xd8\xff" + heights[3:]):
        assert not is_map(io.BytesIO(damaged))


# Layouts from the standards that kinds.py names; the bytes are written out here by hand.
@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"", Kind.EMPTY),
        (b"RIFF\x00\x10\x00\x00AVI LIST", Kind.AVI),
        (b"RIFF\x00\x10\x00\x00WAVEfmt ", Kind.OTHER),
        (b"\x00\x00\x00\x20ftypqt  \x00\x00\x00\x00qt  ", Kind.MOV),
        (b"\x00\x00\x00\x08wide\x00\x00\x00\x00mdat", Kind.MOV),
        (b"\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00", Kind.MP4),
        (b"\x00\x00\x00\x18ftypisom\x00\x00\x00\x00", Kind.MP4),
        (b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00", Kind.HEIC),
        (b'<?xml version="1.0"?>\n<gpx version="1.1">', Kind.GPX),
        (b"\xef\xbb\xbf<gpx>", Kind.GPX),
        ('<?xml version="1.0"?><kml xmlns="x">'.encode("utf-16"), Kind.KML),
        (b"<?xml version='1.0'?><other/>", Kind.XML),
        (b"a text about <gpx> files", Kind.OTHER),
        (b"not a picture at all", Kind.OTHER),
        (b"\xff\xd8", Kind.OTHER),
    ],
)
def test_heads_written_by_hand(head: bytes, kind: Kind) -> None:
    assert sniff(head) is kind


def test_samples_are_what_exiftool_calls_them(samples: Path) -> None:
    with (samples / "exif" / "MANIFEST.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) > 100
    for row in rows:
        head = (samples / "exif" / row["path"]).read_bytes()[:HEAD_BYTES]
        assert sniff(head) == (row["filetype"].lower() or "empty"), row["path"]


def test_maps_are_told_apart(samples: Path) -> None:
    for kind in ("gpx", "kml"):
        for path in sorted((samples / "geo" / kind).iterdir()):
            # These two have another root than <kml>, as libkml's own tests want it.
            rootless = path.name in ("billion.kml", "101_nested_folders.kml")
            want = "xml" if rootless else kind
            assert sniff(path.read_bytes()[:HEAD_BYTES]) == want, path.name
