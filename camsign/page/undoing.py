"""Taking back what was said through the pages, and saying it again."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.logbook.edits import TakeBack
from camsign.logbook.session import Session
from camsign.page.changes import MOST_FRAMES
from camsign.page.opened import Opened
from camsign.page.routing import post
from camsign.page.turns import Turn


def _undo(request: Request) -> Response:
    return _turn(request, redo=False)


def _redo(request: Request) -> Response:
    return _turn(request, redo=True)


def _turn(request: Request, redo: bool) -> Response:
    opened: Opened = request.app.state.opened
    turns = opened.turns
    turn = turns.say_again() if redo else turns.take_back()
    try:
        said = opened.desk.say(lambda session: _take_back(session, turn, redo))
    except BaseException:
        turns.put_back(turn, redo)
        raise
    (turns.said_again if redo else turns.taken_back)(turn, said.acts)
    if "soon" not in request.query_params:  # the page is shown anew and wants to see it
        opened.desk.catch_up()
    back, again = turns.counts()
    frames = list(turn.frames[:MOST_FRAMES])
    return JSONResponse({"what": turn.what, "frames": frames, "undo": back, "redo": again})


def _take_back(session: Session, turn: Turn, redo: bool) -> None:
    what = "said again" if redo else "took back"
    session.say(f"{what}: {turn.what}", [TakeBack(list(turn.acts))])


ROUTES: list[BaseRoute] = [post("/undo", _undo), post("/redo", _redo)]
