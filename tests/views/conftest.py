"""One small answer of every kind, and its view."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from layersim.colour import Viewing
from layersim.decide.choices import Choice
from layersim.decide.compare import compare
from layersim.decide.correction import correct
from layersim.decide.match import match
from layersim.decide.recipes import Limits
from layersim.decide.tolerance import tolerance
from layersim.fitting.measured import fit_swatches
from layersim.fitting.metal import fit_metal
from layersim.measure.swatch import SwatchSet
from layersim.measure.swatchfile import read_any_swatches
from layersim.paint import Paint
from layersim.plan.order import order
from layersim.plan.quantities import quantities
from layersim.resources import data_folder
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Coat, Mix, Scheme, Targets
from layersim.scheme.simulate import simulate
from layersim.shelf import Shelf
from layersim.swatchcard import swatch_card
from layersim.views import of
from layersim.views.parts import View
from tests.examples import CHALK, GILT, MOSS, PLUM, RUST, SCHEME, TIN
from tests.fitting.painter import six, violet


def gilded(rig: Scheme, paint: Paint) -> Scheme:
    """Return a scheme with metal on its first area, below its last coat."""
    area = rig.areas[0]
    gilt = Coat(name="gilt", mix=Mix(((paint, 1.0),)), coats=1, dry_film_um=3.0, spread=0.1)
    return replace(
        rig, areas=(replace(area, coats=(*area.coats[:-1], gilt, *area.coats[-1:])), *rig.areas[1:])
    )


def metal() -> SwatchSet:
    """The example's metal, known to be aluminium: quicker than trying all."""
    found = read_any_swatches(data_folder() / "examples" / "amber-metal.toml")
    assert isinstance(found, SwatchSet)
    return replace(found, metal="aluminium")


MADE: dict[str, Callable[[Scheme], object]] = {
    "preview": lambda rig: simulate(rig, tones=4, sites=2, draws=8),
    "compare": lambda rig: compare(
        [Choice("as written", rig), Choice("lamp", replace(rig, viewing=Viewing("LED-B3")))], tones=3, draws=8
    ),
    "tolerance": lambda rig: tolerance(rig, batches=60, tones=3),
    "match": lambda rig: match(
        rig, area="cloth", coat="base", paints=(CHALK, MOSS, PLUM, RUST), tones=5,
        limits=Limits(paints_at_most=2, drops=4, coats=(1, 2)),
        targets=Targets(mid=np.array([30.0, 10, 5]), light=np.array([50.0, 12, 8])),
    ),
    "correct": lambda rig: correct(
        rig, area="strap", found={"mid": np.array([60.0, 0.0, 0.0])}, paints=(RUST, MOSS), tones=3
    ),
    "quantities": quantities,
    "order": order,
    "metalfit": lambda rig: fit_metal(metal()),
    "fit": lambda rig: fit_swatches(six(*violet()), Shelf([])),
    "paint": lambda rig: swatch_card(MOSS),
    "metal paint": lambda rig: swatch_card(GILT),
    "metal": lambda rig: simulate(gilded(rig, GILT), tones=4, sites=2, draws=8),
    "metals compared": lambda rig: compare(
        [Choice("gilt", gilded(rig, GILT)), Choice("tin", gilded(rig, TIN))], tones=3, draws=8
    ),
}  # fmt: skip


@pytest.fixture(params=MADE, scope="session")
def answer(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, paints_folder: Path
) -> object:
    """An answer of each kind, once for all tests."""
    path = tmp_path_factory.mktemp("rig") / "rig.toml"
    path.write_text(SCHEME, encoding="utf-8")
    return MADE[request.param](load_scheme(path, Shelf([paints_folder])))


@pytest.fixture(scope="session")
def page(answer: object) -> View:
    """Its view."""
    return of(answer)
