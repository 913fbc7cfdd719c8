"""The bucks: all of them, and a page for each with what can be said of him."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute

from camsign.logbook.shapes import to_area
from camsign.page.app_state import desk_of
from camsign.page.portrait import HOURS, all_bucks, faces, portrait
from camsign.page.routing import get
from camsign.page.show import render
from camsign.page.smallmap import HEIGHT, WIDTH, small_map
from camsign.page.things import forms
from camsign.tags.bucks import names
from camsign.units import format_length


def _all(request: Request) -> Response:
    with desk_of(request).reading(settled=True) as session:
        found = all_bucks(session)
    return render(request, "bucks.html", {"bucks": found, "say": forms()["buck"]})


def _one(request: Request) -> Response:
    buck = str(request.path_params["buck"])
    said = request.query_params.get("season", "")
    season = int(said) if said.isascii() and said.isdigit() and len(said) == 4 else None
    with desk_of(request).reading(settled=True) as session:
        shown = portrait(session, buck, season)
        others = {i: n for i, n in names(session).items() if i != shown.buck.buck_id}
        settings = session.settings
        near = session.con.execute("SELECT area_id, name, shape FROM areas_now").fetchall()
        drawn = small_map(shown.spots, settings, [(i, n, to_area(s)) for i, n, s in near])
        face = faces(session).get(shown.buck.buck_id)
    most = max([1, *shown.clock.from_sunrise.values(), *shown.clock.from_sunset.values()])
    values = {
        "p": shown,
        "say": forms()["buck"],
        "map": drawn,
        "face": face,
        "map_size": (WIDTH, HEIGHT),
        "hours": list(HOURS),
        "most": most,
        "others": sorted(others.items(), key=lambda one: one[1].casefold()),
        "spread": lambda m: format_length(m, settings.units, small=True),
    }
    return render(request, "buck.html", values)


ROUTES: list[BaseRoute] = [get("/bucks", _all), get("/bucks/{buck}", _one)]
