"""What a painter should know beside a fit, of the swatches' file and of the shelf."""

from __future__ import annotations

from layersim.errors import quoted
from layersim.estimate import Estimate
from layersim.fitting.ownfilm import SeenHand, counted_in_coats
from layersim.measure.photoswatch import PhotographedSet
from layersim.measure.swatch import SwatchSet
from layersim.names import slug
from layersim.shelf import starter_folder
from layersim.sprayer import Sprayer


def unthinned(swatches: SwatchSet | PhotographedSet) -> list[str]:
    """Say for how many swatches thinning is taken to be none because nothing is said."""
    counted = [swatch for swatch in swatches.swatches if counted_in_coats(swatch)]
    unsaid = sum(not swatch.thinning_said for swatch in counted)
    if not unsaid:
        return []
    return [
        f"thinning is not said for {unsaid} of {len(counted)} swatches; they count as unthinned. Thinned 1:1 "
        "they hold half as much dry paint, and K and S are twice as large. Write thinning = 1 for that, "
        "thinning = 0 for no thinner"
    ]


def starter(name: str) -> list[str]:
    """Say that a paint hides a starter paint of its name, where there is one."""
    if not (starter_folder() / f"{slug(name)}.toml").is_file():
        return []
    return [
        f"a starter paint is named {quoted(name)}, too, and schemes use yours. To have both, give yours "
        "another name"
    ]


def hand_words(before: Sprayer, seen: SeenHand, *, kept: bool) -> str:
    """Say how uneven a hand is, or why its profile stays as it was."""
    if kept:
        share = f"{100.0 * seen.scatter.value:.0f} %"
        return f"Films of {before.name} vary by about {share} from swatch to swatch; the profile keeps it"
    if seen.miscounted:
        return f"The profile of {before.name} stays as it was, since a swatch seems miscounted"
    return f"Swatches of {quoted(seen.paint)} are in the profile of {before.name} already; they count once"


def film_words(factor: Estimate) -> str:
    """Say how thick a sprayer's coats are."""
    return f"Film of one coat: {factor.words()} times what the paint's file says; {factor.basis}."
