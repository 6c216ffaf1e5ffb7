"""What a page sends along, before anything is done with it."""

from __future__ import annotations

import pytest

from layersim.errors import LayersimError
from layersim.page.asked import table_in


def test_a_table_is_read() -> None:
    assert table_in(b'{"a": "\\ud83c\\udfa8"}') == {"a": "\U0001f3a8"}


@pytest.mark.parametrize(
    "raw", [b"", b"[1]", b"{", b"\xff", b"[" * 100_000, b'{"a": "\\ud800"}', b'{"\\udfff": 1}']
)
def test_what_is_no_table_of_texts_is_refused(raw: bytes) -> None:
    with pytest.raises(LayersimError, match="something else than a table of JSON"):
        table_in(raw)
