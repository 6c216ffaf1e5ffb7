"""Say how forgiving a scheme is: what one slip does, and how alike a batch of models will be.

One coat too many, a film a fifth too thick, a drop wrong, another bottle: ranked by what they do to the
finish. Then a batch by one painter is simulated thousands of times, and the single habit named that
would make the models more alike. How exactly you work stands under [hand] in the scheme.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from layersim.cli.arguments import add_shelf, check_range, extra_folders
from layersim.cli.output import add_outputs, outputs, show


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    parser.add_argument(
        "--models", type=int, metavar="N", help="models in the batch (the scheme's [batch] models, else 10)"
    )
    parser.add_argument(
        "--visible",
        type=float,
        default=1.8,
        metavar="X",
        help="ΔE00 from which two models differ visibly (1.8: half of all people find it too much)",
    )
    parser.add_argument("--area", action="append", metavar="NAME", help="this area only; may be repeated")
    parser.add_argument("--batches", type=int, default=10000, metavar="N", help="batches simulated (10000)")
    parser.add_argument("--seed", type=int, default=0, metavar="N", help="another seed, other chances (0)")
    add_outputs(parser, usual="NAME-tolerance.png in this folder")
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.decide.tolerance import MOST_MODELS, tolerance, usual_models
    from layersim.scheme.reading import load_scheme
    from layersim.views.tolerance import view

    check_range("--seed", asked.seed, 0, 10**9)
    to = outputs(asked, asked.scheme, usual=f"{asked.scheme.stem}-tolerance.png")
    scheme = load_scheme(asked.scheme, folders=extra_folders(asked))
    planned = scheme.batch.models
    models = usual_models(scheme) if asked.models is None else asked.models
    result = tolerance(
        scheme,
        areas=asked.area or [],
        models=models,
        batches=asked.batches,
        visible=asked.visible,
        seed=asked.seed,
    )
    notices = []
    if asked.models is None and planned > MOST_MODELS:
        notices = [
            f"of the scheme's {planned} models a batch of {MOST_MODELS} is simulated, the most there can be"
        ]
    show(view(result, notices), result, to, name="tolerance")
    return 0
