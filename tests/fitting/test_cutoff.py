"""Colours too pure for the file: a patch counts by the channels that are not cut off."""

from __future__ import annotations

import numpy as np

from tests.fitting.cards import fitted, reading, spectra, with_patch
from tests.fitting.painter import violet


def test_a_colour_too_pure_for_the_file_counts_by_its_other_channels() -> None:
    card = reading(spectra(*violet()))
    patch = next(p for p in card.patches if p.name == "white 4")
    rgb = patch.rgb * np.array([1.0, 0.0, 1.0])
    cut = with_patch(
        card,
        "white 4",
        rgb=rgb,
        usable=False,
        only_cut_off=True,
        cut_off=np.array([0.0, 0.03, 0.0]),
        flags=("too dark or too pure for the file's colours: a channel stands at 0",),
    )
    fit = fitted(cut)
    assert len(fit.names) == 12
    assert any("raw" in n and "wider colour space than sRGB" in n for n in fit.notices)
