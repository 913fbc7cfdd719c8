"""Writes the season's memory cards as a person copied them from the camera."""

from __future__ import annotations

import os
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from camsign.demo.scene import render
from camsign.demo.season import Season
from camsign.demo.specs import CardSpec
from camsign.pixels.opencv import opencv


@dataclass(frozen=True, slots=True)
class CardDump:
    """One copied card: its folder (which holds DCIM), whose it is, what tells that, its frames.

    `named_by`: label (the folder names the camera), serial (only the EXIF serial number does) or
    person (nothing on the card does, so it must be said).
    """

    path: Path
    camera: str
    deployment: str
    named_by: str
    frames: int


def write_dumps(season: Season, folder: Path, executor: Executor | None = None) -> list[CardDump]:
    """Draw all frames and write them under folder/cards, one folder a card, in order of pulling.

    The executor (threads or processes) draws one deployment a task; by default as many threads as
    the machine has cores. A file's time is the camera's clock, as a card's file system keeps it.

    Raises:
        OSError: the folder cannot be written.
    """
    pool = executor or ThreadPoolExecutor(os.cpu_count() or 2)
    try:
        for task in [pool.submit(_write, season, one.key, folder) for one in season.deployments]:
            task.result()
    finally:
        if executor is None:
            pool.shutdown(cancel_futures=True)
    return [
        CardDump(card_folder(folder, one), one.camera, one.deployment, one.named_by,
                 len(season.of_card(one.key)))
        for one in sorted(season.cards, key=lambda one: one.pulled)
    ]  # fmt: skip


def card_folder(folder: Path, card: CardSpec) -> Path:
    """Where a card's copy lies under the folder given to write_dumps."""
    return folder.joinpath("cards", *card.folder.split("/"))


def _write(season: Season, deployment: str, folder: Path) -> None:
    opencv()
    folders = {one.key: card_folder(folder, one) for one in season.cards}
    for frame in (one for one in season.frames if one.deployment == deployment):
        path = folders[frame.card].joinpath(*frame.file.split("/"))
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(render(season, frame))
        stamp = frame.shown.replace(tzinfo=ZoneInfo(season.tz)).timestamp()
        os.utime(path, (stamp, stamp))
