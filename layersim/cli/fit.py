"""Fit a paint from measured swatches: K and S with an honest range, a picture, and a verdict."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from layersim.cli.arguments import add_shelf, shelf_from


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("swatches", type=Path, help="a swatches file")
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="the paint file to write; by default in your own folder"
    )
    parser.add_argument("--picture", type=Path, metavar="FILE", help="write a picture: .png, .pdf or .svg")
    parser.add_argument(
        "--replace", action="store_true", help="write over a paint file or picture that is there already"
    )
    parser.add_argument(
        "--film-error",
        type=float,
        metavar="PERCENT",
        help="how far one swatch's film may be from what its coats say, one standard deviation (default 5)",
    )
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.errors import LayersimError
    from layersim.files import check_writable
    from layersim.fitting.films import FILM_ERROR
    from layersim.fitting.measured import fit_swatches
    from layersim.measure.swatchfile import read_swatches
    from layersim.paintfile import slug, write_paint
    from layersim.render.fitwords import fit_text
    from layersim.render.terminal import shows_colour
    from layersim.shelf import own_folder

    film_error = FILM_ERROR if asked.film_error is None else asked.film_error / 100.0
    if not 0.0 <= film_error <= 1.0:
        raise LayersimError(f"--film-error: found {asked.film_error:g}; expected per cent, from 0 to 100")
    swatches = read_swatches(asked.swatches)
    out = asked.out or own_folder() / f"{slug(swatches.paint)}.toml"
    _refuse_to_overwrite(asked, out)
    if asked.picture is not None:
        from layersim.render.strip import check_picture_path

        check_picture_path(asked.picture)
    if asked.out is not None:
        check_writable(out)
    fit = fit_swatches(swatches, shelf_from(asked), film_error=film_error)
    print(fit_text(fit, in_colour=shows_colour(sys.stdout)))
    if asked.picture is not None:
        from layersim.render.fit import fit_figure
        from layersim.render.strip import save_figures

        save_figures([fit_figure(fit)], asked.picture)
    if asked.out is None:
        _make_folder(out.parent)
    write_paint(fit.paint, out)
    print(f"Paint: {out}")
    if asked.picture is not None:
        print(f"Picture: {asked.picture}")
    return 0


def _refuse_to_overwrite(asked: argparse.Namespace, out: Path) -> None:
    from layersim.errors import OutputError

    for path in (out, asked.picture):
        if path is None:
            continue
        if path.is_file() and path.resolve() == asked.swatches.resolve():
            raise OutputError(f"{path}: this is the swatches file itself; name another file to write")
        if path.exists() and not path.is_dir() and not asked.replace:
            raise OutputError(f"{path}: this file is there already; name another, or add --replace")


def _make_folder(folder: Path) -> None:
    from layersim.errors import OutputError

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        reason = (fault.strerror or str(fault)).lower()
        raise OutputError(f"{folder}: your own folder of paints cannot be made ({reason})") from None
