"""Many tones through many coats, to the colours of a screen.

Run as a program of its own, it does one such job and prints its seconds and its peak memory.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from typing import Final

import numpy as np
import numpy.typing as npt
from layersim.optics.stack import FilmCoat, stacked_reflectance

from layersim import colour
from layersim.optics import cones, many, surface
from layersim.spectra import BANDS, FloatArray
from tests.bench.report import Row

MILLION: Final = 1_000_000
COATS: Final = 8
SHEEN: Final = 0.4
GROUND: Final = 0.05
_MEGABYTE: Final = 2**20
# Tones turned into screen colours at a time: few enough for the cache.
_TOGETHER: Final = 4096


def rows() -> list[Row]:
    """Return the figures of a million tones, and how time grows."""
    one, two = (_apart("fluxes", MILLION, COATS, threads) for threads in (1, 2))
    cone_one, cone_two = (_apart("cones", MILLION, COATS, threads) for threads in (1, 2))
    single_one, single_two = (_apart("cones, single", MILLION, COATS, threads) for threads in (1, 2))
    tones, coats = np.array([50e3, 100e3, 200e3, 400e3]), np.array([2.0, 4.0, 8.0, 16.0])
    by_tones = _processor_seconds([(int(n), 4) for n in tones])
    by_coats = _processor_seconds([(50_000, int(n)) for n in coats])
    return [
        Row(
            "1,000,000 tones, 8 coats, to sRGB, two fluxes: 1 thread", one["processor"], "s", 3.0, _clock(one)
        ),
        Row("  2 threads, by the clock", two["seconds"], "s", 3.0, _spent(two)),
        Row("  peak memory of the process", max(one["megabytes"], two["megabytes"]), "MB", 600.0),
        Row("  by two cones, what previews use: 1 thread", cone_one["processor"], "s", 3.0, _clock(cone_one)),
        Row("  2 threads, by the clock", cone_two["seconds"], "s", 3.0, _spent(cone_two)),
        Row("  peak memory of the process", max(cone_one["megabytes"], cone_two["megabytes"]), "MB", 600.0),
        Row(
            "  by two cones in single precision: 1 thread",
            single_one["processor"],
            "s",
            3.0,
            _clock(single_one),
        ),
        Row("  2 threads, by the clock", single_two["seconds"], "s", 3.0, _spent(single_two)),
        Row("growth with tones, 50,000 to 400,000: off a straight line", _bend(tones, by_tones), "%", 10.0),
        Row("growth with coats, 2 to 16: off a straight line", _bend(coats, by_coats), "%", 10.0),
    ]


def job(model: str, tones: int, coats: int, threads: int) -> float:
    """Return the seconds that one job takes."""
    random = np.random.default_rng(0)
    K, S = random.uniform(0.01, 0.4, (coats, BANDS)), random.uniform(0.01, 0.5, (coats, BANDS))
    # Every coat differs from tone to tone: the hardest case, nothing can be worked out beforehand.
    X = random.uniform(0.2, 4.0, (coats, tones))
    view = colour.Viewing()

    def screen(internal: FloatArray) -> FloatArray:
        seen = surface.seen(internal, sheen=SHEEN)
        return colour.on_screen(colour.xyz(seen, view), view.white).rgb

    begun = time.perf_counter()
    if model == "fluxes":
        shown = stacked_reflectance(
            [FilmCoat(k, s, x) for k, s, x in zip(K, S, X, strict=True)],
            ground=GROUND,
            tones=tones,
            then=screen,
            threads=threads,
        )
    else:
        kind = np.float32 if model == "cones, single" else np.float64
        shown = _by_cones(K, S, X, view=view, threads=threads, kind=kind)
    seconds = time.perf_counter() - begun
    if shown.shape != (tones, 3) or not np.isfinite(shown).all():
        raise AssertionError("the job has not made a colour of every tone")
    return seconds


def _clock(found: dict[str, float]) -> str:
    return f"(processor time; by the clock {found['seconds']:.2f} s)"


def _spent(found: dict[str, float]) -> str:
    return f"(processor time {found['processor']:.2f} s)"


def _processor_seconds(jobs: list[tuple[int, int]]) -> FloatArray:
    """Return for each number of tones and coats the least processor time of five jobs, done in turn."""
    spent = np.empty((5, len(jobs)))
    for mine in spent:
        for i, (tones, coats) in enumerate(jobs):
            begun = time.process_time()
            job("fluxes", tones, coats, 1)
            mine[i] = time.process_time() - begun
    return np.asarray(spent.min(axis=0))


def _by_cones(
    K: FloatArray, S: FloatArray, X: FloatArray, *, view: colour.Viewing, threads: int, kind: npt.DTypeLike
) -> FloatArray:
    # Its rows are stacks with paints and films of their own; here every tone is one.
    xyz = many.seen_of_many(
        [many.ManyCoats(k, s, x[:, np.newaxis]) for k, s, x in zip(K, S, X, strict=True)],
        over=cones.even_ground(np.full((1, 1, BANDS), GROUND)),
        sheen=np.full((1, 1), SHEEN),
        weights=view.weights,
        threads=threads,
        kind=kind,
    )[:, 0]
    shown = np.empty_like(xyz)
    for first in range(0, len(xyz), _TOGETHER):
        part = slice(first, first + _TOGETHER)
        shown[part] = colour.on_screen(xyz[part], view.white).rgb
    return shown


def _apart(model: str, tones: int, coats: int, threads: int) -> dict[str, float]:
    """Do a job in a process of its own, so that its peak memory is its own."""
    words = [sys.executable, "-m", "tests.bench.tones", model, str(tones), str(coats), str(threads)]
    answer = subprocess.run(words, check=True, capture_output=True, text=True, timeout=300).stdout
    found: dict[str, float] = json.loads(answer)
    return found


def _bend(sizes: FloatArray, seconds: FloatArray) -> float:
    line = np.polyval(np.polyfit(sizes, seconds, 1), sizes)
    return float(100.0 * np.abs(seconds / line - 1.0).max())


def main(words: list[str]) -> None:
    model, *numbers = words
    tones, coats, threads = map(int, numbers)
    processor = time.process_time()
    seconds = job(model, tones, coats, threads)
    processor = time.process_time() - processor
    # Kilobytes on Linux, bytes on macOS.
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
    print(json.dumps({"seconds": seconds, "processor": processor, "megabytes": peak / _MEGABYTE}))


if __name__ == "__main__":
    main(sys.argv[1:])
