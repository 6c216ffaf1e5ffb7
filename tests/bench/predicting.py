"""A prediction with its range, warm."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from layersim.resources import demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import simulate
from tests.bench.clock import alternately
from tests.bench.report import Row

ROUNDS: Final = 15


def rows() -> list[Row]:
    """Return the figures of three areas, and of one with flakes of metal."""
    demo = load_scheme(demo_scheme())
    scheme, metal = (replace(demo, areas=areas) for areas in (demo.areas[:3], demo.areas[3:]))
    times = alternately(
        {
            "range": lambda: simulate(scheme),
            "alone": lambda: simulate(scheme, draws=0),
            "metal": lambda: simulate(metal),
        },
        rounds=ROUNDS,
    )
    return [
        Row("three areas with their range", 1e3 * times["range"].best_processor, "ms", 110.0),
        Row("  without it", 1e3 * times["alone"].best_processor, "ms"),
        Row("one area of metal with its range, at three angles", 1e3 * times["metal"].best_processor, "ms"),
    ]
