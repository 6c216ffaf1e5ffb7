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
from layersim.scheme.records import Area, GreysGiven, Scheme
from layersim.spectra import BANDS, FloatArray

THICKEST_COAT_UM: Final = 50.0
"""A thicker dry coat is likelier a slip than paint: full coats leave 2-10 µm (common practice, no source)."""
LEAST_SHARE: Final = 0.2
"""A coat of which no tone gets more than this share of its film hardly shows."""


def stages_of(area: Area) -> tuple[Stage, ...]:
    """Return the names of an area's stages."""
    stages = [Stage("primer", area.ground.name)]
    preshade = area.preshade
    if isinstance(preshade, GreysGiven):
        greys = f"greys given, L* {preshade.darkest:g} to {preshade.lightest:g}"
        stages.append(Stage("pre-shade", greys))
    elif preshade is not None:
        passes = f"{preshade.passes} pass" + ("" if preshade.passes == 1 else "es")
        film = f"{film_words(preshade.total_film_um)} dry"
        stages.append(Stage("pre-shade", f"{preshade.mix.words()}, {passes}, {film}"))
    return (*stages, *(Stage(coat.name, coat.words(), coat.is_filter) for coat in area.coats))


def oddities(scheme: Scheme, area: Area, *, shade: FloatArray) -> Iterator[str]:
    """Yield what the user should know of an area, of which `shade` is the lightness at each tone."""
    ground = area.ground
    if ground.kind not in ("primer", "paint"):
        yield f"{area.name}: the ground is {ground.name}, of the kind {ground.kind}; it is taken as opaque"
    for coat in area.coats:
        if coat.dry_film_um > THICKEST_COAT_UM:
            yield (
                f'{area.name}: one coat of "{coat.name}" is {coat.dry_film_um:.3g} µm thick when '
                "dry; a sprayed coat leaves about 0.5 to 10"
            )
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
    if isinstance(preshade, GreysGiven):
        bare = np.full(BANDS, surface.smooth_surface().k1 * preshade.sheen)
        floor = colour.lab(bare, colour.Viewing())[0]
        if preshade.darkest < floor:
            yield (
                f"{area.name}: pre-shade greys from L* {preshade.darkest:g}: its surface reflects "
                f"enough by itself to be no darker than L* {floor:.0f}, which is used instead"
            )
