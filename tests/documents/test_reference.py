"""docs/keys.md says what the readers take: it is generated from the declarations that they read by."""

from __future__ import annotations

from data.generate.key_reference import DOCUMENTS, PAGE, page
from layersim.documents.keys import sections


def test_the_page_is_what_its_generator_writes() -> None:
    assert PAGE.read_text(encoding="utf-8") == page()


def test_every_key_has_a_meaning_and_says_what_may_stand_there() -> None:
    for keys in DOCUMENTS.values():
        for heading, _, inner in sections(keys):
            for name, key in inner.items():
                assert key.words, f"{heading} {name}"
                assert key.kind.words, f"{heading} {name}"
