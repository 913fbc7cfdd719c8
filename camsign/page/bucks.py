"""The bucks: all of them, and a page for each with what can be said of him."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.page import inputs
from camsign.page.app_state import desk_of
from camsign.page.portrait import HOURS, all_bucks, portrait
from camsign.page.routing import Named, Sent, Told, get, says
from camsign.page.show import render
from camsign.page.smallmap import HEIGHT, WIDTH, small_map
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


def _add(session: Session, _: Named, sent: Sent) -> Told:
    said = add_buck(session, _name(sent))
    return {"buck_id": said.buck_id}, f"added {said.buck}"


def _set(session: Session, named: Named, sent: Sent) -> Told:
    details: dict[str, Any] = {n: inputs.text(sent, n, 2000) for n in _TEXTS}
    details |= {n: inputs.number(sent, n) for n in _NUMBERS}
    year = inputs.number(sent, "age_year")
    if any(details[n] is not None for n in _NUMBERS):
        details["age_year"] = int(year) if year is not None else None
    said = set_buck(session, named["buck"], **details)
    return {"buck_id": said.buck_id}, f"described {said.buck}"


def _rename(session: Session, named: Named, sent: Sent) -> Told:
    said = rename_buck(session, named["buck"], _name(sent))
    return {"buck_id": said.buck_id}, f"renamed to {said.buck}"


def _merge(session: Session, named: Named, sent: Sent) -> Told:
    into = inputs.text(sent, "into")
    if into is None:
        raise UsageError("no other buck was chosen", "choose who he is")
    said = merge_bucks(session, named["buck"], into)
    return {"buck_id": said.buck_id}, f"merged into {said.buck}"


def _split(session: Session, named: Named, sent: Sent) -> Told:
    chosen = by_ids(session, inputs.frames(sent))
    said = split_buck(session, named["buck"], _name(sent), chosen)
    return {"buck_id": said.buck_id}, f"split {said.buck} from {said.split_from}"


def _name(sent: dict[str, Any]) -> str:
    name = inputs.text(sent, "name")
    if name is None:
        raise UsageError("a buck needs a name", "type one")
    return name


ROUTES: list[BaseRoute] = [
    get("/bucks", _all),
    says("/bucks", _add),
    get("/bucks/{buck}", _one),
    says("/bucks/{buck}/set", _set),
    says("/bucks/{buck}/rename", _rename),
    says("/bucks/{buck}/merge", _merge),
    says("/bucks/{buck}/split", _split, _BIG_BODY),
]
