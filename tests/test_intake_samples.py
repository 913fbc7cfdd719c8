"""Other people's pictures taken in: what the logbook then says of them agrees with exiftool."""

from __future__ import annotations

import csv
from pathlib import Path

import made_cards as made
import pytest

from camsign.flows.intake import ingest
from camsign.formats.shown import read_offset, read_shown

# Where the logbook and exiftool 12.57 (samples/exif/MANIFEST.csv) differ, and why.
KNOWN = {
    # No offset tag: it is taken from the end of the time's own text, and doubted.
    ("derived_dates/tz_suffix.jpg", "offset"),
    # The field holds five bytes of control characters: no serial number, and doubted as such.
    ("piexif/r_casio.jpg", "serial"),
    # The manifest's serials are of Exif's own directory; these stand elsewhere.
    ("pillow/broken_exif_dpi.jpg", "serial"),
    ("exifr/broken1.jpg", "serial"),
    ("exifr/iptc-agency-photographer-example.jpg", "serial"),
    ("mei/trail-2.jpg", "serial"),
    ("exif-samples/trail-1.jpg", "serial"),
    # The manifest's offsets are of Exif's tags alone; XMP and IPTC write theirs with the time.
    ("pillow/exif_gps_typeerror.jpg", "offset"),
    ("exifr/iptc-staff-photographer-example.jpg", "offset"),
    ("exifr/RangeError_Offset_outside_bounds.jpg", "offset"),
}
# The manifest's times are of Exif's three tags; these are read where they are missing or weak.
ELSEWHERE = ("name", "notes", "file", "container", "XMP", "IPTC", "comment", "strip", "strip alone")


def same(want: str, got: float | None) -> bool:
    if not want or got is None:
        return not want and got is None
    return abs(float(want) - got) < 1e-9


def differences(want: dict[str, str], got: dict[str, object]) -> set[str]:
    times = [read_shown(want[key]).shown for key in ("dto", "create", "modify")]
    time = next((t.iso()[:19] for t in times if t), None)
    elsewhere = got["shown_from"] in ELSEWHERE
    # XMP and IPTC go before Exif's DateTime, which says when a program saved the picture.
    if got["shown_from"] in ("XMP", "IPTC"):
        time = next((t.iso()[:19] for t in times[:2] if t), None)
    agree = {
        "time": time == (None if elsewhere or not got["shown"] else str(got["shown"])[:19]),
        "offset": read_offset(want["offset"]) == got["offset_minutes"],
        "serial": want["body_serial"] == (got["serial"] or ""),
        "lat": same(want["lat"], got["lat"]),
        "lon": same(want["lon"], got["lon"]),
    }
    return {name for name, well in agree.items() if not well}


@pytest.mark.thorough
def test_every_sample_comes_in_and_agrees_with_exiftool(tmp_path: Path, samples: Path) -> None:
    with (samples / "exif" / "MANIFEST.csv").open(encoding="utf-8") as file:
        rows = {row["path"]: row for row in csv.DictReader(file)}
    refused, found = set(), {}
    for folder in sorted(p for p in (samples / "exif").iterdir() if p.is_dir()):
        # Different cameras' pictures: one folder at a time, as the refusal of them all says.
        book = made.logbook(tmp_path / folder.name)
        result = ingest(book, [folder], camera="CAM01")
        refused |= {f"{folder.name}/{x.file}" for x in result.refused}
        with made.open_logbook(book) as session:
            cursor = session.con.execute(
                "SELECT c.card_path AS path, f.* FROM card_files c JOIN frames f USING (frame)"
            )
            names = [d[0] for d in cursor.description]
            for values in cursor.fetchall():
                found[f"{folder.name}/{values[0]}"] = dict(zip(names, values, strict=True))
    assert set(rows) == set(found) | (refused & set(rows))
    assert {(p, d) for p in found for d in differences(rows[p], found[p])} == KNOWN
    assert all(f["shown"] or f["doubts"] for f in found.values())
    wrong = [p for p in found if not f"{found[p]['sha256']}".startswith(rows[p]["sha256"])]
    assert not wrong and len(found) > 150


@pytest.mark.parametrize("name", ["32d08f4a5eb10332506ebedbb9bc7257.jpg"])
def test_a_real_picture_cut_short_is_taken_with_a_doubt(
    tmp_path: Path, samples: Path, name: str
) -> None:
    data = (samples / "exif/exifr" / name).read_bytes()
    book = made.logbook(tmp_path / "book", "CAM03")
    result = ingest(book, [made.fill(tmp_path / "CAM03", {name: data})])
    assert result.new == 1 and any("cut short" in d.why for d in result.doubts)
