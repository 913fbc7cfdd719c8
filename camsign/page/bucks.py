"""The bucks: all of them, and a page for each with what can be said of him."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.page import asked
from camsign.page.opened import Opened, desk_of
from camsign.page.portrait import HOURS, all_bucks, portrait
from camsign.page.routing import get, post
from camsign.page.show import render
from camsign.page.smallmap import HEIGHT, WIDTH, small_map
from camsign.page.sorting import turns_of
from camsign.page.words import length
from camsign.tags.bucks import add_buck, merge_bucks, names, rename_buck, set_buck
from camsign.tags.frames import by_ids
from camsign.tags.splitting import split_buck

if TYPE_CHECKING:
    from camsign.logbook.session import Session

_BIG_BODY = 1 << 20
_TEXTS = ("traits", "age_basis", "ended")
_NUMBERS = ("age", "age_low", "age_high")


def _all(request: Request) -> Response:
    with desk_of(request).reading(settled=True) as session:
        found = all_bucks(session)
    return render(request, "bucks.html", {"bucks": found})


def _one(request: Request) -> Response:
    buck = str(request.path_params["buck"])
    said = request.query_params.get("season", "")
    season = int(said) if said.isascii() and said.isdigit() and len(said) == 4 else None
    with desk_of(request).reading(settled=True) as session:
        shown = portrait(session, buck, season)
        others = {i: n for i, n in names(session).items() if i != shown.buck.buck_id}
        settings = session.settings
        drawn = small_map(shown.spots, settings)
    most = max([1, *shown.clock.from_sunrise.values(), *shown.clock.from_sunset.values()])
    values = {
        "p": shown,
        "map": drawn,
        "map_size": (WIDTH, HEIGHT),
        "hours": list(HOURS),
        "most": most,
        "others": sorted(others.items(), key=lambda one: one[1].casefold()),
        "spread": lambda m: length(m, settings, small=True),
    }
    return render(request, "buck.html", values)


def _verb(
    run: Callable[[Session, str, dict[str, Any]], tuple[str, str]],
) -> Callable[[Request], Any]:
    """Make a handler of a verb that gives (the buck to show then, words for the undo list)."""

    async def handler(request: Request) -> Response:
        sent = await asked.body(request)
        return await run_in_threadpool(say, request, sent)

    def say(request: Request, sent: dict[str, Any]) -> Response:
        opened: Opened = request.app.state.opened
        buck = str(request.path_params.get("buck", ""))
        said = opened.desk.say(lambda session: run(session, buck, sent))
        show, words = said.result
        opened.turns.did(words, said.acts)
        return JSONResponse({"buck_id": show, "what": words, **turns_of(opened)})

    return handler


def _add(session: Session, _: str, sent: dict[str, Any]) -> tuple[str, str]:
    said = add_buck(session, _name(sent))
    return said.buck_id, f"added {said.buck}"


def _set(session: Session, buck: str, sent: dict[str, Any]) -> tuple[str, str]:
    details: dict[str, Any] = {n: asked.text(sent, n, 2000) for n in _TEXTS}
    details |= {n: asked.number(sent, n) for n in _NUMBERS}
    year = asked.number(sent, "age_year")
    if details["age"] is not None:
        details["age_year"] = int(year) if year is not None else None
    said = set_buck(session, buck, **details)
    return said.buck_id, f"described {said.buck}"


def _rename(session: Session, buck: str, sent: dict[str, Any]) -> tuple[str, str]:
    said = rename_buck(session, buck, _name(sent))
    return said.buck_id, f"renamed to {said.buck}"


def _merge(session: Session, buck: str, sent: dict[str, Any]) -> tuple[str, str]:
    into = asked.text(sent, "into")
    if into is None:
        raise UsageError("no other buck was chosen", "choose who he is")
    said = merge_bucks(session, buck, into)
    return said.buck_id, f"merged into {said.buck}"


def _split(session: Session, buck: str, sent: dict[str, Any]) -> tuple[str, str]:
    chosen = by_ids(session, asked.frames(sent))
    said = split_buck(session, buck, _name(sent), chosen)
    return said.buck_id, f"split {said.buck} from {said.split_from}"


def _name(sent: dict[str, Any]) -> str:
    name = asked.text(sent, "name")
    if name is None:
        raise UsageError("a buck needs a name", "type one")
    return name


ROUTES: list[BaseRoute] = [
    get("/bucks", _all),
    post("/bucks", _verb(_add)),
    get("/bucks/{buck}", _one),
    post("/bucks/{buck}/set", _verb(_set)),
    post("/bucks/{buck}/rename", _verb(_rename)),
    post("/bucks/{buck}/merge", _verb(_merge)),
    post("/bucks/{buck}/split", _verb(_split), _BIG_BODY),
]
