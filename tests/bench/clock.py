"""Measuring on a machine that does other things, too."""

from __future__ import annotations

import resource
import statistics
import subprocess
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Times:
    """Seconds of one action, by the clock and by what the processors spent on it, a pair a round."""

    wall: tuple[float, ...]
    processor: tuple[float, ...]

    @property
    def median(self) -> float:
        """Median by the clock."""
        return statistics.median(self.wall)

    @property
    def best(self) -> float:
        """Least by the clock: what it costs when nothing disturbs it."""
        return min(self.wall)

    @property
    def best_processor(self) -> float:
        """Least processor time: for one thread the same as :attr:`best`, also on a busy machine."""
        return min(self.processor)


def alternately(actions: Mapping[str, Callable[[], object]], *, rounds: int) -> dict[str, Times]:
    """Run each action once a round, after one round that does not count, and return the times.

    Alternating lets whatever else the machine does fall on all of them, so that ratios within
    rounds hold where figures do not.
    """
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in actions}
    for number in range(rounds + 1):
        for name, action in actions.items():
            wall, processor = time.perf_counter(), _processor_seconds()
            action()
            spent = (time.perf_counter() - wall, _processor_seconds() - processor)
            if number:
                times[name].append(spent)
    return {name: Times(tuple(w for w, _ in both), tuple(p for _, p in both)) for name, both in times.items()}


def ratio(over: Times, under: Times) -> float:
    """Return the median of the rounds' ratios by the clock."""
    return statistics.median(a / b for a, b in zip(over.wall, under.wall, strict=True))


def ratio_of_processor(over: Times, under: Times) -> float:
    """Return the median of the rounds' ratios of processor time."""
    return statistics.median(a / b for a, b in zip(over.processor, under.processor, strict=True))


def command(words: Sequence[str | Path], *, folder: Path) -> Callable[[], object]:
    """Return an action that runs a command to its end and wants it to succeed."""

    def action() -> None:
        subprocess.run(
            [str(word) for word in words], cwd=folder, check=True, stdout=subprocess.DEVNULL, timeout=120
        )

    return action


def _processor_seconds() -> float:
    return sum(
        used.ru_utime + used.ru_stime
        for used in (resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN))
    )
