"""Taking back what was said through the pages, and saying it again."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.logbook.edits import TakeBack
from camsign.page.app_state import AppState
from camsign.page.diff import MOST_FRAMES
from camsign.page.routing import post


def _turn(redo: bool, request: Request, _: object) -> Response:
    state: AppState = request.app.state.opened
    turns = state.turns
    turn = turns.pop(redo)
    what = f"{'redid' if redo else 'undid'}: {turn.what}"
    try:
        said = state.desk.say(lambda session: session.say(what, [TakeBack(list(turn.acts))]))
    except BaseException:
        turns.push(turn, redo)
        raise
    turns.push(replace(turn, acts=tuple(said.acts)), not redo)
    if "soon" not in request.query_params:  # the page is shown anew and wants to see it
        state.desk.catch_up()
    back, again = turns.counts()
    frames = list(turn.frames[:MOST_FRAMES])
    return JSONResponse({"what": turn.what, "frames": frames, "undo": back, "redo": again})


ROUTES: list[BaseRoute] = [
    post("/undo", partial(_turn, False)),
    post("/redo", partial(_turn, True)),
]
