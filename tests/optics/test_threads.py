"""Every row is worked on once, and trouble in a thread reaches the caller."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from layersim.optics.threads import share_out


@pytest.mark.parametrize(("rows", "threads"), [(10, 1), (10, 3), (3, 8), (1, 2), (7, 0), (7, -1)])
def test_every_row_once(rows: int, threads: int) -> None:
    done = np.zeros(rows, dtype=int)
    lock = threading.Lock()
    spans = []

    def work(span: tuple[int, int]) -> None:
        with lock:
            spans.append(span)
            done[span[0] : span[1]] += 1

    share_out(work, rows, threads)
    np.testing.assert_array_equal(done, 1)
    assert len(spans) == max(1, min(rows, threads))
    sizes = [last - first for first, last in spans]
    assert max(sizes) - min(sizes) <= 1


@pytest.mark.parametrize("threads", [1, 2])
def test_trouble_is_not_swallowed(threads: int) -> None:
    def work(span: tuple[int, int]) -> None:
        if span[1] == 4:
            raise ArithmeticError("trouble")

    with pytest.raises(ArithmeticError, match="trouble"):
        share_out(work, 4, threads)
