"""Where a picture's colours come from: the picture with marks, and its colours beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from layersim import colour
from layersim.decide.artwork import Artwork, Patch
from layersim.decide.targets import PLACE_WORDS
from layersim.errors import quoted
from layersim.views.parts import Beside, Cell, Image, Part, Table, Tone, View, Words
from layersim.views.preview import lab_words, screen_words


def view(
    artwork: Artwork, colours: Sequence[Patch], chosen: Mapping[str, Patch], notices: Sequence[str] = ()
) -> View:
    """Return the page of a picture's main colours, which may be none, and of the targets taken from it."""
    named = {patch.name for patch in colours}
    rows = [_row(patch.name, patch, f"{100 * patch.share:.0f} % of the picture") for patch in colours]
    for name, patch in chosen.items():
        words = f"target, ± {patch.target.doubt:.2g}"
        rows.append(_row(name, patch, words + f" (colour {patch.name})" * (patch.name in named)))
    marks = [(*patch.at, patch.name) for patch in colours]
    marks += [(*patch.at, name) for name, patch in chosen.items() if patch.name not in named]
    rgb = np.where(artwork.solid[..., np.newaxis], colour.encode_srgb(artwork.linear), 1.0)
    beside: list[Part] = [Table(["", "", "", "", ""], rows)]
    beside += [] if notices else [Words([_WARNING], kind="faint")]
    return View(
        title=f"Colours of {artwork.path.name}",
        parts=[Beside([Image(rgb, marks)], beside)],
        notices=tuple(notices),
    )


_WARNING = "Printed art and screens are not measured colours: a direction, not a standard."


def _row(mark: str, patch: Patch, words: str) -> list[Cell]:
    screen = screen_words(patch.lab, colour.Viewing())
    return [mark, Tone(patch.lab, f" {patch.lab[0]:.0f} "), screen, lab_words(patch.lab), words]


def sentences(
    artwork: Artwork, patches: Mapping[str, Patch], *, proposed: bool, pick: str = "--pick"
) -> list[str]:
    """Return what to know about a picture and the targets taken from it, a sentence each.

    `pick`: what others are picked with, where they were proposed.
    """
    found = [
        "printed art, scans and screens are not measured colours: inks, papers and cameras change them. "
        "Treat these targets as a direction, and judge a sprayed chip beside the artwork"
    ]
    if artwork.has_several:
        found.append("the file holds several pictures; the first is used")
    if artwork.profile is not None:
        found.append(f"the picture's own colour profile was used: {quoted(artwork.profile)}")
    else:
        why = "'s colour profile cannot be read" if artwork.is_profile_spoilt else " names no colour profile"
        found.append(f"the picture{why}; sRGB is assumed")
    if artwork.is_ink and artwork.profile is None:
        found.append("amounts of printing inks (CMYK) without a profile mean no certain colour")
    if artwork.is_grey:
        found.append(
            "the picture has no colour; only its lightness is used, and its targets are neutral greys"
        )
    for place, patch in patches.items():
        name, lost, spread = PLACE_WORDS.get(place, place), 100 * patch.clipped, patch.spread
        if lost > 5.0:
            lost_words = "its pixels stand at the end of the scale; their true colour is lost"
            found.append(f"{name}: {lost:.0f} % of {lost_words}")
        if spread > 6.0:
            found.append(
                f"{name}: its pixels differ by ΔE00 {spread:.0f} from their mean; point at a smaller region"
            )
    if proposed:
        of = "from dark to light" if artwork.is_grey else "the picture's largest family of one hue"
        found.append(f"the targets are proposed: {of}; pick others with {pick}")
    return found
