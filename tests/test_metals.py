"""Refractive indices of metals: against a handbook, the papers' own values, and what metals look like."""

from __future__ import annotations

import numpy as np
import pytest
import tmm

from data.generate import metal_table
from layersim.colour import Viewing, lab_from_xyz, xyz
from layersim.errors import UnknownNameError
from layersim.metals import METALS, refractive_index
from layersim.spectra import wavelengths_nm


def reflectance(metal: str) -> np.ndarray:
    """At normal incidence in air, by a kept program for layers of metals (S. J. Byrnes, arXiv:1603.02720)."""
    return np.array(
        [
            tmm.coh_tmm("s", [1.0, index], [np.inf, np.inf], 0.0, nm)["R"]
            for nm, index in zip(wavelengths_nm(), refractive_index(metal), strict=True)
        ]
    )


def at(metal: str, nm: int) -> float:
    return float(reflectance(metal)[int(np.flatnonzero(wavelengths_nm() == nm)[0])])


# "Optical properties of selected elements" and mirror coatings in the CRC Handbook, from memory: evaporated
# aluminium and copper. Samples of iron and of brass differ by more than those do, hence the wider bounds.
@pytest.mark.parametrize(
    ("metal", "nm", "expected", "within"),
    [
        ("aluminium", 450, 0.92, 0.01),
        ("aluminium", 550, 0.915, 0.01),
        ("aluminium", 650, 0.905, 0.01),
        ("copper", 450, 0.54, 0.03),
        ("copper", 550, 0.60, 0.04),
        ("copper", 650, 0.96, 0.03),
        ("iron", 550, 0.56, 0.06),
        ("nickel", 550, 0.63, 0.03),
    ],
)
def test_a_handbook_gives_the_same_reflectance(metal: str, nm: int, expected: float, within: float) -> None:
    assert at(metal, nm) == pytest.approx(expected, abs=within)


def test_published_values_stand_where_the_grid_meets_them() -> None:
    """Johnson and Christy's own numbers lie within a few nm of a band; Querry's on each."""
    assert refractive_index("brass")[20] == 0.450 + 3.253j
    assert refractive_index("copper")[15] == pytest.approx(1.02 + 2.577j, abs=0.02)  # 548.6 nm
    assert refractive_index("iron")[15] == pytest.approx(2.95 + 2.93j, abs=0.01)  # 549 nm


def test_the_file_is_what_its_script_writes() -> None:
    assert metal_table.TABLE.read_text(encoding="utf-8") == metal_table.table()
    assert set(metal_table.METALS) == set(METALS)


def test_metals_have_their_colours() -> None:
    seen = {metal: lab_from_xyz(xyz(reflectance(metal), Viewing()), Viewing().white) for metal in METALS}
    L = {metal: lab[0] for metal, lab in seen.items()}
    chroma = {metal: np.hypot(*lab[1:]) for metal, lab in seen.items()}
    hue = {metal: np.degrees(np.arctan2(lab[2], lab[1])) for metal, lab in seen.items()}
    assert L["aluminium"] > L["nickel"] > L["iron"]
    assert max(chroma["aluminium"], chroma["iron"]) < 5 < chroma["nickel"] < 12
    # From yellow to red with more copper.
    assert 100 > hue["brass"] > hue["red brass"] > hue["copper"] > 40


def test_an_unknown_metal_lists_those_there_are() -> None:
    with pytest.raises(UnknownNameError, match="The metals here are: aluminium, brass, copper"):
        refractive_index("yellow brass")
