"""Make a paint from measured or photographed swatches, and say how sure it is and whether to plan with it."""

from __future__ import annotations

import argparse
import dataclasses
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from layersim.cli import say
from layersim.cli.arguments import add_shelf, shelf_from
from layersim.cli.output import add_outputs, outputs, show, write_data

if TYPE_CHECKING:
    from layersim.fitting.metal import MetalFit
    from layersim.fitting.result import Fit
    from layersim.measure.photoswatch import PhotographedSet
    from layersim.measure.swatch import SwatchSet
    from layersim.sprayer import Sprayer

    Swatches = SwatchSet | PhotographedSet


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("swatches", type=Path, help="a swatches file; see: layersim start --swatches")
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="the paint file to write; by default in your own folder"
    )
    add_outputs(parser, option="--picture", usual="beside the paint, named after it")
    parser.add_argument(
        "--replace", action="store_true", help="write over a paint file or picture that is there already"
    )
    parser.add_argument(
        "--film-error",
        type=float,
        metavar="PERCENT",
        help="how far one swatch's film may be from what its coats say, one standard deviation (by default "
        "the swatches themselves say)",
    )
    parser.add_argument(
        "--trust-camera",
        action="store_true",
        help="fit a photograph that has no reference in the frame; the paint's range becomes wide",
    )
    parser.add_argument(
        "--sprayer",
        metavar="NAME",
        help="profile of the sprayer that laid the swatches, by name or as a .toml: its film per coat "
        "counts, and it keeps how even these coats are",
    )
    parser.add_argument(
        "--known",
        metavar="PAINT",
        help="with --sprayer: the swatches are of this paint, which is on the shelf; learn the sprayer's "
        "film per coat from them and keep it in the profile",
    )
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.errors import LayersimError, SwatchFileError, quoted
    from layersim.files import check_writable, make_folder
    from layersim.fitting.metal import MetalFit
    from layersim.measure.photofile import PLACEHOLDER
    from layersim.measure.swatchfile import read_any_swatches
    from layersim.names import slug
    from layersim.paintfile import write_paint
    from layersim.shelf import own_folder
    from layersim.sprayer import find_sprayer_file
    from layersim.views import fit as fitview
    from layersim.views import metalfit, name_of
    from layersim.views.fitnotices import starter, unthinned

    film_error = None if asked.film_error is None else asked.film_error / 100.0
    if film_error is not None and not 0.0 <= film_error <= 1.0:
        raise LayersimError(f"--film-error: found {asked.film_error:g}; expected per cent, from 0 to 100")
    swatches = _trusting(asked, read_any_swatches(asked.swatches))
    if asked.known is not None:
        return _learn_film(asked, swatches, film_error)
    if swatches.paint == PLACEHOLDER:
        raise SwatchFileError(
            asked.swatches,
            f"name: found {quoted(PLACEHOLDER)}, as the file came; expected what the paint is called",
        )
    if asked.out is not None and asked.out.suffix.lower() != ".toml":
        raise LayersimError(f"--out {asked.out}: expected a file ending in .toml, as every paint's does")
    out = asked.out or own_folder() / f"{slug(swatches.paint)}.toml"
    _refuse_to_overwrite(asked, out, None if asked.no_picture else asked.picture or out.with_suffix(".png"))
    pictures = [
        getattr(one, "photograph", None) for one in (swatches, getattr(swatches, "other_light", None))
    ]
    own = out.parent if asked.out is None else None
    usual = str(out.with_suffix(".png"))
    to = outputs(asked, *filter(None, pictures), usual=usual, option="--picture", made=own)
    if asked.out is not None:
        check_writable(out)
    # A file, or a name: of a profile beside the swatches or in the own folder.
    sprayer = None
    if asked.sprayer is not None:
        _, sprayer = find_sprayer_file(asked.sprayer, asked.swatches.parent)
    fit = _fitted(asked, swatches, film_error, sprayer)
    notices = [*unthinned(swatches), *([] if sprayer else _profiles(swatches)), *starter(fit.paint.name)]
    if own is not None:
        make_folder(own, what="paints")
    check_writable(out)
    seen = metalfit.view(fit, notices) if isinstance(fit, MetalFit) else fitview.view(fit, notices)
    show(seen, fit, to, name=name_of(fit))
    write_paint(fit.paint, out)
    say(f"Paint: {out.resolve()}")
    if sprayer is not None and not isinstance(fit, MetalFit):
        _keep_hand(asked, fit, swatches, film_error)
    return 0


def _fitted(
    asked: argparse.Namespace, swatches: Swatches, film_error: float | None, sprayer: Sprayer | None
) -> Fit | MetalFit:
    from layersim.fitting.ownfilm import as_sprayed, as_suggested, known_scatter
    from layersim.measure.swatch import SwatchSet
    from layersim.paint import METAL

    hand = known_scatter(swatches, sprayer, film_error)
    fit: Fit | MetalFit
    if isinstance(swatches, SwatchSet):
        from layersim.fitting.measured import fit_swatches
        from layersim.fitting.metal import fit_metal

        measured = swatches if sprayer is None else as_sprayed(swatches, sprayer)
        fitted = fit_metal if swatches.kind == METAL else fit_swatches
        fit = fitted(measured, shelf_from(asked), film_error=hand)
    elif swatches.kind == METAL:
        from layersim.fitting.metalphoto import fit_tilted

        card = swatches if sprayer is None else as_sprayed(swatches, sprayer)
        _tell("reading " + " and ".join(path.name for path in card.photographs))
        fit = fit_tilted(card, shelf_from(asked), film_error=hand)
    else:
        from layersim.fitting.photographed import fit_photograph

        card = swatches if sprayer is None else as_sprayed(swatches, sprayer)
        fit = fit_photograph(card, shelf_from(asked), film_error=hand, progress=_tell)
    return fit if sprayer is None else as_suggested(fit, swatches, sprayer)


