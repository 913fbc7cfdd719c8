"""The walks of docs/design.md, held against what is really called.

Stations are named here: functions in which something happens to a picture or a tag. Every function
of ours on a chain of calls that leads to one of them is a step of the walk, and the page lists just
these. What a room's door hides (how pixels are compared, how an answer is computed) is no step.
"""

from __future__ import annotations

import re
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Any, cast
from unittest.mock import patch

import made_cards as made
import pytest
from page_logbook import HOME, new_book, season
from page_server import Running

import camsign
from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest
from camsign.logbook.edits import SetFields
from camsign.page.server import serve

pytestmark = pytest.mark.thorough
CODE = Path(camsign.__file__).parent
DESIGN = CODE.parent / "docs" / "design.md"
PICTURE = {
    "derive/opening.py": "open_logbook derive",
    "flows/intake/card_files.py": "_list_folder",
    "flows/intake/known.py": "load",
    "flows/intake/read.py": "Reader.read describe",
    "flows/intake/evidence.py": "Witness.hear",
    "flows/intake/whose.py": "settle",
    "flows/intake/one_file.py": "take",
    "logbook/placing.py": "place",
    "pixels/workers.py": "in_order",
    "pixels/see.py": "see",
    "flows/intake/report.py": "Report.note Report.items",
    "logbook/parquet.py": "RowFile.add RowFile.write",
    "flows/intake/incoming.py": "Incoming.stand",
    "logbook/cardfacts.py": "_check _take_card",
    "pixels/scoring.py": "plan carry_out",
    "pixels/news_cache.py": "fill_changes",
    "cards/listing.py": "spans",
    "flows/intake/since_last_check.py": "since_last_check",
    "pixels/scores.py": "set_aside",
    "answers/detections.py": "detections_of Asked.visited",
}
TAG = {
    "page/sorting.py": "_tag _tags",
    "page/desk.py": "Speaking.say",
    "logbook/journal.py": "append _write read",
    "page/app_state.py": "UndoStack.did",
    "logbook/replay.py": "_Rows.take retag",
    "derive/opening.py": "derive",
    "page/events.py": "Hub.tell Hub._spread",
    "page/lists.py": "tags_of",
    "answers/detections.py": "detections_of Asked.visited",
    "page/show.py": "render",
}
_UNNAMED = re.compile(r"<(lambda|genexpr|listcomp|dictcomp|setcomp)>")
# Behind a door, or for another end: a file placed that is no picture's, the end of a journal.
_ASIDE = {
    "logbook/journal.py:_mend_end", "flows/intake/incoming.py:start", "pixels/scoring.py:_computed",
}  # fmt: skip


def _names(frame: FrameType | None) -> Iterator[str]:
    """Our functions from this frame outward, as file:name."""
    while frame is not None:
        code = frame.f_code
        if code.co_filename.startswith(f"{CODE}/") and not _UNNAMED.search(code.co_qualname):
            name = code.co_qualname.replace(".<locals>", "")
            yield f"{Path(code.co_filename).relative_to(CODE).as_posix()}:{name}"
        frame = frame.f_back


@contextmanager
def _walked(stations: dict[str, str]) -> Iterator[dict[str, None]]:
    """Give the steps to these stations that are gone meanwhile, in the order of their first."""
    wanted = {f"{file}:{name}" for file, names in stations.items() for name in names.split()}
    steps: dict[str, None] = {}

    def called(frame: FrameType, event: str, _: object) -> None:
        if event != "call" or not frame.f_code.co_filename.startswith(str(CODE)):
            return
        chain = list(_names(frame))
        if chain and chain[0] in wanted and _ASIDE.isdisjoint(chain):
            steps.update(dict.fromkeys(reversed(chain)))

    threading.setprofile(called)
    sys.setprofile(called)
    try:
        yield steps
    finally:
        sys.setprofile(None)
        threading.setprofile(cast("Any", None))


def _listed(heading: str) -> dict[str, None]:
    """The steps that the page lists under a heading: a file a line, its functions behind it."""
    text = DESIGN.read_text(encoding="utf-8").partition(heading)[2]
    rows = [row.replace(",", " ").split() for row in text.split("```")[1].strip().splitlines()]
    return {f"{file}:{name}": None for file, *names in rows for name in names}


def picture(home: Path) -> dict[str, None]:
    """Take a card of 40 pictures in and ask who came."""
    book = made.logbook(home / "book", "CAM03", "CAM07")
    hung = {"camera": "CAM03", "lat": 40.0, "lon": -75.0, "hung": "2025-09-20T12:00:00Z"}
    with open_logbook(book) as session:
        session.say("hung", [SetFields("deployment", "d-1", hung)])
    card = made.card(home / "one", 40, serial="SN1", comment=b"at cam03 now")
    with _walked(PICTURE) as steps:
        assert ingest(book, [card]).new == 40
        with open_logbook(book) as session:
            visits(session, scope_of(session), "camera")
    return steps


def tag(home: Path) -> dict[str, None]:
    """Tag a picture through the pages, wait until it is taken in, and ask who came to the area."""
    book = new_book(home / "hollow")
    book.hang("CAM01", *HOME)
    book.card("CAM01", season(0, 2, 3), size=(320, 240))
    book.buck("Split Brow")
    shape = {"circle": [*HOME, 60.0]}
    area = {"name": "Knob", "kind": "bedding", "shape": shape}
    book.say("area", [SetFields("area", "a-knob", area)])
    with open_logbook(book.folder) as session:
        ((buck,),) = session.con.execute("SELECT buck FROM bucks").fetchall()
    first: list[str] = []
    words = (book.folder, home, 0, False, first.append)
    with patch("camsign.page.jobs.compare"), _walked(TAG) as steps:
        threading.Thread(target=serve, args=words, daemon=True).start()
        _wait(lambda: bool(first))
        page = Running(cast("Any", None), first[0])
        frame = page.get("/sort/list")["begun"][0]["frames"][0]["frame"]
        steps.clear()
        page.post("/sort/tag", {"frames": [frame], "buck_id": buck})
        _wait(lambda: "page/events.py:Hub._spread" in steps)
        page.post("/sort/frames", {"frames": [frame]})
        page.ask("GET", "/areas/a-knob/who")
    return {step: None for step in steps if step != "page/server.py:serve"}


def _wait(done: Callable[[], bool]) -> None:
    until = time.monotonic() + 60
    while not done() and time.monotonic() < until:
        time.sleep(0.05)


@pytest.mark.parametrize(("heading", "walk"), [("**A picture", picture), ("**A tag", tag)])
def test_the_page_lists_each_step_of_a_walk(
    heading: str, walk: Callable[[Path], dict[str, None]], tmp_path: Path
) -> None:
    assert sorted(_listed(heading)) == sorted(walk(tmp_path))


if __name__ == "__main__":
    import os
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as name:
        os.environ |= {"CAMSIGN_CACHE": f"{name}/cache", "CAMSIGN_CONFIG": f"{name}/config"}
        for walk in (picture, tag):
            steps = walk(Path(name) / walk.__name__)
            files: dict[str, list[str]] = {}
            for step in steps:
                file, _, function = step.partition(":")
                files.setdefault(file, []).append(function)
            print(walk.__name__, len(steps), "steps in", len(files), "files")
            print("\n".join(f"{file:34} {', '.join(names)}" for file, names in files.items()))
        os._exit(0)
