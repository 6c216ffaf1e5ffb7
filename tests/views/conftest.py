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
from layersim.plan.order import order
from layersim.plan.quantities import quantities
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme, Targets
from layersim.scheme.simulate import simulate
from layersim.shelf import Shelf
from layersim.swatchcard import swatch_card
from layersim.views import of
from layersim.views.parts import View
from tests.examples import CHALK, MOSS, PLUM, RUST, SCHEME
from tests.fitting.painter import six, violet

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
    "fit": lambda rig: fit_swatches(six(*violet()), Shelf([])),
    "paint": lambda rig: swatch_card(MOSS),
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