def _tell(words: str) -> None:
    print(f"... {words}", file=sys.stderr, flush=True)


def _trusting(asked: argparse.Namespace, swatches: Swatches) -> Swatches:
    """Let nothing but this flag make a camera's colours count without a reference."""
    from layersim.errors import LayersimError
    from layersim.measure.photofile import refuse_missing_photographs
    from layersim.measure.swatch import SwatchSet

    if isinstance(swatches, SwatchSet):
        if asked.trust_camera:
            raise LayersimError(f"--trust-camera: {asked.swatches} has measured swatches, no photograph")
        return swatches
    refuse_missing_photographs(swatches)
    if asked.trust_camera:
        return dataclasses.replace(swatches, reference="none")
    if swatches.reference == "none":
        raise LayersimError(
            f'{asked.swatches}: reference = "none" trusts the camera\'s own colours. To have that, say it '
            "here, too: --trust-camera. The paint's range becomes wide; three neutrals beside the card "
            "narrow it."
        )
    return swatches


# --- the sprayer's own film ----------------------------------------------------------------------


def _keep_hand(asked: argparse.Namespace, fit: Fit, swatches: Swatches, film_error: float | None) -> None:
    """Write into the profile how uneven this hand is: the next paint of this sprayer is fitted with it."""
    from layersim.fitting.ownfilm import seen_hand, with_hand
    from layersim.sprayer import find_sprayer_file, write_sprayer
    from layersim.views.fitnotices import hand_words

    seen = seen_hand(fit, swatches, film_error)
    if seen is None:
        return
    # The fit took long: whatever was learned of the sprayer meanwhile is kept.
    path, before = find_sprayer_file(asked.sprayer, asked.swatches.parent)
    after = with_hand(before, seen)
    if after is not None:
        write_sprayer(after, path)
    words = hand_words(before, seen, kept=after is not None)
    say(f"{words}: {path}" if after is not None else f"{words}.")


def _profiles(swatches: Swatches) -> list[str]:
    """Say that a profile knows the film per coat, where one does and coats were counted."""
    from layersim.errors import quoted
    from layersim.fitting.ownfilm import counted_in_coats
    from layersim.sprayer import own_folder, profiles_in

    found = [sprayer for _, sprayer in profiles_in(own_folder()) if sprayer.film_factor is not None]
    if not found or not any(counted_in_coats(swatch) for swatch in swatches.swatches):
        return []
    names = [quoted(sprayer.name) for sprayer in found]
    return [
        f"these coats are taken as the file says. If they are of {' or '.join(names)}, add --sprayer "
        f"{names[0]}: a scheme that names the sprayer would count its film twice"
    ]


def _learn_film(asked: argparse.Namespace, swatches: Swatches, film_error: float | None) -> int:
    """Learn a sprayer's film per coat from swatches of a paint that is known."""
    from layersim.errors import LayersimError, quoted
    from layersim.fitting.known import check_known, film_factor
    from layersim.sprayer import keep, profile, updated
    from layersim.views.fitnotices import film_words, unthinned

    if asked.sprayer is None:
        raise LayersimError("--known PAINT and --sprayer NAME go together: whose film, and of which paint?")
    if asked.out is not None or asked.picture is not None:
        raise LayersimError("--known makes no paint, so there is nothing for --out or --picture")
    to = outputs(asked, option="--picture")
    path, before = profile(asked.sprayer)
    if before.film_factor is not None and not asked.replace:
        raise LayersimError(
            f"{path}: it has a film factor already ({before.film_factor.words()}); to replace it, "
            "add --replace"
        )
    shelf = shelf_from(asked)
    known = shelf.find(asked.known)
    try:
        check_known(known, before.name)
    except LayersimError as fault:
        raise LayersimError(
            f"--known: {fault}: layersim log SCHEME learn --sprayer {quoted(before.name)}"
        ) from None
    found = film_factor(swatches, known, shelf, film_error=film_error, progress=_tell)
    for note in unthinned(swatches):
        say(f"Note: {note}.")
    after = updated(before, film_factor=found)
    keep(after, path)
    say(film_words(found))
    say(f"Profile: {path}")
    say(f"In a scheme: [batch] sprayer = {quoted(before.name)}")
    say(f"For a new paint: layersim fit NEW-CARD.toml --sprayer {quoted(before.name)}")
    write_data({"sprayer": after, "path": path}, to.data, name="fit known")
    return 0


def _refuse_to_overwrite(asked: argparse.Namespace, out: Path, picture: Path | None) -> None:
    from layersim.errors import OutputError
    from layersim.files import refuse_to_replace

    for path in (out, picture):
        if path is None:
            continue
        if path.is_file() and path.resolve() == asked.swatches.resolve():
            raise OutputError(f"{path}: this is the swatches file itself; name another file to write")
        other = "name another" if path == out else "name another with --picture, have none: --no-picture"
        refuse_to_replace(path, replace=asked.replace, other=other)
