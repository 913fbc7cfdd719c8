"""Types read from annotations whose names are imported only for the type checker."""

from __future__ import annotations

import ast
import builtins
import inspect
import sys
from functools import cache
from importlib import import_module
from typing import Any


def resolved(annotation: Any, module: str) -> Any:
    """Give the type that an annotation of a module names, whatever that module imports lazily."""
    if not isinstance(annotation, str):
        return annotation
    return eval(annotation, {}, _Names(module))


class _Names(dict[str, Any]):
    """A module's names, with those that it imports for the type checker alone."""

    def __init__(self, module: str) -> None:
        super().__init__(vars(sys.modules.get(module) or import_module(module)))
        self._module = module

    def __missing__(self, name: str) -> Any:
        # `str` is missing here too, and to parse the whole module for it took most of a start.
        if hasattr(builtins, name) or name not in (later := _imported(self._module)):
            raise KeyError(name)
        where, original = later[name]
        return getattr(import_module(where), original)


@cache
def _imported(module: str) -> dict[str, tuple[str, str]]:
    """Where each name comes from that a module imports anywhere: module and name there."""
    tree = ast.parse(inspect.getsource(sys.modules[module]))
    return {
        alias.asname or alias.name: (node.module or "", alias.name)
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
