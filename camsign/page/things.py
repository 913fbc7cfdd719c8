"""Saying something of a thing: one address for every kind and verb, read by the table of things."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.formats.days import People
from camsign.logbook.fields import Kind, read
from camsign.logbook.session import Session
from camsign.logbook.things import THINGS
from camsign.page.routing import Named, Sent, Told, says
from camsign.pixels import underlays
from camsign.places import areas, deployments, points
from camsign.places.nearby import check_near
from camsign.sign import record
from camsign.sits import journal
from camsign.tags import bucks
from camsign.tags.splitting import split_buck

_BODY = 1 << 20
_OTHERWISE = "if it really is that far, add it in a terminal with --anywhere"
_OF_FIELD = ("sort", "label", "hint", "note", "choices", "most", "only")


def _set_buck(session: Session, buck: str, **said: Any) -> Any:
    """Say something of a buck; the form always names a season, which counts with an age alone."""
    if not {"age", "age_low", "age_high"} & said.keys():
        said.pop("age_year", None)
    return bucks.set_buck(session, buck, **said)


_RUN: dict[str, dict[str, Callable[..., Any]]] = {
    "deployment": {
        "hang": deployments.hang,
        "correct": deployments.correct_deployment,
        "takedown": deployments.takedown,
        "remove": deployments.remove_deployment,
    },
    "outage": {"add": deployments.outage},
    "sign": {
        "add": record.note_sign,
        "again": record.note_look,
        "move": record.move_sign,
        "remove": record.remove_sign,
    },
    "area": {"add": areas.add_area, "set": areas.set_area, "remove": areas.remove_area},
    "place": {"add": points.add_place, "set": points.set_place, "remove": points.remove_place},
    "underlay": {"pin": underlays.pin_underlay, "remove": underlays.remove_underlay},
    "sit": {"add": journal.add_sit, "set": journal.set_sit, "remove": journal.remove_sit},
    "buck": {
        "add": bucks.add_buck,
        "set": _set_buck,
        "rename": bucks.rename_buck,
        "merge": bucks.merge_bucks,
        "split": split_buck,
    },
}


def forms() -> dict[str, Any]:
    """Give what every form shows, by kind and verb: its words and its fields in order."""
    return {
        thing: {verb: _form(THINGS[thing], verb) for verb in verbs} for thing, verbs in _RUN.items()
    }


def _form(kind: Kind, name: str) -> dict[str, Any]:
    verb = kind.verb(name)
    fields = [(kind.field(one), needed) for one, needed in verb.fields.items()]
    return {
        "to": f"/say/{kind.thing}/{name}",
        "title": verb.title,
        "button": verb.button,
        "fields": [
            {key: getattr(one, key) for key in _OF_FIELD}
            | {"name": one.said, "needed": needed or one.name in verb.usual}
            for one, needed in fields
            if one.label
        ],
    }


def _say(session: Session, named: Named, sent: Sent) -> Told:
    thing, verb = named["thing"], named["verb"]
    run = _RUN.get(thing, {}).get(verb)
    if run is None:
        raise UsageError(f"there is no {thing} to {verb}", "load the page again")
    values = read(THINGS[thing], verb, sent, session.settings)
    if values.get("at"):
        check_near(session, values["at"], _OTHERWISE)
    done = run(session, **values)
    found = (
        done
        if isinstance(done, str)
        else getattr(done, f"{thing}_id", None) or getattr(done, thing)
    )
    told = People(session.settings.units).prose(getattr(done, "read_as", ""))
    return {"id": found, "kind": thing, "read_as": told}, ""


ROUTES: list[BaseRoute] = [says("/say/{thing}/{verb}", _say, _BODY)]
