"""Writes docs/commands.md, docs/schema.md and docs/things.md from the code; tests compare them.

Run `poe reference` (or `python tests/reference.py --write`) after a change to either.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]


def commands() -> Iterator[tuple[str, Any, Any]]:
    """Give every command's words, the command, and its context, families in order."""
    import typer
    from typer.main import get_command

    from camsign.cli.app import app

    def walk(command: Any, words: str, parent: Any) -> Iterator[tuple[str, Any, Any]]:
        context = command.make_context(words, [], parent=parent, resilient_parsing=True)
        if hasattr(command, "list_commands"):
            for name in command.list_commands(context):
                yield from walk(command.get_command(context, name), name, context)
        else:
            yield context.command_path, command, context

    assert typer
    yield from walk(get_command(app), "camsign", None)


def commands_page() -> str:
    """Give the text of docs/commands.md."""
    lines = [
        "# Every command",
        "",
        "Made from the commands themselves by `poe reference`. `camsign [--logbook DIR] …` names",
        "the logbook; else CAMSIGN_LOGBOOK does, else the nearest one above the working folder.",
        "",
        "Exit codes: 0 done; 1 done, but something needs attention; 2 wrong usage; 3 nothing",
        "taken, input refused; 4 logbook busy; 5 damaged; 70 a fault of camsign itself; 130",
        "stopped by Ctrl+C.",
    ]
    for words, command, context in commands():
        lines += ["", f"## {words}", "", "```", command.get_help(context).strip(), "```"]
        if leaves := _leaves(command):
            lines += ["", leaves]
    return "\n".join(lines) + "\n"


def _leaves(command: Any) -> str:
    """Say what a command's exit codes 1 and 3 mean, where it has its own."""
    made = getattr(command.callback, "made", None)
    if made is None:
        return ""
    told = {1: made.attention, 3: made.refused}
    said = [f"{code}: {words}" for code, words in told.items() if words]
    return f"Exit codes: {'; '.join(said)}." if said else ""


def schema_page() -> str:
    """Give the text of docs/schema.md: every table with the comment above it."""
    from camsign.logbook.things import schema

    text = schema()
    lines = [
        "# Every table",
        "",
        "Made from camsign/logbook by `poe reference`. The database may be deleted at",
        "any time: it is made again from the cards and the journal.",
    ]
    for block in re.split(r"\n\s*\n", text):
        code = [line for line in block.splitlines() if not line.startswith("--")]
        said = [line.lstrip("- ") for line in block.splitlines() if line.startswith("--")]
        rule = [line for line in block.splitlines() if line.startswith("-----")]
        if rule:
            lines += ["", f"## {rule[0].strip('- ')}"]
            said = [s for s in said if s != rule[0].strip("- ") and s.strip("- ")]
            said = said if code else []
        if said:
            lines += ["", " ".join(said)]
        if any(line.strip() for line in code):
            lines += ["", "```sql", *code, "```"]
    return "\n".join(lines) + "\n"


def things_page() -> str:
    """Give the text of docs/things.md: every kind of thing, what is kept of it and what is done."""
    from camsign.logbook.things import THINGS

    lines = [
        "# Every kind of thing",
        "",
        "Made from camsign/logbook/things.py by `poe reference`. What is kept of each, by field of",
        "the journal; what people say of it, by option of the terminal, as the pages' forms do.",
    ]
    for kind in THINGS.values():
        lines += [
            "",
            f"## {kind.thing.replace('_', ' ')}",
            *(["", kind.about] if kind.about else []),
        ]
        kept = ", ".join(f"`{name}` {sort}" for name, sort in kind.columns.items())
        lines += ["", f"Kept in the table `{kind.stands_in}`: {kept}."]
        for verb in kind.verbs:
            lines += [
                "",
                f"**{verb.name}**: {verb.help}",
                "",
                "| said | needed | what |",
                "|---|---|---|",
            ]
            for name, needed in verb.fields.items():
                one = kind.field(name)
                word = one.said if name in verb.args else one.flag
                what = one.help or f"{one.label} (pages only)"
                lines.append(f"| `{word}` | {'yes' if needed else ''} | {what} |")
    return "\n".join(lines) + "\n"


def json_page() -> str:
    """Give the text of docs/json.md."""
    from json_page import page

    return page(commands())


PAGES = {
    "docs/commands.md": commands_page,
    "docs/schema.md": schema_page,
    "docs/things.md": things_page,
    "docs/json.md": json_page,
}


def main() -> None:
    """Write the pages, or say which are out of date."""
    stale = []
    for name, make in PAGES.items():
        path, text = ROOT / name, make()
        if "--write" in sys.argv:
            path.write_text(text, encoding="utf-8")
        elif not path.exists() or path.read_text(encoding="utf-8") != text:
            stale.append(name)
    if stale:
        sys.exit(f"out of date: {', '.join(stale)}; run: poe reference")


if __name__ == "__main__":
    main()
