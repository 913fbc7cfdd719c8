"""The words of waypoints as words.toml lists them: which of them mean what."""

from __future__ import annotations

import tomllib
from pathlib import Path

_FILE = Path(__file__).with_name("words.toml")
TABLES = {
    table: {key: tuple(" ".join(text.split()).split(", ")) for key, text in lists.items()}
    for table, lists in tomllib.loads(_FILE.read_text(encoding="utf-8")).items()
}
"""The words and phrases by table and key, in lower case, in the order of the file."""


def listed(table: str, key: str) -> frozenset[str]:
    """Give the words that stand under a key."""
    return frozenset(TABLES[table][key])


def meanings(table: str) -> dict[str, str]:
    """Give, of a whole table, the key of each word."""
    return {word: key for key, texts in TABLES[table].items() for word in texts}
