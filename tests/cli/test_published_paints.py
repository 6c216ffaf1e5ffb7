"""Published watercolours as paint files, through `preview`.

C. J. Curtis, S. E. Anderson, J. E. Seims, K. W. Fleischer and D. H. Salesin, Computer-generated
watercolor, Proc. SIGGRAPH 1997, give K and S of red, green and blue for films of unit thickness.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from layersim.cli import main
from layersim.names import slug
from layersim.optics.surface import internal_from_seen
from layersim.paintfile import read_paint
from tests.oracle.two_fluxes import film, opaque_reflectance, over_ground
from tests.reference_scheme import even_ground, laid, seen

# K of red, green, blue; S of red, green, blue (as printed).
WATERCOLOURS = {
    "quinacridone rose": ((0.22, 1.47, 0.57), (0.05, 0.003, 0.03)),
    "Indian red": ((0.46, 1.07, 1.50), (1.28, 0.38, 0.21)),
    "cadmium yellow": ((0.10, 0.36, 3.45), (0.97, 0.65, 0.007)),
    "Hooker's green": ((1.62, 0.61, 1.64), (0.01, 0.012, 0.003)),
    "cerulean": ((1.52, 0.32, 0.25), (0.06, 0.26, 0.40)),
    "burnt umber": ((0.74, 1.54, 2.10), (0.09, 0.09, 0.004)),
    "cadmium red": ((0.14, 1.08, 1.68), (0.77, 0.015, 0.018)),
    "hansa yellow": ((0.06, 0.21, 1.78), (0.50, 0.88, 0.009)),
    "phthalo green": ((1.55, 0.47, 0.63), (0.01, 0.05, 0.035)),
    "ultramarine": ((0.86, 0.86, 0.06), (0.005, 0.005, 0.09)),
}
# One band in each third: blue 400-490, green 500-590, red 600-700 nm.
RED, GREEN, BLUE = 25, 15, 5


def spread(red: float, green: float, blue: float) -> list[float]:
    return [blue] * 10 + [green] * 10 + [red] * 11


def paint_file(name: str, K: list[float], S: list[float]) -> str:
    return (
        f'format = "layersim paint 1"\nname = "{name}"\nkind = "paint"\nsheen = 0\n'
        'provenance = "Curtis et al. 1997, constants for unit thickness"\n'
        f"volume_solids = 0.1\nwet_film_um = 10\nK_per_um = {K}\nS_per_um = {S}\n"
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A paint of every watercolour, and a scheme that lays each on a perfect black and a perfect white."""
    made = tmp_path_factory.mktemp("published")
    (made / "paints").mkdir()
    for name, (K, S) in WATERCOLOURS.items():
        (made / "paints" / f"{slug(name)}.toml").write_text(paint_file(name, spread(*K), spread(*S)))
    (made / "paints" / "card.toml").write_text(paint_file("card", [1.0] * 31, [0.0] * 31))
    rows = ['format = "layersim scheme 1"', 'name = "published"', 'paints = "paints"']
    for name in WATERCOLOURS:
        rows += ["[[area]]", f'name = "{name}"', 'primer = "card"', "[area.preshade]", "greys = [0, 100]"]
        rows += ["sheen = 0", "[[area.coat]]", f'paint = "{name}"', "dry_film_um = 1", "spread = 0"]
    (made / "scheme.toml").write_text("\n".join(rows))
    return made


@pytest.fixture(scope="module")
def shown(folder: Path) -> dict[str, np.ndarray]:
    """What `preview` says of each on black (0) and white (1): reflectance as seen, without gloss."""
    out = folder / "out.json"
    words = ["preview", str(folder / "scheme.toml"), "--no-picture", "--tones", "2", "--json", str(out)]
    assert main(words) == 0
    [prediction] = json.loads(out.read_text(encoding="utf-8"))["result"]
    return {area["name"]: np.array(area["reflectance"][-1]) for area in prediction["areas"]}


@pytest.mark.parametrize("name", WATERCOLOURS)
def test_preview_shows_them_as_the_oracle_does(shown: dict[str, np.ndarray], name: str) -> None:
    K, S = WATERCOLOURS[name]
    for ground in (0, 1):
        found = shown[name][ground]
        for channel, band in enumerate((RED, GREEN, BLUE)):
            expected = seen(laid(K[channel], S[channel], 1.0, even_ground(ground)), 0.0)
            assert found[band] == pytest.approx(expected, abs=2e-6)
        for third in (found[:10], found[10:20], found[20:]):
            assert np.ptp(third) < 2e-6


# Over white and black by Kubelka and Munk's own equations, computed from the printed constants.
@pytest.mark.parametrize(
    ("name", "band", "black", "white"),
    [
        ("Indian red", RED, 0.404403, 0.511979),
        ("quinacridone rose", RED, 0.038659, 0.646119),
        ("hansa yellow", GREEN, 0.395641, 0.687556),
    ],
)
def test_their_files_hold_the_printed_constants(
    folder: Path, name: str, band: int, black: float, white: float
) -> None:
    paint = read_paint(folder / "paints" / f"{slug(name)}.toml")
    one = film(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um, thickness_um=paint.dry_film_um)
    assert over_ground(one, 0.0)[band] == pytest.approx(black, abs=5.1e-7)
    assert over_ground(one, 1.0)[band] == pytest.approx(white, abs=5.1e-7)
    if name == "Indian red":
        assert one.T[band] == pytest.approx(0.253125, abs=5.1e-7)
        opaque = opaque_reflectance(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um)
        assert opaque[band] == pytest.approx(0.438560, abs=5.1e-7)


def test_how_a_light_from_above_differs_from_the_diffuse_one_of_the_paper(
    folder: Path, shown: dict[str, np.ndarray]
) -> None:
    """The paper's films are lit and seen diffusely. Here light enters along the normal, on a shorter way:
    a coat over white absorbs less of it, and one over black sends less of it back."""
    off: tuple[list[float], list[float]] = ([], [])
    for name in WATERCOLOURS:
        paint = read_paint(folder / "paints" / f"{slug(name)}.toml")
        one = film(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um, thickness_um=1.0)
        for ground in (0, 1):
            internal = internal_from_seen(shown[name][ground], sheen=0.0)
            off[ground].extend((internal - over_ground(one, ground))[[RED, GREEN, BLUE]].tolist())
    assert max(off[0]) < 0.001
    assert min(off[0]) == pytest.approx(-0.112, abs=0.005)
    assert max(off[1]) == pytest.approx(0.143, abs=0.005)
    assert min(off[1]) > -0.03
