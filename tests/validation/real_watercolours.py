"""Real watercolours on white paper: some amounts and mixtures predicted from others.

Seven watercolours in amounts of 0.01 to 0.12 mL on one area, and their mixtures two by two, measured by
spectrum (M.-Y. Chen et al. 2019, arXiv:1904.00275). Only white paper lies below, so absorption and scattering
are told apart by the thickness alone. The table is not carried with the project: ``real_data`` says where it
is looked for.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim import colour
from layersim.errors import FitError
from layersim.fitting.measured import fit_swatches
from layersim.measure.swatch import Ground, Swatch, SwatchSet
from layersim.measure.swatchfile import DEFAULT_NOISE
from layersim.paint import Paint
from layersim.scheme.records import Area, Coat, Mix
from layersim.shelf import Shelf
from layersim.spectra import BANDS, FloatArray, wavelengths_nm
from tests.validation import real_data
from tests.validation.errors import VIEW, delta_e
from tests.validation.figures import Said, together
from tests.validation.models import Model
from tests.validation.protocol import Scene, predicted, told
from tests.validation.swatches import nearest_to

FILE: Final = "watercolours.csv"
THREE: Final = (1, 4, 10)
FOUR: Final = (1, 2, 4, 8)
AMOUNT_UM: Final = 2.0
"""What one amount leaves when dry: any number would do, since all films are told by amounts."""
READING: Final = DEFAULT_NOISE
SHEEN: Final = 0.0
"""The black returns 1.7 %: no surface is in these readings."""

Amounts = tuple[tuple[str, int], ...]


@dataclass(frozen=True, eq=False)
class Sheet:
    """What was measured: the paper, and spectra by paints and their amounts."""

    paper: FloatArray
    washes: dict[Amounts, FloatArray]

    @property
    def paints(self) -> list[str]:
        """Names of the watercolours."""
        return list(dict.fromkeys(key[0][0] for key in self.washes))

    def alone(self, paint: str) -> dict[int, FloatArray]:
        """Return the spectra of one paint by its amount."""
        return {key[0][1]: R for key, R in self.washes.items() if len(key) == 1 and key[0][0] == paint}

    def mixtures(self) -> dict[Amounts, FloatArray]:
        """Return the spectra of the mixtures."""
        return {key: R for key, R in self.washes.items() if len(key) == 2}


@functools.cache
def sheet() -> Sheet:
    """Return the sheet."""
    paper, washes = np.empty(0), {}
    for row in real_data.rows_of(FILE):
        R = np.array([float(row[f"{nm:.0f}"]) for nm in wavelengths_nm()])
        if row["first"] == "paper":
            paper = R
            continue
        key: Amounts = ((row["first"], int(row["amount"])),)
        if row["second"]:
            key += ((row["second"], int(row["amount2"])),)
        washes[key] = R
    return Sheet(paper=paper, washes=washes)


def swatch_set(paint: str, amounts: Sequence[int]) -> SwatchSet:
    """Return some amounts of one watercolour as swatches."""
    noise = np.full(BANDS, READING)
    alone = sheet().alone(paint)
    return SwatchSet(
        paint=paint,
        kind="paint",
        volume_solids=0.1,
        wet_film_um=AMOUNT_UM / 0.1,
        sheen=SHEEN,
        specular="excluded",
        grounds=(Ground(name="paper", reflectance=sheet().paper, noise=noise, sheen=SHEEN),),
        swatches=tuple(
            Swatch(name=f"{amount}", ground="paper", coats=amount, reflectance=alone[amount], noise=noise)
            for amount in amounts
        ),
    )


def fits(amounts: Sequence[int] | None, *, film_error: float | None) -> tuple[dict[str, Paint], int]:
    """Return the watercolours as fitted from some amounts (all by default), and how many were refused."""
    found, refused = {}, 0
    for paint in sheet().paints:
        chosen = amounts or sorted(sheet().alone(paint))
        try:
            found[paint] = fit_swatches(swatch_set(paint, chosen), Shelf([]), **told(film_error)).paint
        except FitError:
            refused += 1
    return found, refused


def other_amounts(amounts: Sequence[int], *, film_error: float | None = None) -> Said:
    """Return how amounts that were not used are predicted."""
    paints, refused = fits(amounts, film_error=film_error)
    wanted = [((name, amount),) for name in paints for amount in sheet().alone(name) if amount not in amounts]
    return _held(paints, wanted, refused)


def mixtures(amounts: Sequence[int] | None, *, film_error: float | None = None) -> Said:
    """Return how mixtures are predicted from their paints' own K and S by amount."""
    paints, refused = fits(amounts, film_error=film_error)
    wanted = [key for key in sheet().mixtures() if all(name in paints for name, _ in key)]
    return _held(paints, wanted, refused)


def _held(paints: dict[str, Paint], wanted: Sequence[Amounts], refused: int) -> Said:
    scene = Scene(paints=paints)
    paper = scene.ground(sheet().paper)
    said = [Said(np.empty(0), np.empty(0), refused, len(sheet().paints))]
    for key in wanted:
        lab, reach = predicted(_wash(paper, [(paints[name], amount) for name, amount in key]))
        truth = colour.lab(sheet().washes[key], VIEW)
        said.append(Said(colour.delta_e_2000(lab[:1], truth), reach[:1]))
    return together(said)


def _wash(paper: Paint, parts: Sequence[tuple[Paint, float]]) -> Area:
    """Return one wash on paper, each paint with its amount."""
    film_um = AMOUNT_UM * sum(amount for _, amount in parts)
    wash = Coat("wash", Mix(tuple(parts)), 1, film_um, 0.0, sheen=SHEEN, by="brush")
    return Area(name="sheet", ground=paper, preshade=None, coats=(wash,))


def by_least_squares(model: Model, amounts: Sequence[int] | None, *, mixed: bool) -> FloatArray:
    """Return ΔE00 of other amounts or of mixtures by a model nearest to the same swatches, band by band."""
    names = sheet().paints
    constants = {
        name: nearest_to(model, swatch_set(name, amounts or sorted(sheet().alone(name)))) for name in names
    }
    wanted: list[Amounts] = list(sheet().mixtures())
    if not mixed:
        wanted = [((name, a),) for name in names for a in sheet().alone(name) if a not in (amounts or ())]
    paper = model.ground(sheet().paper)
    seen = []
    for key in wanted:
        K, S = (np.sum([amount * constants[name][i] for name, amount in key], axis=0) for i in (0, 1))
        seen.append(model.seen(model.lay(K, S, np.asarray(AMOUNT_UM), paper), 0.0))
    return delta_e(np.stack(seen), np.stack([sheet().washes[key] for key in wanted]))
