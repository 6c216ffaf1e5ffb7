"""Show, before any paint is sprayed, what each stage of a scheme will look like."""

from __future__ import annotations

import argparse
import dataclasses
from pathlib import Path

from layersim.cli.arguments import Parser, add_shelf, check_range, extra_folders, whole_number
from layersim.cli.output import add_outputs, outputs, show
from layersim.errors import UnknownNameError, nearest_hint, quoted
from layersim.scheme.prediction import Prediction
from layersim.scheme.records import Scheme


def add_arguments(parser: Parser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file; see: layersim start")
    add_outputs(parser, usual="NAME-preview.png in this folder")
    parser.add_argument(
        "--lamp",
        action="append",
        metavar="NAME",
        help="judge under this lamp or daylight instead of the scheme's; twice or more to compare them",
    )
    parser.add_argument(
        "--tones", type=whole_number, default=9, metavar="N", help="tones along the shade axis (9)"
    )
    parser.add_argument("--area", action="append", metavar="NAME", help="this area only; may be repeated")
    parser.add_argument("--coat", action="append", metavar="NAME", help="this coat only; may be repeated")
    add_shelf(parser)
    parser.once = {"--light": "--lamp", "--stage": "--coat"}


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim import colour
    from layersim.scheme.reading import load_scheme
    from layersim.scheme.simulate import simulate
    from layersim.views.preview import view

    check_range("--tones", asked.tones, 2, 60)
    to = outputs(asked, asked.scheme, usual=f"{asked.scheme.stem}-preview.png")
    scheme = _with_areas(load_scheme(asked.scheme, folders=extra_folders(asked)), asked.area)
    lights = list(dict.fromkeys(asked.lamp or [scheme.viewing.light]))
    viewings = [colour.Viewing(light, scheme.viewing.observer) for light in lights]
    predictions = [
        _with_stages(simulate(scheme, tones=asked.tones, viewing=viewing), asked.coat) for viewing in viewings
    ]
    show(view(*predictions), predictions, to, name="preview")
    return 0


def _with_areas(scheme: Scheme, wanted: list[str] | None) -> Scheme:
    _check_names("area", wanted, [area.name for area in scheme.areas])
    kept = tuple(area for area in scheme.areas if not wanted or area.name in wanted)
    return dataclasses.replace(scheme, areas=kept)


def _with_stages(prediction: Prediction, wanted: list[str] | None) -> Prediction:
    if not wanted:
        return prediction
    _check_names("coat", wanted, [stage.name for area in prediction.areas for stage in area.stages])
    rows = [[i for i, stage in enumerate(area.stages) if stage.name in wanted] for area in prediction.areas]
    kept = [area.only(keep) for area, keep in zip(prediction.areas, rows, strict=True) if keep]
    return dataclasses.replace(prediction, areas=tuple(kept))


def _check_names(kind: str, wanted: list[str] | None, known: list[str]) -> None:
    for name in wanted or []:
        if name not in known:
            hint = nearest_hint(name, known, kind=f"{kind}s")
            raise UnknownNameError(f"--{kind}: no {kind} {quoted(name)}. {hint}")
