"""Networks of a few numbers, built on the spot: what they say follows the mean color they see."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import onnx
from numpy.typing import ArrayLike
from onnx import TensorProto, helper, numpy_helper

SIDE = 32
RECIPE = """\
[input]
width = 32
height = 32
scale = {scale}
channels = "RGB"
[classes]
names = ["thing", "cow", "horse", "person", "truck"]
animal = ["cow", "horse"]
person = ["person"]
vehicle = ["truck"]
[output]
layout = "{layout}"
{more}
"""


def recipe(path: Path, layout: str, more: str = "", scale: str = "0.00392157") -> Path:
    """Write a recipe beside a model; give the model's path."""
    text = RECIPE.format(layout=layout, more=more, scale=scale)
    path.with_suffix(".toml").write_text(text, encoding="utf-8")
    return path


def onnx_model(path: Path, outputs: Sequence[tuple[ArrayLike, ArrayLike]]) -> Path:
    """Write a network that gives for each output base + red * weight of the picture's mean red.

    Both are of the output's shape; the picture comes in as red, green, blue, 0..1.
    """
    nodes = [
        helper.make_node("GlobalAveragePool", ["in"], ["mean"]),
        helper.make_node("Reshape", ["mean", "row"], ["colour"]),
    ]
    given = [numpy_helper.from_array(np.array([1, 3], np.int64), "row")]
    out = []
    for i, (base, weight) in enumerate(outputs):
        start = np.asarray(base, np.float32)
        by_red = np.zeros((3, start.size), np.float32)
        by_red[0] = np.asarray(weight, np.float32).ravel()
        given += [
            numpy_helper.from_array(by_red, f"w{i}"),
            numpy_helper.from_array(start.reshape(1, -1), f"b{i}"),
            numpy_helper.from_array(np.array(start.shape, np.int64), f"s{i}"),
        ]
        nodes += [
            helper.make_node("MatMul", ["colour", f"w{i}"], [f"x{i}"]),
            helper.make_node("Add", [f"x{i}", f"b{i}"], [f"y{i}"]),
            helper.make_node("Reshape", [f"y{i}", f"s{i}"], [f"out{i}"]),
        ]
        out.append(helper.make_tensor_value_info(f"out{i}", TensorProto.FLOAT, start.shape))
    picture = helper.make_tensor_value_info("in", TensorProto.FLOAT, [1, 3, SIDE, SIDE])
    graph = helper.make_graph(nodes, "tiny", [picture], out, given)
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", 13)], ir_version=8)
    onnx.checker.check_model(model)
    onnx.save(model, path)
    return path


def frozen_graph(path: Path, base: ArrayLike, weight: ArrayLike) -> Path:
    """Write the same, with one output of one row, as a frozen graph (protocol-buffer wire format).

    Field numbers: TensorFlow's graph.proto, node_def.proto, attr_value.proto, tensor.proto.
    """
    start, by_red = np.asarray(base, np.float32), np.asarray(weight, np.float32)
    kernel = np.zeros((1, 1, 3, start.size), np.float32)
    kernel[0, 0, 0] = by_red
    kind, last, whole = _number(6, 1), _text(2, "NHWC"), _text(2, "VALID")
    size = _field(7, _shape(1, SIDE, SIDE, 3))
    laid = {"T": kind, "data_format": last, "padding": whole, "strides": _ints(1, 1, 1, 1)}
    path.write_bytes(
        _node("in", "Placeholder", (), dtype=kind, shape=size)
        + _node("mean", "AvgPool", ("in",), ksize=_ints(1, SIDE, SIDE, 1), **laid)
        + _const("kernel", kernel)
        + _node("colour", "Conv2D", ("mean", "kernel"), **laid)
        + _const("base", start)
        + _node("out", "BiasAdd", ("colour", "base"), T=kind, data_format=last)
    )
    return path


def _varint(n: int) -> bytes:
    out = b""
    while n > 127:
        out += bytes([n & 127 | 128])
        n >>= 7
    return out + bytes([n])


def _number(field: int, n: int) -> bytes:
    return _varint(field << 3) + _varint(n)


def _field(field: int, data: bytes) -> bytes:
    return _varint(field << 3 | 2) + _varint(len(data)) + data


def _text(field: int, text: str) -> bytes:
    return _field(field, text.encode())


def _shape(*sides: int) -> bytes:
    return b"".join(_field(2, _number(1, n)) for n in sides)


def _ints(*values: int) -> bytes:
    return _field(1, b"".join(_number(3, n) for n in values))


def _node(name: str, op: str, inputs: Sequence[str], **said: bytes) -> bytes:
    attributes = b"".join(_field(5, _text(1, k) + _field(2, v)) for k, v in said.items())
    wires = b"".join(_text(3, one) for one in inputs)
    return _field(1, _text(1, name) + _text(2, op) + wires + attributes)


def _const(name: str, values: np.ndarray) -> bytes:
    tensor = _number(1, 1) + _field(2, _shape(*values.shape)) + _field(4, values.tobytes())
    return _node(name, "Const", (), dtype=_number(6, 1), value=_field(8, tensor))
