"""A detector of the user's own, run by OpenCV on the region of a frame that is new.

The region is looked at in the original's own pixels, 1.6 times as large as the news: in a whole
picture of 300 pixels a distant deer is three of them. General detectors know no deer; so whatever
class means an animal counts as animal, and no class is kept.
"""

from __future__ import annotations

import hashlib
import os
import platform
from functools import cache
from pathlib import Path
from queue import Queue
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.errors import InputRefused
from camsign.logbook.database import first_line
from camsign.logbook.records import Detected
from camsign.pixels.decode import Reduced, decode_reduced, size_of
from camsign.pixels.network_outputs import Hit, hits
from camsign.pixels.opencv import opencv
from camsign.pixels.recipe import Recipe, read_recipe

ENLARGED = 1.6
"""The region that is looked at is so many times as wide and tall as the news."""

LEAST = 0.1
"""And at least this share of the picture's long side."""

_FILL = 127.0  # what stands beside a picture that does not fill the input

Box = tuple[float, float, float, float]


class Detector:
    """One detector with its recipe. May be used from several threads at once.

    Pickled it is its path and name: another process reads it from there, once.
    """

    def __init__(self, model: Path) -> None:
        """Read a detector, and the TOML file of the same name beside it.

        Args:
            model: an ONNX file, or a frozen TensorFlow graph (.pb).

        Raises:
            InputRefused: one of both is missing, damaged, or not understood.
        """
        if not model.suffix:
            raise InputRefused(
                f"{model} is no detector", "name an ONNX file or a frozen graph (.pb)"
            )
        self.recipe = read_recipe(model.with_suffix(".toml"))
        self._model = model
        self._bytes = _read(model)
        self._graph = _read(self.recipe.graph) if self.recipe.graph else b""
        digest = hashlib.sha256(self._bytes + self._graph + self.recipe.text.encode()).hexdigest()
        self.name = f"{model.stem}-{digest[:8]}"
        self._nets: Queue[Any] = Queue()
        for _ in range(os.cpu_count() or 1):
            self._nets.put(None)
        self._try()

    def __reduce__(self) -> tuple[Any, ...]:
        """Give what makes it again elsewhere."""
        return _again, (self._model, self.name)

    def look(self, frame: str, picture: NDArray[Any], news: Box) -> Detected:
        """Look at the region of an upright picture around `news` (x, y, width, height as shares).

        Raises:
            InputRefused: the network takes no such input or gives what its recipe does not say.
        """
        left, top, wide, tall = around(news, picture.shape[1], picture.shape[0])
        part = picture[top : top + tall, left : left + wide]
        blob, stretch = prepared(part, self.recipe)
        found = hits(self._run(blob), self.recipe)
        return _detected(frame, self.name, found, (left, top, wide, tall), stretch, picture.shape)

    def _try(self) -> None:
        """Let it look at an empty picture, so that what does not fit is said at once."""
        size = (self.recipe.height, self.recipe.width, 3)
        hits(self._run(prepared(np.zeros(size, np.uint8), self.recipe)[0]), self.recipe)

    def _run(self, blob: NDArray[np.float32]) -> list[NDArray[Any]]:
        net = self._nets.get()
        try:
            net = net or self._load()
            net.setInput(blob)
            return [np.asarray(o) for o in net.forward(net.getUnconnectedOutLayersNames())]
        except opencv().error as e:
            raise InputRefused(
                f"{self._model} does not take a picture of {self.recipe.width} x "
                f"{self.recipe.height} ({first_line(e)})",
                "put [input] of its .toml right",
            ) from None
        finally:
            self._nets.put(net)

    def _load(self) -> Any:
        dnn = opencv().dnn
        try:
            data = np.frombuffer(self._bytes, np.uint8)
            if self._model.suffix.lower() == ".pb":
                graph = np.frombuffer(self._graph, np.uint8)
                net = dnn.readNetFromTensorflow(data, graph)
            else:
                net = dnn.readNetFromONNX(data)
            if net.empty():
                raise ValueError("it holds no layers")
        except (opencv().error, ValueError) as e:
            raise InputRefused(
                f"{self._model} is no network that OpenCV reads ({first_line(e)})",
                "give an ONNX file, or a frozen TensorFlow graph (.pb)",
            ) from None
        return net


