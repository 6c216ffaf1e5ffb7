"""What can be worked out but is hardly meant, and how the stages of an area are called."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from layersim import colour
from layersim.optics import surface
from layersim.paint import film_words, mixable
from layersim.scheme.ownfilms import unmoved_words
from layersim.scheme.prediction import Stage
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Scheme
from layersim.spectra import BANDS, FloatArray
from layersim.swatchcard import brightness, contrast

THICKEST_COAT_UM: Final = {"wash": 10.0, "ink": 15.0, "paint": 50.0, "varnish": 100.0}
"""Dry film of one coat, µm, by the kind of paint most of which is in it; other kinds as paint. A full coat of
paint leaves 2 to 10 (common practice, no source, as all of this table)."""
MOST_COATS: Final = 10
"""Coats of one step; from there on it is likelier passes that were counted."""
MOST_PASSES_UM: Final = 60.0
"""Dry film of all passes of a preshade, µm."""
LEAST_LIGHT: Final = 50.0
"""L* of a preshade's full highlight: darker than that, white has hardly been sprayed."""
FILTER_HIDES: Final = 0.10
"""Contrast ratio of a film; a filter that hides more than this is a coat of paint."""
FILTER_LEAVES: Final = 0.15
"""Light that white under a filter sends back; a film that leaves less is a coat of dark paint."""
LEAST_SHARE: Final = 0.2
"""Share of its film; a coat of which no tone gets more hardly shows."""
LEAST_COVERED: Final = 0.98
"""Sum of the areas' shares, where all give one; less leaves a part of the model without paint."""


def stages_of(area: Area) -> tuple[Stage, ...]:
    """Return the names of an area's stages."""
    stages = [Stage("primer", area.ground.name, is_metal=area.ground.flakes is not None)]
    preshade = area.preshade
    if isinstance(preshade, GreysGiven):
        greys = f"greys given, L* {preshade.darkest:g} to {preshade.lightest:g}"
        stages.append(Stage("preshade", greys))
    elif preshade is not None:
        passes = f"{preshade.passes} pass" + ("" if preshade.passes == 1 else "es")
        film = f"{film_words(preshade.total_film_um)} dry"
        words = f"{preshade.mix.words()}, {passes}, {film}"
        stages.append(Stage("preshade", words, is_metal=preshade.mix.is_metal))
    coats = (Stage(coat.name, coat.words(), coat.is_filter, coat.mix.is_metal) for coat in area.coats)
    return (*stages, *coats)


def oddities(scheme: Scheme, area: Area, *, shade: FloatArray) -> Iterator[str]:
    """Yield what the user should know of an area, of which `shade` is the lightness at each tone."""
    ground = area.ground
    if ground.kind not in ("primer", "paint"):
        yield f"{area.name}: the ground is {ground.name}, of the kind {ground.kind}; it is taken as opaque"
    for coat in area.coats:
        yield from _slips(area, coat)
        paints = [paint for paint, _ in coat.mix.ingredients]
        if not mixable(paints):
            carried = ", ".join(f"{paint.name}: {paint.carrier}" for paint in paints if paint.carrier)
            yield (
                f'{area.name}: "{coat.name}" mixes paints with different carriers ({carried}), '
                "which may curdle or part: try a drop of it first"
            )
        most = float(coat.where.film_share(shade).max())
        if most < LEAST_SHARE:
            yield (
                f'{area.name}: "{coat.name}" hardly lands anywhere: it goes {coat.where.words()}, '
                f"and this shade axis runs from L* {shade[0]:.0f} to {shade[-1]:.0f}"
            )
    if unmoved := unmoved_words(area, scheme.batch.sprayer):
        yield unmoved
    preshade = area.preshade
    if isinstance(preshade, GreysSprayed) and preshade.total_film_um > MOST_PASSES_UM:
        yield (
            f"{area.name}: the preshade's {preshade.passes} passes of white are "
            f"{preshade.total_film_um:.0f} µm thick when dry; a preshade usually has 5 to 40. Light passes "
            "are thinned: thinning = 3"
        )
    if preshade is not None and shade[-1] < LEAST_LIGHT:
        yield (
            f"{area.name}: the preshade's full highlight is no lighter than L* {shade[-1]:.0f}; white from "
            "above usually reaches 80 to 95"
        )
    if isinstance(preshade, GreysGiven):
        bare = np.full(BANDS, surface.smooth_surface().k1 * preshade.sheen)
        floor = colour.lab(bare, colour.Viewing())[0]
        if preshade.darkest < floor:
            yield (
                f"{area.name}: preshade greys from L* {preshade.darkest:g}: its surface reflects "
                f"enough by itself to be no darker than L* {floor:.0f}, which is used instead"
            )


def scheme_oddities(scheme: Scheme) -> Iterator[str]:
    """Yield what the user should know of a scheme's areas together."""
    shares = [area.extent.share for area in scheme.areas]
    total = sum(share or 0.0 for share in shares)
    if None not in shares and total < LEAST_COVERED:
        yield f"the areas' shares add up to {100 * total:.0f} % of the model; the rest stays as it is"


def _slips(area: Area, coat: Coat) -> Iterator[str]:
    """Yield what looks like a slip in one coat."""
    place = f'{area.name}: "{coat.name}"'
    paint = max(coat.mix.ingredients, key=lambda one: one[1])[0]
    if coat.dry_film_um > THICKEST_COAT_UM.get(paint.kind, THICKEST_COAT_UM["paint"]):
        usual = "0.5 to 3" if paint.kind in ("wash", "ink") else "0.5 to 10"
        yield (
            f"{place}: one coat is {coat.dry_film_um:.3g} µm thick when dry; a coat of {paint.kind} leaves "
            f"about {usual}"
        )
    if coat.coats > MOST_COATS:
        thinned = "" if coat.mix.thinning else ", unthinned"
        yield f"{place} is {coat.coats} coats{thinned}; one to six are usual"
    if coat.mix.is_metal:
        covered = 1.0 - np.exp(-coat.mix.cover_per_um * coat.total_film_um)
        if coat.is_filter and covered > FILTER_HIDES:
            yield (
                f"{place} is a filter, but its metal covers {100 * covered:.0f} % of what lies below. "
                "A filter is a glaze, or paint thinned with medium"
            )
        return
    film_um = np.array(coat.total_film_um)
    hides = float(contrast(coat.mix.medium, film_um))
    leaves = float(brightness(coat.mix.medium, film_um)[1])
    if coat.is_filter and hides > FILTER_HIDES:
        yield (
            f"{place} is a filter, but this film hides: over black it is {100 * hides:.0f} % as bright as "
            "over white. A filter is a glaze, or paint thinned with medium"
        )
    elif coat.is_filter and leaves < FILTER_LEAVES:
        yield (
            f"{place} is a filter, but hardly lets light through: white under it sends back "
            f"{100 * leaves:.0f} % of the light. A filter is a glaze, or paint thinned with medium"
        )
