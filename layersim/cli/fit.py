"""Fit a paint from measured or photographed swatches: K and S with an honest range, and a verdict."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from layersim.cli.arguments import add_shelf, shelf_from

if TYPE_CHECKING:
    from layersim.fitting.result import Fit
    from layersim.measure.photoswatch import PhotographedSet
    from layersim.measure.swatch import SwatchSet


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
    parser.add_argument(
        "--trust-camera",
        action="store_true",
        help="fit a photograph that has no reference in the frame; the paint's range becomes wide",
    )
    parser.add_argument(
        "--known", metavar="PAINT", help="the swatches are of this paint: learn the sprayer's film per coat"
    )
    parser.add_argument(
        "--sprayer", metavar="NAME", help="with --known: whose profile to make or change; a name or a .toml"
    )
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.errors import LayersimError
    from layersim.files import check_writable
    from layersim.fitting.films import FILM_ERROR
    from layersim.measure.swatchfile import read_any_swatches
    from layersim.paintfile import slug, write_paint
    from layersim.render.fitwords import fit_text
    from layersim.render.terminal import shows_colour
    from layersim.shelf import own_folder

    film_error = FILM_ERROR if asked.film_error is None else asked.film_error / 100.0
    if not 0.0 <= film_error <= 1.0:
        raise LayersimError(f"--film-error: found {asked.film_error:g}; expected per cent, from 0 to 100")
    swatches = _trusting(asked, read_any_swatches(asked.swatches))
    if asked.known is not None or asked.sprayer is not None:
        return _learn_film(asked, swatches, film_error)
    out = asked.out or own_folder() / f"{slug(swatches.paint)}.toml"
    _refuse_to_overwrite(asked, out)
    if asked.picture is not None:
        from layersim.render.strip import check_picture_path

        check_picture_path(asked.picture)
    if asked.out is not None:
        check_writable(out)
    fit = _fitted(asked, swatches, film_error)
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


def _fitted(asked: argparse.Namespace, swatches: SwatchSet | PhotographedSet, film_error: float) -> Fit:
    from layersim.measure.swatch import SwatchSet

    if isinstance(swatches, SwatchSet):
        from layersim.fitting.measured import fit_swatches

        return fit_swatches(swatches, shelf_from(asked), film_error=film_error)
    from layersim.fitting.photographed import fit_photograph

    return fit_photograph(swatches, shelf_from(asked), film_error=film_error, progress=_tell)


def _tell(words: str) -> None:
    print(f"... {words}", file=sys.stderr, flush=True)


def _trusting(
    asked: argparse.Namespace, swatches: SwatchSet | PhotographedSet
) -> SwatchSet | PhotographedSet:
    """Let nothing but this flag make a camera's colours count without a reference."""
    import dataclasses

    from layersim.errors import LayersimError
    from layersim.measure.swatch import SwatchSet

    if isinstance(swatches, SwatchSet):
        if asked.trust_camera:
            raise LayersimError(f"--trust-camera: {asked.swatches} has measured swatches, no photograph")
        return swatches
    if asked.trust_camera:
        return dataclasses.replace(swatches, reference="none")
    if swatches.reference == "none":
        raise LayersimError(
            f'{asked.swatches}: reference = "none" trusts the camera\'s own colours. To have that, say it '
            "here, too: --trust-camera. The paint's range becomes wide; three neutrals beside the card "
            "narrow it."
        )
    return swatches


def _learn_film(asked: argparse.Namespace, swatches: SwatchSet | PhotographedSet, film_error: float) -> int:
    """Learn a sprayer's film per coat from swatches of a paint that is known."""
    from layersim.cli.profile import make_folder, profile
    from layersim.errors import LayersimError, quoted
    from layersim.files import check_writable
    from layersim.fitting.known import film_factor
    from layersim.sprayer import updated, write_sprayer

    if asked.known is None or asked.sprayer is None:
        raise LayersimError("--known PAINT and --sprayer NAME go together: whose film, and of which paint?")
    if asked.out is not None or asked.picture is not None:
        raise LayersimError("--known makes no paint, so there is nothing for --out or --picture")
    path, before = profile(asked.sprayer)
    if before.film_factor is not None and not asked.replace:
        raise LayersimError(
            f"{path}: it has a film factor already ({before.film_factor.words()}); to replace it, "
            "add --replace"
        )
    shelf = shelf_from(asked)
    found = film_factor(swatches, shelf.find(asked.known), shelf, film_error=film_error, progress=_tell)
    make_folder(path.parent)
    check_writable(path)
    write_sprayer(updated(before, film_factor=found), path)
    print(f"Film of one coat: {found.words()} times what the paint's file says; {found.basis}.")
    print(f"Profile: {path}")
    print(f"In a scheme: [batch] sprayer = {quoted(before.name)}")
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