@cache
def _again(model: Path, name: str) -> Detector:
    found = Detector(model)
    if found.name != name:
        raise InputRefused(
            f"{model} is another detector on {platform.node()}",
            "put it and its .toml into a folder that all machines share",
        )
    return found


def around(news: Box, columns: int, rows: int) -> tuple[int, int, int, int]:
    """Give the square around a box (shares), enlarged, as left, top, width, height [pixels].

    It is moved, and at last cut, so that it lies in the picture.
    """
    x, y, width, height = news
    side = ENLARGED * max(width * columns, height * rows)
    side = max(side, LEAST * max(columns, rows), 1.0)
    wide, tall = min(round(side), columns), min(round(side), rows)
    left = round((x + width / 2) * columns - wide / 2)
    top = round((y + height / 2) * rows - tall / 2)
    return max(0, min(left, columns - wide)), max(0, min(top, rows - tall)), wide, tall


def prepared(part: NDArray[Any], recipe: Recipe) -> tuple[NDArray[np.float32], tuple[float, float]]:
    """Turn a picture (rows, columns, BGR) into a network's input, a batch of one.

    Returns:
        The input, and which shares of its width and height the picture fills, from the upper left.
    """
    rows, columns = part.shape[:2]
    wide, tall = recipe.width, recipe.height
    if recipe.pad:
        scale = min(wide / columns, tall / rows)
        wide, tall = max(1, round(columns * scale)), max(1, round(rows * scale))
    cv2 = opencv()
    method = cv2.INTER_AREA if wide < columns else cv2.INTER_LINEAR
    canvas = np.full((recipe.height, recipe.width, 3), _FILL, np.float32)
    canvas[:tall, :wide] = cv2.resize(part, (wide, tall), interpolation=method)
    ordered = canvas[:, :, ::-1] if recipe.rgb else canvas
    values = (ordered - np.array(recipe.mean, np.float32)) * np.array(recipe.scale, np.float32)
    batch = values[None] if recipe.channels_last else values.transpose(2, 0, 1)[None]
    return np.ascontiguousarray(batch), (wide / recipe.width, tall / recipe.height)


def enough_of(data: bytes, news: Box, recipe: Recipe) -> NDArray[Any] | None:
    """Decode a picture (upright, BGR), not finer than the network can use; None if it cannot be.

    Args:
        data: a whole JPEG or PNG file.
        news: the box that is looked at, in shares.
        recipe: says how large the network's input is.
    """
    cv2 = opencv()
    flags = {
        4: cv2.IMREAD_REDUCED_COLOR_4,
        2: cv2.IMREAD_REDUCED_COLOR_2,
        1: cv2.IMREAD_COLOR,
    }
    side = ENLARGED * max(news[2:]) * min(size_of(data))  # at least so many of its own pixels
    wanted = max(recipe.width, recipe.height)
    divisor = next((d for d in (4, 2) if side / d >= wanted), 1)
    try:
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flags[divisor])
    except cv2.error:
        pixels = None
    if pixels is not None and pixels.size:
        return np.asarray(pixels)
    part = decode_reduced(data)  # a file cut short
    return part.pixels if isinstance(part, Reduced) else None


def _detected(
    frame: str,
    model: str,
    found: list[Hit],
    region: tuple[int, int, int, int],
    filled: tuple[float, float],
    shape: tuple[int, ...],
) -> Detected:
    scores = {hit.meaning: round(hit.score, 4) for hit in found}
    if not found:
        return Detected(frame, model)
    left, top, wide, tall = region
    x1, y1, x2, y2 = max(found, key=lambda hit: hit.score).box
    rows, columns = shape[:2]
    xs = [(left + min(x / filled[0], 1.0) * wide) / columns for x in (x1, x2)]
    ys = [(top + min(y / filled[1], 1.0) * tall) / rows for y in (y1, y2)]
    box = (xs[0], ys[0], max(0.0, xs[1] - xs[0]), max(0.0, ys[1] - ys[0]))
    x, y, width, height = (round(v, 4) for v in box)
    return Detected(frame, model, **scores, box_x=x, box_y=y, box_width=width, box_height=height)


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as e:
        raise InputRefused(f"{path} cannot be read ({e.strerror})", "name another file") from None
