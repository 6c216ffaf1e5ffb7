"""Show, before any paint is sprayed, what each stage of a scheme will look like."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from layersim.cli.arguments import add_shelf, shelf_from
from layersim.errors import UnknownNameError, nearest_hint
from layersim.scheme.prediction import Prediction


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file; see: layersim start")
    parser.add_argument(
        "--out",
        type=Path,
        metavar="FILE",
        help="where to write the picture: .png, .pdf or .svg (default: NAME-preview.png in this folder)",
    )
    parser.add_argument("--no-picture", action="store_true", help="print the table only")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write spectra, colours and ranges, too")
    parser.add_argument(
        "--light",
        action="append",
        metavar="NAME",
        help="judge under this light instead of the scheme's; give it twice or more to compare lights",
    )
    parser.add_argument("--tones", type=int, default=9, metavar="N", help="tones along the shade axis (9)")
    parser.add_argument("--area", action="append", metavar="NAME", help="this area only; may be repeated")
    parser.add_argument("--stage", action="append", metavar="NAME", help="this stage only; may be repeated")
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim import colour
    from layersim.cli.arguments import check_range
    from layersim.render.terminal import lights_text, prediction_text, shows_colour
    from layersim.scheme.reading import load_scheme
    from layersim.scheme.simulate import simulate

    check_range("--tones", asked.tones, 2, 60)
    picture: Path | None = None
    if not asked.no_picture:
        from layersim.render.strip import check_picture_path

        picture = asked.out or Path(f"{asked.scheme.stem}-preview.png")
        check_picture_path(picture)
    scheme = load_scheme(asked.scheme, shelf_from(asked, asked.scheme))
    lights = list(dict.fromkeys(asked.light or [scheme.viewing.light]))
    views = [colour.Viewing(light, scheme.viewing.observer) for light in lights]
    predictions = [
        _chosen(simulate(scheme, tones=asked.tones, viewing=view), asked.area, asked.stage) for view in views
    ]
    in_colour = shows_colour(sys.stdout)
    for prediction in predictions:
        print(prediction_text(prediction, in_colour=in_colour), end="\n\n")
    if len(predictions) > 1:
        print(lights_text(predictions), end="\n\n")
    for notice in predictions[0].notices:
        print(f"Note: {notice}.")
    if asked.json is not None:
        from layersim.files import write_whole
        from layersim.render.tojson import predictions_json

        write_whole(asked.json, predictions_json(predictions))
        print(f"Data: {asked.json}")
    if picture is not None:
        from layersim.render.strip import save_strips

        save_strips(predictions, picture)
        print(f"Picture: {picture}")
    return 0


def _chosen(prediction: Prediction, areas: list[str] | None, stages: list[str] | None) -> Prediction:
    import dataclasses

    kept = list(prediction.areas)
    if areas:
        names = [area.name for area in kept]
        for name in areas:
            if name not in names:
                raise UnknownNameError(f'no area "{name}". {nearest_hint(name, names, kind="areas")}')
        kept = [area for area in kept if area.name in areas]
    if stages:
        every = [stage.name for area in kept for stage in area.stages]
        for name in stages:
            if name not in every:
                raise UnknownNameError(f'no stage "{name}". {nearest_hint(name, every, kind="stages")}')
        some = [(area, [i for i, s in enumerate(area.stages) if s.name in stages]) for area in kept]
        kept = [area.only(rows) for area, rows in some if rows]
    return dataclasses.replace(prediction, areas=tuple(kept))
