"""What a command asks for where its words do not fit: the question, and what there is or looks so.

typer says `Missing argument 'area'`; here that becomes one plain line, with the names the logbook
has. Whatever typer says well enough (a misspelled command or option) it keeps saying itself.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import get_close_matches
from itertools import islice
from typing import TYPE_CHECKING, Any

import typer

from camsign.errors import CamsignError, UsageError

if TYPE_CHECKING:
    from camsign.logbook.session import Session

# What is asked for a word of a command, by its name in the code; what to give is its help.
_QUESTIONS = {
    "area": "which area?", "at": "where?", "buck": "which buck?", "camera": "which camera?",
    "card": "which card?", "correction": "which clock correction?",
    "deployment": "which camera spot?", "file": "which file?", "files": "which files?",
    "folder": "which folder?", "frames": "which pictures?", "friend": "whose logbook?",
    "habit": "which habit?", "hours": "what hours?", "into": "which buck is he?",
    "kind": "what kind?", "name": "what name?", "names": "a report on what?", "on": "what day?",
    "other": "which other one?", "pins": "which points?", "place": "which place?",
    "question": "what do you want to ask?", "rubs": "which rubs?", "sign": "which piece of sign?",
    "sit": "which sit?", "stand": "which stand?", "start": "from what day?",
    "stop": "to what day?", "subject": "who is in the pictures?", "underlay": "which map picture?",
    "what": "which chart?", "where": "which folder?",
}  # fmt: skip
# How an option that must be given is written; of the day it speaks of, how days are.
_WRITTEN = {"at": "44.6204,-71.2350", "hours": "3-dark", "pins": "120,80=44.6204,-71.2350"}
_DAY = "2025-11-04"
# An example for what has no list, where its help has none.
_SUCH = {
    "name": '"Brindle Knob"', "habit": '"High nicks"', "folder": "handover", "where": "hollow",
    "friend": "../his-logbook", "names": '"Brindle Knob" report.html',
    "question": '"SELECT * FROM visits"', "frames": "3f9c2a17b04e",
}  # fmt: skip
# The names there are, by what is asked for.
_NAMES = {
    "area": "SELECT name FROM areas_now ORDER BY lower(name)",
    "buck": "SELECT name FROM bucks_now WHERE buck = buck_id ORDER BY lower(name)",
    "camera": "SELECT DISTINCT camera FROM deployments WHERE gone IS NOT TRUE ORDER BY camera",
    "into": "SELECT name FROM bucks_now WHERE buck = buck_id ORDER BY lower(name)",
    "stand": "SELECT name FROM places WHERE kind = 'stand' AND gone IS NOT TRUE"
    " ORDER BY lower(name)",
}
_UNITS = {
    "yards": "yd", "yard": "yd", "feet": "ft", "foot": "ft", "miles": "mi", "mile": "mi",
    "inches": "in", "inch": "in", "meters": "m", "meter": "m", "kilometers": "km",
    "kilometer": "km", "centimeters": "cm", "centimeter": "cm",
}  # fmt: skip
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_NUMBERS = {"valid number": ("a number", "5.5"), "valid integer": ("a whole number", "10")}


def in_plain_words(e: typer.TyperException) -> CamsignError | None:
    """Give the same error as a person is told it; None where typer says it well enough."""
    if isinstance(e, typer.BadParameter) and e.param is not None:
        return _missing(e.ctx, e.param) if not e.message else _unfit(e.param, e.message)
    if e.message.startswith("Got unexpected extra argument"):
        left = e.message.partition(" (")[2].rstrip(")")
        return UsageError(
            f"can't tell what {left!r} belongs to", _belongs(getattr(e, "ctx", None), left)
        )
    if e.message.startswith("No such command"):
        return _no_command(e)
    if e.message.endswith("requires an argument."):
        return UsageError(f"{e.message.split(chr(39))[1]} needs a value after it")
    return None


# Words that no command's help says, or that look like another command, by one that help says.
_SAME = {
    "copy": "copies", "deer": "buck", "delete": "undo", "hunt": "stand tonight",
    "photo": "list pictures", "pic": "list pictures", "remove": "undo", "weather": "wind",
}  # fmt: skip


def _no_command(e: typer.TyperException) -> UsageError | None:
    """Name the commands that are spelled like the word, or else say it in their help."""
    from camsign.cli.families import WORDS, help_of

    context = getattr(e, "ctx", None)
    if context is None or context.parent is not None:
        return None
    said = e.message.split("'")[1]
    word = said.lower().removesuffix("s")
    found = [] if word in _SAME else get_close_matches(said.lower(), WORDS, 1, 0.8)
    if not found:
        looked = re.compile(rf"\b{re.escape(_SAME.get(word, word))}", re.IGNORECASE)
        at = {name: looked.search(help_of(name)) for name in WORDS}
        found = [name for _, name in sorted((m.start(), name) for name, m in at.items() if m)]
    near = (f"camsign {name} ({_short(help_of(name))})" for name in found)
    listed = ", ".join(islice(near, 3))
    return UsageError(
        f"there is no command {said!r}", f"nearest: {listed}" if listed else "list: camsign -h"
    )


def _short(told: str) -> str:
    return told.splitlines()[0].partition(". ")[0].rstrip(".")


def _belongs(context: Any, left: str) -> str:
    """Say how a word too many is meant: behind an option, if the command takes names by one."""
    if length := length_apart(context.params if context is not None else {}, left):
        return f"write it {length}"
    params = context.command.params if context is not None else ()
    opts = {opt for param in params for opt in param.opts}
    names = {"--buck": "a buck", "--area": "an area", "--camera": "a camera"}
    given = [f'{what}: {opt} "{left}"' for opt, what in names.items() if opt in opts]
    quotes = 'a name of several words goes in quotes, such as "Old Quarrel"'
    return f"if it's {'; if '.join(given)}" if given else quotes


def length_apart(params: Mapping[str, Any], left: str) -> str | None:
    """Join a number and a unit that stands apart from it: `80 yards` to `80yd`; else None."""
    unit = _UNITS.get(left.lower(), left.lower())
    values = params.values() if unit in _UNITS.values() else ()
    return next((f"{v}{unit}" for v in values if _NUMBER.fullmatch(str(v))), None)


def which(session: Session, what: str) -> UsageError:
    """Ask for an area, a buck, a camera or a stand, by the names there are."""
    return UsageError(_QUESTIONS[what], _one_of(session, what) or "None is in the logbook yet")


def _one_of(session: Session, what: str) -> str:
    names = [name for (name,) in session.con.execute(_NAMES[what]).fetchall()]
    most = ", ".join(f'"{name}"' if " " in name else name for name in names[:20])
    more = f" and {len(names) - 20} more" if len(names) > 20 else ""
    return f"One of {most}{more}" if names else ""


def _missing(context: Any, param: Any) -> UsageError:
    """Ask for what a command cannot do without."""
    question = _QUESTIONS.get(param.name, f"which {param.name}?")
    if param.param_type_name == "option":
        option = param.opts[0]
        such = f"{option} {_WRITTEN.get(param.name, _DAY)}"
        return UsageError(question, f"Add {option}, such as {such}")
    new = param.name == "camera" and context.command.name == "camera"
    listed = _listed(context, param.name) if param.name in _NAMES and not new else ""
    first = str(context.params.get("buck") or "")
    areas = [name.strip('" ') for name in listed.removeprefix("One of ").split(",")]
    if param.name == "area" and first in areas:
        usage = f"camsign {context.command_path.partition(' ')[2]} BUCK AREA"
        return UsageError(f"which buck? {first} is an area", f"the buck comes first: {usage}")
    such = f", such as {_SUCH[param.name]}" if param.name in _SUCH else ""
    return UsageError(question, listed or (param.help or "").rstrip(".") + such)


def _listed(context: typer.Context, what: str) -> str:
    """Read the names from the logbook; nothing where there is none, or it does not open."""
    from camsign.cli.opened import logbook

    try:
        with logbook(context, quiet=True) as session:
            return _one_of(session, what)
    except (CamsignError, OSError):
        return ""


def _unfit(param: Any, message: str) -> UsageError:
    """Say what a word takes; what typer says of it otherwise stands."""
    word = param.opts[0] if param.param_type_name == "option" else f"the {param.name}"
    for sort, (takes, such) in _NUMBERS.items():
        if sort in message:
            year = "2025" if param.name == "season" else such
            return UsageError(f"{word} takes {takes}, such as {year}")
    least = re.sub(r"Input should be greater than or equal to (\S+)", r"\1 or more", message)
    most = re.sub(r"Input should be less than or equal to (\S+)", r"\1 at most", least)
    return UsageError(f"{word} must be {most}" if most != message else f"{word}: {message}")
