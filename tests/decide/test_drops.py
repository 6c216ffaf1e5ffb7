"""The drops that a batch takes are those that the shopping list mixes."""

from __future__ import annotations

from layersim.decide.drops import drops_needed, fold
from layersim.plan.quantities import quantities
from layersim.resources import demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import AreaModel


def test_a_ratio_is_mixed_as_often_as_quantities_mixes_it() -> None:
    scheme = load_scheme(demo_scheme())
    mixed = {
        (use.area, use.step): [part.drops for part in mix.parts if part.paint is not None]
        for mix in quantities(scheme).mixes
        for use in mix.uses
    }
    tried = 0
    for area in scheme.areas:
        shade = AreaModel(scheme, area, tones=65).shade
        for coat in area.coats:
            parts = coat.mix.parts.tolist()
            if len(parts) > 1:
                landed = coat.coverage * float(coat.where.film_share(shade).mean())
                times = fold(drops_needed(scheme, area, coat, landed=landed), parts)
                assert [part * times for part in parts] == mixed[area.name, coat.name]
                tried += 1
    assert tried == 7
