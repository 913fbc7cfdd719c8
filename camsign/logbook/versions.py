"""Versions of what is computed and kept, found in the code itself: no list, no number by hand.

The version of a module is a hash of its file, of every file of this package that it imports, at
whatever depth, and of the SQL and TOML files that these name. So what was kept is made again when
anything that decides it has changed, and is left alone when anything else has.
"""

from __future__ import annotations

import ast
import hashlib
import json
import os
import secrets
import threading
from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

from camsign import systems
from camsign.logbook.folder import cache_home

PACKAGE = Path(__file__).parents[1]
_DATA = (".sql", ".toml")
# Asking decides nothing, nor does the package's front, which names what lies above all else.
_DECIDE_NOTHING = (Path(__file__), PACKAGE / "__init__.py")
# Two threads that parse at once can fail with a SystemError (CPython 3.11, gh-106905).
_PARSING = threading.Lock()


@cache
def version_of(module: str) -> str:
    """Give the version of what a module makes, by its dotted name: 16 hex digits.

    Reading all files takes some tenths of a second, so the answer is kept in the cache folder for
    as long as no file of the package changes.
    """
    path = cache_home() / f"versions-{_short(str(PACKAGE))}.json"
    stamp = _stamp()
    kept = _kept(path, stamp)
    if module not in kept:
        kept[module] = _short("\n".join(map(_hash_of, sorted(files_of(module)))))
        with suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
            temp = path.with_name(f".{path.name}-{secrets.token_hex(4)}")
            temp.write_text(json.dumps({"stamp": stamp, "versions": kept}), encoding="utf-8")
            systems.replace(temp, path)
    return str(kept[module])


def files_of(module: str) -> set[Path]:
    """Give the files that decide what a module makes."""
    found: set[Path] = set()
    waiting = [module]
    while waiting:
        file = _file(waiting.pop())
        if file is None or file in found or file in _DECIDE_NOTHING:
            continue
        found.add(file)
        with _PARSING:
            tree = ast.parse(file.read_bytes())
        waiting += _imported(tree)
        found |= _named(tree, file.parent)
    return found


def _file(module: str) -> Path | None:
    base = PACKAGE.joinpath(*module.split(".")[1:])
    for path in (base.with_name(f"{base.name}.py"), base / "__init__.py"):
        if path.is_file():
            return path
    return None


def _imported(tree: ast.AST) -> Iterator[str]:
    for node in _running(tree):
        if isinstance(node, ast.Import):
            yield from (a.name for a in node.names if a.name.startswith("camsign."))
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("camsign"):
            yield str(node.module)
            yield from (f"{node.module}.{a.name}" for a in node.names)


def _running(tree: ast.AST) -> Iterator[ast.AST]:
    """Walk a tree without what only a type checker sees."""
    waiting = [tree]
    while waiting:
        node = waiting.pop()
        yield node
        if not (isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING"):
            waiting += ast.iter_child_nodes(node)


def _named(tree: ast.AST, folder: Path) -> set[Path]:
    texts = {
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    there = (p for p in folder.iterdir() if p.suffix in _DATA)
    return {p for p in there if p.name in texts or p.stem in texts}


def _hash_of(path: Path) -> str:
    data = path.read_bytes().replace(b"\r\n", b"\n")
    return f"{path.relative_to(PACKAGE).as_posix()} {hashlib.sha256(data).hexdigest()}"


@cache
def _stamp() -> str:
    """Give a text that changes when any file of the package is written; a process runs one code."""
    lines = []
    for folder, _, names in os.walk(PACKAGE):
        for name in names:
            if name.endswith((".py", *_DATA)):
                path = f"{folder}/{name}"
                stat = os.stat(path)  # noqa: PTH116 - every opening waits for it
                lines.append(f"{path} {stat.st_size} {stat.st_mtime_ns}")
    return _short("\n".join(sorted(lines)))


def _kept(path: Path, stamp: str) -> dict[str, Any]:
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        return dict(kept["versions"]) if kept["stamp"] == stamp else {}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}


def _short(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]
