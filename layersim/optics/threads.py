"""Rows shared out among threads; numpy lets go of the interpreter inside its loops."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor


def share_out(work: Callable[[tuple[int, int]], None], rows: int, threads: int) -> None:
    """Call `work` on equal spans of `rows`, one a thread.

    Parameters
    ----------
    work : callable of (first, after_last)
    rows : int
    threads : int
    """
    threads = max(1, min(threads, rows))
    edges = [rows * i // threads for i in range(threads + 1)]
    spans = list(itertools.pairwise(edges))
    if threads == 1:
        work(spans[0])
        return
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(work, spans))
