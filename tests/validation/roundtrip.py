"""Round trip of a match: hidden recipes rendered by radiative transfer, matched, and the answers rendered.

The painter gives three colours, shadow, mid and light, of a finish that exists (as radiative transfer
shows it). Where the recipe's paints are all on the shelf, the answer should be as close as the recipe
itself; where its first paint is missing, what counts is that the match says truly how close it comes.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim import colour
from layersim.decide.answer import Answer
from layersim.decide.match import match
from layersim.decide.recipes import Limits
from layersim.optics import mixing
from layersim.paint import Paint
from layersim.scheme.records import Area, Coat, GreysSprayed, Mix, Scheme, Targets
from layersim.scheme.simulate import AreaModel
from layersim.spectra import FloatArray
from tests.judge import radiative_transfer as judge
from tests.validation.document import table
from tests.validation.models import straight

RECIPES: Final = 20
TONES: Final = 9
VIEW: Final = colour.Viewing()
PIGMENTS: Final = {**judge.TUNING, **judge.HELD_OUT}
_INKS: Final = ("blue ink", "red ink", "sepia wash")
_NO_COLOURS: Final = ("matt varnish", "satin varnish")
LIMITS: Final = Limits(drops=6, coats=(1, 2, 3, 4), thinnings=(0.5,))


@dataclass(frozen=True, eq=False)
class Trip:
    """One recipe there and back."""

    words: str
    """The hidden recipe."""
    answer: Answer
    promised: float
    """Mean ΔE00 at the three targets by the model."""
    given: float
    every: float
    """Mean ΔE00 of the rendered answer at the three targets, and at all nine tones."""
    worst: float
    """Of the three."""


def paint_of(name: str) -> Paint:
    """Return a pigmentation as a paint, its K and S straight from its physics, glossy."""
    K, S = straight(PIGMENTS[name])
    ink = name in _INKS
    return Paint(
        name=name,
        kind="ink" if ink else "paint",
        K_per_um=K,
        S_per_um=S,
        volume_solids=0.12 if ink else 0.25,
        wet_film_um=12.0,
        sheen=0.0,
        provenance="the judge's own pigments",
        invented=True,
    )


@functools.cache
def shelf() -> dict[str, Paint]:
    """Return every pigment that colours, as a paint."""
    return {name: paint_of(name) for name in PIGMENTS if name not in _NO_COLOURS}


def scheme_with(*coats: Coat) -> Scheme:
    """Return a black figure with white from above, and coats over it; even films, no gloss seen."""
    white = Mix(((shelf()["titanium white"], 1.0),), thinning=3.0)
    preshade = GreysSprayed(mix=white, passes=16, dry_film_um=0.75, spread=0.0, reach=0.02)
    area = Area("cloth", shelf()["carbon black"], preshade, coats)
    return Scheme("round trip", (area,))


def rendered(area: Area) -> FloatArray:
    """Return L*a*b* of an area's finish by radiative transfer, shape (tones, 3)."""
    model = AreaModel(scheme_with(), area, tones=TONES)
    preshade = area.preshade
    assert isinstance(preshade, GreysSprayed)
    films = [judge.preshade(thickness_um=(preshade.total_film_um * model.exposure).tolist())]
    for coat in area.coats:
        shares = mixing.dry_shares(parts=coat.mix.parts, volume_solids=coat.mix.solids)
        named = [
            (PIGMENTS[paint.name], float(c))
            for (paint, _), c in zip(coat.mix.ingredients, shares, strict=True)
        ]
        films.append(judge.Film(judge.mix(coat.name, named), coat.total_film_um))
    seen = judge.render(films, ground=judge.opaque(judge.TUNING["carbon black"]))
    return colour.lab(seen, VIEW)


def hidden_recipes(count: int = RECIPES, *, seed: int = 4) -> list[tuple[Coat, Coat | None]]:
    """Return recipes nobody told the match: one to three paints, half of them under a glaze."""
    draw = np.random.default_rng(seed)
    names = [name for name in shelf() if name not in ("carbon black", "bone black")]
    found: list[tuple[Coat, Coat | None]] = []
    for number in range(count):
        paints = draw.choice(names, size=1 + number % 3, replace=False)
        drops = draw.integers(1, 4, size=len(paints)).astype(float)
        mix = Mix(tuple(zip((shelf()[n] for n in paints), drops.tolist(), strict=True)), thinning=0.5)
        base = _coat("base", mix, int(draw.integers(1, 5)))
        glaze = None
        if number % 2:
            ink = Mix(((shelf()[str(draw.choice(_INKS))], 1.0),), thinning=1.0)
            glaze = _coat("glaze", ink, 1)
        found.append((base, glaze))
    return found


def _coat(name: str, mix: Mix, coats: int) -> Coat:
    return Coat(name, mix, coats, mix.wet_film_um * mix.volume_solids, 0.0, film_from="own")


def trip(base: Coat, glaze: Coat | None, *, missing: bool) -> Trip:
    """Return one recipe rendered, matched, and its answer rendered.

    `base`, `glaze`: the hidden recipe, and what follows it, which is known. `missing`: whether the
    recipe's first paint is not on the shelf.
    """
    later = () if glaze is None else (glaze,)
    wanted = rendered(scheme_with(base, *later).areas[0])
    at = [0, (TONES - 1) // 2, TONES - 1]
    targets = Targets(shadow=wanted[at[0]], mid=wanted[at[1]], light=wanted[at[2]])
    first = base.mix.ingredients[0][0].name
    paints = [paint for name, paint in shelf().items() if not (missing and name == first)]
    stand_in = _coat("base", Mix(((shelf()["raw umber"], 1.0),)), 1)
    # At three tones only: between targets a straight line in L*a*b* would be asked, and paint runs none.
    found = match(
        scheme_with(stand_in, *later), area="cloth", coat="base", paints=paints, targets=targets,
        limits=LIMITS, tones=3, most=1,
    )  # fmt: skip
    answer = found.answers[0]
    got = rendered(answer.area)
    miss = colour.delta_e_2000(got, wanted)
    return Trip(
        words=f"{base.mix.words()}, {base.coats} coats" + (f", under {glaze.mix.words()}" if glaze else ""),
        answer=answer,
        promised=answer.mean,
        given=float(miss[at].mean()),
        every=float(miss.mean()),
        worst=float(miss[at].max()),
    )


def tables() -> dict[str, str]:
    """Return this section's tables."""
    rows = []
    for missing in (False, True):
        trips = [trip(base, glaze, missing=missing) for base, glaze in hidden_recipes()]
        given = np.array([t.given for t in trips])
        words = "its first paint missing" if missing else "its paints on the shelf"
        rows.append(
            [
                words,
                f"{np.mean([t.promised for t in trips]):.2f}",
                f"{given.mean():.2f}",
                f"{np.median(given):.2f}",
                f"{given.max():.2f}",
                f"{np.mean([t.worst for t in trips]):.2f}",
                f"{np.mean([t.every for t in trips]):.2f}",
            ]
        )
    head = ["20 hidden recipes", "promised", "rendered", "median", "largest", "worst tone", "nine tones"]
    return {"round-trip": table(head, rows)}
