"""What a process does that is killed; `faults.killed` loads this once and forks from it."""

from __future__ import annotations

import faulthandler
import os
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import cv2  # noqa: F401  (what the work loads is loaded before it begins)
import duckdb  # noqa: F401
import numpy as np  # noqa: F401
import pyproj  # noqa: F401
import scipy.special  # noqa: F401
import shapely  # noqa: F401

from camsign.derive.opening import open_logbook, remove_database
from camsign.flows.intake import ingest
from camsign.flows.upkeep.backup import backup
from camsign.flows.upkeep.merge import merge
from camsign.flows.upkeep.thin import thin
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder

STUCK_S = 240
"""A child still at work then says where it stands and ends, so that no test waits for ever."""


def do(work: str, told: Connection, variables: dict[str, str], paths: list[Path]) -> None:
    """Do one kind of work in a logbook, the first of the paths; tell what it acknowledges."""
    os.environ.update(variables)
    faulthandler.dump_traceback_later(STUCK_S, exit=True)
    book, more = Folder(paths[0]), paths[1:]
    told.send("begun")
    {
        "ingest": lambda: ingest(book, more),
        "tag": lambda: _tag(book, told),
        "merge": lambda: merge(book, more[0]),
        "rebuild": lambda: _rebuild(book),
        "thin": lambda: thin(book, consent=True, without_backup=True),
        "backup": lambda: backup(book, more[0]),
    }[work]()
    told.send("done")


def _tag(book: Folder, told: Any) -> None:
    for i in range(400):
        with open_logbook(book) as session:
            session.say(f"noted {i}", [SetFields("buck", "b-1", {"traits": str(i)})])
        told.send(str(i))


def _rebuild(book: Folder) -> None:
    for _ in range(3):
        remove_database(book)
        with open_logbook(book):
            pass
