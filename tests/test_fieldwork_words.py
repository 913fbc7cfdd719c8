"""The table of a waypoint's words holds no slip: a stray comma or a double meaning is silent."""

from __future__ import annotations

from collections import Counter
from itertools import chain

import pytest

from camsign.flows.fieldwork.words import TABLES, meanings
from camsign.logbook.things import AREA_KINDS, PLACE_KINDS, SIGN_KINDS
from camsign.sign.kinds import MEASURES

LISTS = [(table, key) for table, lists in TABLES.items() for key in lists]


@pytest.mark.parametrize(("table", "key"), LISTS)
def test_each_word_stands_once_in_its_list_as_it_is_looked_up(table: str, key: str) -> None:
    words = TABLES[table][key]
    assert words and max(Counter(words).values()) == 1
    assert all(word and word == " ".join(word.lower().split()) for word in words)
    assert not any("," in word for word in words)


@pytest.mark.parametrize("table", ["places", "areas", "beds", "sign", "slips", "columns"])
def test_no_word_of_a_table_stands_under_two_keys(table: str) -> None:
    assert len(meanings(table)) == sum(map(len, TABLES[table].values()))


def test_what_words_stand_for_is_known_elsewhere() -> None:
    assert set(TABLES["places"]) <= set(PLACE_KINDS)
    assert set(TABLES["areas"]) <= set(AREA_KINDS)
    assert set(TABLES["sign"]) <= {*SIGN_KINDS, ""}
    measures = set(chain.from_iterable(MEASURES.values()))
    assert set(chain.from_iterable(TABLES["called"].values())) <= measures


def test_no_phrase_names_things_of_two_kinds() -> None:
    named = chain.from_iterable(
        TABLES[table][key] for table in ("places", "areas", "beds", "sign") for key in TABLES[table]
    )
    assert [phrase for phrase, n in Counter(named).items() if n > 1] == []
