"""IES TM-27 XML, as colour-science writes and reads it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from layersim.errors import SpectralFileError
from layersim.measure.spectral import read_spectra

NM = range(400, 710, 10)


def xml(rows: str, quantity: str = "reflectance", geometry: str = "di:8") -> str:
    return (
        '<?xml version="1.0"?>\n<IESTM2714 xmlns="iestm2714" version="1.0"><Header>'
        "<Description>red, one coat</Description></Header><SpectralDistribution>"
        f"<SpectralQuantity>{quantity}</SpectralQuantity><ReflectionGeometry>{geometry}</ReflectionGeometry>"
        f"{rows}</SpectralDistribution></IESTM2714>\n"
    )


def rows(*pairs: tuple[object, object]) -> str:
    return "".join(f'<SpectralData wavelength="{w}">{value}</SpectralData>' for w, value in pairs)


SOUND = xml(rows(*((w, 0.5) for w in NM)))


def test_a_reading_with_its_geometry(tmp_path: Path) -> None:
    path = tmp_path / "red.spdx"
    path.write_text(SOUND, encoding="utf-8")
    found = read_spectra(path)
    assert found.names == ("red, one coat",)
    assert found.specular == "included"
    np.testing.assert_array_equal(found.readings[0].reflectance, 0.5)
    assert np.get_printoptions()["legacy"] is False, "colour-science must not change how numpy prints"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("<html><body>hello</body></html>", "not IES TM-27"),
        (SOUND.replace("<IES", '<!DOCTYPE x [<!ENTITY a "aaaa">]><IES'), "entities"),
        (SOUND[:-30], "cannot be read as IES TM-27"),
        (SOUND.replace(' xmlns="iestm2714"', ""), "cannot be read as IES TM-27"),
        (SOUND.replace(">reflectance<", ">relative<"), 'found "relative"; expected "reflectance"'),
        (xml(rows(*((w, "0,5") for w in NM))), "cannot be read as IES TM-27"),
        (xml(rows(*((w, "nan") for w in NM))), "SpectralData 1, 400 nm: found no number"),
        (xml(rows(*((w, "") for w in NM))), "found no number"),
        (xml(rows((400, 0.5), (420, 0.5), (410, 0.5))), "out of order"),
        (xml(rows(*((w, 0.5) for w in NM), (700, 0.5))), "700 nm a second time"),
        (xml("").replace("</SpectralD", "<!-- SpectralData --></SpectralD"), "0 wavelengths"),
    ],
)
def test_xml_that_holds_no_measured_reflectance_is_refused(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "bad.spdx"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SpectralFileError) as fault:
        read_spectra(path)
    assert said in str(fault.value)
