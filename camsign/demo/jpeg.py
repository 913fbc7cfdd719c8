"""A picture as JPEG bytes with the metadata that a camera writes."""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING

import cv2

if TYPE_CHECKING:
    from camsign.demo.land import Camera
    from camsign.demo.paint import Image
    from camsign.demo.specs import FrameSpec

QUALITY = 78

# Tags of Exif 2.32 (CIPA DC-008), in IFD0 and in the Exif IFD.
_MAKE, _MODEL, _ORIENTATION, _DATE_TIME, _EXIF = 0x010F, 0x0110, 0x0112, 0x0132, 0x8769
_ORIGINAL, _DIGITIZED, _SUBSEC, _SUBSEC_ORIGINAL, _SERIAL = 0x9003, 0x9004, 0x9290, 0x9291, 0xA431


def encode(image: Image, frame: FrameSpec, camera: Camera) -> bytes:
    """JPEG bytes of a BGR picture, the EXIF segment right behind the start marker."""
    done, data = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    if not done:
        raise RuntimeError("OpenCV wrote no JPEG")
    plain = data.tobytes()
    return plain[:2] + _app1(frame, camera) + plain[2:]


def _app1(frame: FrameSpec, camera: Camera) -> bytes:
    from PIL.Image import Exif

    shown = f"{frame.shown:%Y:%m:%d %H:%M:%S}"
    exif = Exif()
    exif[_MAKE], exif[_MODEL], exif[_ORIENTATION] = camera.make, camera.model, 1
    exif[_DATE_TIME] = shown
    inner: dict[int, object] = {_ORIGINAL: shown, _DIGITIZED: shown}
    inner[_SUBSEC] = inner[_SUBSEC_ORIGINAL] = f"{frame.subsec:03d}"
    if camera.serial:
        inner[_SERIAL] = camera.serial
    exif[_EXIF] = inner
    body = exif.tobytes()
    if not body.startswith(b"Exif\x00\x00"):
        body = b"Exif\x00\x00" + body
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body
