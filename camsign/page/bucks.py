"""The bucks: all of them, a page for each, where he is bedded, and whose a sign is."""

from __future__ import annotations

from typing import Any

from starlette.routing import BaseRoute

from camsign.answers.makers import makers
from camsign.answers.scope import scope_of
from camsign.answers.where import where
from camsign.formats.interval import percent
from camsign.logbook.named import known_bucks
from camsign.logbook.shapes import to_area
from camsign.page.portrait import all_bucks, faces, portrait
from camsign.page.routing import Asked, Values, asks
from camsign.page.smallmap import HEIGHT, WIDTH, small_map
from camsign.page.things import forms
from camsign.stats.estimate import Estimate
from camsign.units import format_length, upper_first


def _all(asked: Asked) -> Values:
    return {"bucks": all_bucks(asked.session), "say": forms()["buck"]}


def _one(asked: Asked) -> Values:
    session, said = asked.session, asked.query.get("season", "")
    season = int(said) if said.isascii() and said.isdigit() and len(said) == 4 else None
    shown = portrait(session, asked.named["buck"], season)
    others = {i: n for i, n in known_bucks(session).names.items() if i != shown.buck.buck_id}
    near = session.con.execute("SELECT area_id, name, shape FROM areas_now ORDER BY ALL").fetchall()
    settings = session.settings
    return {
        "p": shown,
        "say": forms()["buck"],
        "map": small_map(shown.spots, settings, [(i, n, to_area(s)) for i, n, s in near]),
        "face": faces(session).get(shown.buck.buck_id),
        "map_size": (WIDTH, HEIGHT),
        "others": sorted(others.items(), key=lambda one: one[1].casefold()),
        "spread": lambda m: format_length(m, settings.units, small=True),
    }


def _makers(asked: Asked) -> Values:
    answer = makers(asked.session, scope_of(asked.session), asked.named["sign"])
    rows = [
        (m.buck, m.buck_id, percent(Estimate(m.p, m.low, m.high)), m.why) for m in answer.makers
    ]
    return _one_answer(answer, answer.verdict, rows)


def _where(asked: Asked) -> Values:
    answer = where(asked.session, scope_of(asked.session, [asked.named["buck"]]))
    return _one_answer(answer, answer.bedded, [])


def _one_answer(answer: Any, said: str, rows: list[tuple[Any, ...]]) -> Values:
    """Give an answer about one thing, as a part of another page."""
    said = f"{upper_first(said).rstrip('.')}."
    return {"answer": answer, "said": said, "rows": rows}


ROUTES: list[BaseRoute] = [
    asks("/bucks", _all, "bucks.html", settled=True),
    asks("/bucks/{buck}", _one, "buck.html", settled=True),
    asks("/bucks/{buck}/where", _where, "one_answer.html"),
    asks("/map/signs/{sign}/makers", _makers, "one_answer.html"),
]
