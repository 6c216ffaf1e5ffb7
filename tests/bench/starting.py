"""What a user waits for: help, and a preview with its picture."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Final

from tests.bench.clock import Times, alternately, command, ratio, ratio_of_processor
from tests.bench.report import Row

PAIRS: Final = 9
SCHEME: Final = Path(__file__).parents[2] / "data" / "schemes" / "tide-lamplighters.toml"


def rows() -> list[Row]:
    """Return the figures of whole commands."""
    python = sys.executable
    layersim: list[str | Path] = [Path(python).with_name("layersim")]
    if not Path(layersim[0]).exists():
        layersim = [python, "-m", "layersim"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        times = alternately(
            {
                "bare": command([python, "-c", "pass"], folder=folder),
                "help": command([*layersim, "--help"], folder=folder),
            },
            rounds=2 * PAIRS,
        ) | alternately(
            {
                "import": command([python, "-c", "import numpy, matplotlib.pyplot"], folder=folder),
                "preview": command([*layersim, "preview", SCHEME, "--out", "strip.png"], folder=folder),
                "table": command([*layersim, "preview", SCHEME, "--no-picture"], folder=folder),
            },
            rounds=PAIRS,
        )
    bare, told, imported, shown = (times[name] for name in ("bare", "help", "import", "preview"))
    return [
        Row("python by itself", bare.median, "s"),
        Row("layersim --help", told.median, "s"),
        Row("  ÷ python by itself", ratio(told, bare), "×", 3.0, _by_processor(told, bare)),
        Row("importing numpy and the plotting library", imported.median, "s"),
        Row("layersim preview of the demo scheme, to PNG", shown.median, "s"),
        Row("  ÷ importing those two", ratio(shown, imported), "×", 1.5, _by_processor(shown, imported)),
        Row("  without the picture", times["table"].median, "s"),
    ]


def _by_processor(over: Times, under: Times) -> str:
    return f"(by processor time {ratio_of_processor(over, under):.2f})"
