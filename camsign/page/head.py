"""What the head of every page offers: undo and redo, another logbook, what could not be read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from camsign.errors import UsageError
from camsign.logbook.edits import TakeBack
from camsign.logbook.folder import Folder, opened_before
from camsign.logbook.history import loaded_since
from camsign.page import inputs
from camsign.page.app_state import opened
from camsign.page.desk import MOST_FRAMES
from camsign.page.routing import Sent, post
from camsign.page.show import unread


def _turn(redo: bool, request: Request, _: Sent) -> Response:
    """Take back what was said last through the pages, or say it again."""
    state = opened(request)
    turns = state.turns
    turn = turns.pop(redo)
    what = f"{'redid' if redo else 'undid'}: {turn.what}"
    try:
        said = state.desk.say(lambda s: s.say(what, [TakeBack(list(turn.acts))]))[1]
    except BaseException:
        turns.push(turn, redo)
        raise
    turns.push(replace(turn, acts=tuple(said.acts)), not redo)
    with state.desk.reading() as session:
        cards = [] if redo else loaded_since(session, turn.acts[0])
    if "soon" not in request.query_params:  # the page is shown anew and wants to see it
        state.desk.catch_up()
    back, again = turns.counts()
    frames = list(turn.frames[:MOST_FRAMES])
    what = f"{turn.what}{_stays(cards)}"
    return JSONResponse({"what": what, "frames": frames, "undo": back, "redo": again})


def _stays(cards: Sequence[tuple[str, str]]) -> str:
    """Say that cards loaded after what was undone stay, and where one is moved."""
    if not cards:
        return ""
    which = f"{cards[0][1]}'s card stays" if len(cards) == 1 else f"{len(cards)} cards stay"
    return f". {which} loaded; to move one to another camera, open it on Cards"


def _switch(request: Request, sent: Sent) -> Response:
    """Show another logbook; only one that was opened before, never any folder."""
    said = inputs.text(sent, "logbook", 4000)
    path = next((p for p in opened_before() if str(p) == said), None)
    if path is None:
        raise UsageError("that logbook is not here any more", "load the page again")
    opened(request).open(Folder(path))
    request.app.state.hub.tell("switched", logbook=path.name)
    return JSONResponse({"logbook": path.name})


def _unread(request: Request) -> Response:
    heading, lines = unread(opened(request))
    return JSONResponse({"heading": heading, "lines": lines})


ROUTES: list[BaseRoute] = [
    post("/undo", partial(_turn, False)),
    post("/redo", partial(_turn, True)),
    post("/switch", _switch),
    Route("/unread", _unread),
]
