"""Taking back what was said through the pages, and saying it again."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.logbook.edits import TakeBack
from camsign.logbook.session import Session
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
    frames = _frames_of(opened, said.acts)
    back, again = turns.counts()
    return JSONResponse({"what": turn.what, "frames": frames, "undo": back, "redo": again})


def _take_back(session: Session, turn: Turn, redo: bool) -> str:
    what = "said again" if redo else "took back"
    return session.say(f"{what}: {turn.what}", [TakeBack(list(turn.acts))])


def _frames_of(opened: Opened, acts: list[str]) -> list[str]:
    """Give the frames that a taking back speaks of, for the page to go there."""
    opened.desk.catch_up()
    with opened.desk.reading() as session:
        found = session.con.execute(
            "WITH RECURSIVE back(act) AS ("
            " SELECT unnest(?::VARCHAR[])"
            " UNION SELECT unnest(a.undoes) FROM acts a JOIN back ON a.act = back.act)"
            " SELECT DISTINCT t.frame FROM tag_edits t JOIN back USING (act) LIMIT 5000",
            [acts],
        ).fetchall()
    return [frame for (frame,) in found]


ROUTES: list[BaseRoute] = [post("/undo", _undo), post("/redo", _redo)]
