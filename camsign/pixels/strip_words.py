"""The words that a camera prints into its pictures, read on the strip alone by an optional package.

The package is rapidocr, which carries its networks; nothing is fetched. Words that stand apart on
the strip are read apart: a network for lines of text drops the wide gaps between them.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterator
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from unicodedata import normalize

import numpy as np
from numpy.typing import NDArray

from camsign.formats.kinds import CLIPS, HEAD_BYTES, Kind, sniff
from camsign.pixels.decode import MAX_LONG_SIDE, size_of
from camsign.pixels.info_strip import find_strips
from camsign.pixels.opencv import opencv

_CONTRAST = 60  # gray levels by which letters differ from the strip's ground
_GAP = 0.6  # a gap is as wide as this share of the strip's height
_SURE = 0.8
_LEAST_ROWS = 10
_LARGE = 4200  # pixels; a strip is some 4% of the height, and letters of 20 pixels are read
_MOST_WORDS = 12
_ALONE = threading.Lock()


def reads_strips() -> bool:
    """Say whether printed words can be read here: by the optional packages of `camsign[strip]`."""
    return find_spec("rapidocr") is not None and find_spec("onnxruntime") is not None


def strip_words(kind: Kind, data: bytes | None, path: Path) -> str:
    """Give the words on the strips of a picture, or of a clip's first one; "" where none is read.

    Args:
        kind: what the first bytes say.
        data: the bytes, unless it is a clip.
        path: the file, if it is one.
    """
    if not reads_strips():
        return ""
    cv2 = opencv()
    try:
        picture = _first(path) if kind in CLIPS else _whole(data or b"")
    except cv2.error:
        return ""
    if picture is None or picture.ndim != 3:
        return ""
    return "  ".join(filter(None, map(_read, _pieces(picture))))


def _whole(data: bytes) -> Any:
    """Decode a picture, or its half or quarter where letters stay large enough."""
    cv2, long_side = opencv(), max(size_of(data, sniff(data[:HEAD_BYTES])))
    flag = cv2.IMREAD_COLOR
    if long_side > _LARGE:
        halved = long_side <= 2 * _LARGE
        flag = cv2.IMREAD_REDUCED_COLOR_2 if halved else cv2.IMREAD_REDUCED_COLOR_4
    return cv2.imdecode(np.frombuffer(data, np.uint8), flag) if data else None


def _first(path: Path) -> Any:
    cv2 = opencv()
    clip = cv2.VideoCapture(str(path))
    try:
        return clip.read()[1]
    finally:
        clip.release()


def _pieces(picture: NDArray[Any]) -> Iterator[NDArray[Any]]:
    """Yield each word on the strips, with what stands close to it, from the left."""
    cv2 = opencv()
    rows, columns = picture.shape[:2]
    scale = max(1.0, max(rows, columns) / MAX_LONG_SIDE)
    size = (round(columns / scale), round(rows / scale))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    top, bottom = find_strips(cv2.cvtColor(small, cv2.COLOR_BGR2GRAY))
    # What lies between two rows of the small picture may be scene.
    tall_top, tall_bottom = (int(max(0.0, n - 0.5) * scale) for n in (top, bottom))
    for strip in (picture[:tall_top], picture[rows - tall_bottom :]):
        if len(strip) >= _LEAST_ROWS:
            yield from _words(strip)


def _words(strip: NDArray[Any]) -> Iterator[NDArray[Any]]:
    gray = opencv().cvtColor(strip, opencv().COLOR_BGR2GRAY).astype(np.int16)
    inked = np.flatnonzero((np.abs(gray - np.median(gray)) > _CONTRAST).any(axis=0))
    if not inked.size:
        return
    wide = max(4, int(_GAP * len(strip)))
    breaks = np.flatnonzero(np.diff(inked) > wide)
    starts = [inked[0], *inked[breaks + 1]]
    ends = [*inked[breaks], inked[-1]]
    for start, end in list(zip(starts, ends, strict=True))[:_MOST_WORDS]:
        yield strip[:, max(0, start - wide // 2) : end + wide // 2]


def _read(word: NDArray[Any]) -> str:
    with _ALONE:  # the package keeps its choices in itself
        found = _reader()(np.ascontiguousarray(word), use_det=False, use_cls=False, use_rec=True)
    texts, scores = found.txts or (), found.scores or ()
    sure = [text for text, score in zip(texts, scores, strict=False) if score >= _SURE]
    plain = normalize("NFKC", " ".join(sure))  # one sign stands for °F in what the network knows
    return " ".join(plain.replace("°°", "°").split())


@cache
def _reader() -> Any:
    """Give the reader, set to one thread and to the network that lies in the package."""
    import rapidocr

    models = Path(rapidocr.__file__).parent / "models"
    logging.getLogger("RapidOCR").setLevel(logging.CRITICAL)
    return rapidocr.RapidOCR(
        params={
            "Global.log_level": "critical",
            "EngineConfig.onnxruntime.intra_op_num_threads": 1,
            "EngineConfig.onnxruntime.inter_op_num_threads": 1,
            # Named outright, or the package would fetch what it does not find.
            "Rec.model_path": str(next(iter(sorted(models.glob("*rec*.onnx"))), models)),
        }
    )
