"""The last few of something are kept, each by a name that nobody guesses."""

from __future__ import annotations

import pytest

from layersim.errors import UnknownNameError
from layersim.page.kept import Kept, Memory


def test_the_oldest_goes_and_is_let_go_of() -> None:
    gone: list[int] = []
    kept: Kept[int] = Kept(2, gone="it is not here any more", let_go=gone.append)
    names = [kept.keep(number) for number in range(4)]
    assert gone == [0, 1]
    assert [kept.find(name) for name in names[2:]] == [2, 3]
    for name in names[:2]:
        with pytest.raises(UnknownNameError, match="not here any more"):
            kept.find(name)


def test_names_are_new_unless_one_is_given() -> None:
    kept: Kept[str] = Kept(10, gone="gone")
    assert len({kept.keep("the same") for _ in range(10)}) == 10
    assert kept.keep("one", name="mine") == "mine"
    assert kept.keep("another", name="mine") == "mine"
    assert kept.find("mine") == "another"


def test_a_memory_forgets_what_was_asked_for_longest_ago() -> None:
    memory: Memory[int] = Memory(2)
    memory.put("a", 1)
    memory.put("b", 2)
    assert memory.get("a") == 1
    memory.put("c", 3)
    assert [memory.get(key) for key in "abc"] == [1, None, 3]
