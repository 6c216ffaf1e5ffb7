"""The starter shelf: written by its generator, complete, and as plausible as invented paints can be."""

from __future__ import annotations

import functools
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import numpy.typing as npt
import pytest
from scipy.special import spherical_jn, spherical_yn

from layersim.colour import Viewing, delta_e_2000, lab, lch, luminance_weights, xyz_from_lab
from layersim.names import slug
from layersim.optics import cones
from layersim.optics.mixing import dry_shares, mixed_constants
from layersim.optics.surface import SHEENS, internal_from_seen, seen
from layersim.paint import KINDS, Paint
from layersim.paintfile import read_paint
from layersim.resources import data_folder
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Area, Coat, Mix, Scheme
from layersim.scheme.simulate import simulate
from layersim.spectra import FloatArray, wavelengths_nm
from layersim.swatchcard import swatch_card

FILES = sorted((data_folder() / "paints").glob("*.toml"))
VIEWING = Viewing()
Y = luminance_weights(VIEWING)
AT_550 = 15
BLACK, WHITE = 0.01, 0.90  # internal reflectance of a good black and a good white under a film

WANTED = (
    "black primer", "grey primer", "white primer", "airbrush white", "titanium white", "carbon black",
    "navy blue", "sky blue", "pale blue grey", "turquoise", "leather brown", "yellow ochre", "brass yellow",
    "bone", "blue ink", "sepia ink", "black ink", "brown wash", "violet glaze", "oil wash dark brown",
    "glaze medium", "matt varnish", "satin varnish", "gloss varnish", "rust orange", "neutral grey",
    "black metal base", "dark steel", "bright aluminium", "old brass", "copper", "pale rose metal",
)  # fmt: skip


@functools.cache
def shelf() -> dict[str, Paint]:
    return {paint.name: paint for paint in map(read_paint, FILES)}


@functools.cache
def generator() -> ModuleType:
    path = Path(__file__).parents[1] / "data" / "generate" / "starter_paints.py"
    spec = importlib.util.spec_from_file_location("starter_paints", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


def of_kind(*kinds: str) -> list[Paint]:
    return [paint for paint in shelf().values() if paint.kind in kinds]


def masstone(paint: Paint, sheen: float | None = None) -> FloatArray:
    return opaque(paint.K_per_um, paint.S_per_um, sheen=paint.sheen if sheen is None else sheen)


def opaque(K: FloatArray, S: FloatArray, *, sheen: float) -> FloatArray:
    return cones.seen(cones.endless(cones.medium(K_per_um=K, S_per_um=S)), sheen=sheen)


def inside(paint: Paint, *, coats: float, ground: npt.ArrayLike) -> FloatArray:
    """Internal reflectance of an even ground that looks like some coats over another one."""
    one = cones.medium(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um)
    below = cones.even_ground(np.broadcast_to(ground, (31,)))
    laid = cones.lay(one, thickness_um=coats * paint.dry_film_um, over=below)
    return internal_from_seen(cones.seen(laid, sheen=0.0), sheen=0.0)


def mix(parts: dict[str, float]) -> FloatArray:
    paints = [shelf()[name] for name in parts]
    shares = dry_shares(parts=list(parts.values()), volume_solids=[p.volume_solids for p in paints])
    K = mixed_constants(constants=[p.K_per_um for p in paints], shares=shares)
    S = mixed_constants(constants=[p.S_per_um for p in paints], shares=shares)
    return opaque(K, S, sheen=0.0)


def hides_at_um(paint: Paint) -> float:
    return swatch_card(paint).hides_at_um


# --- The files ----------------------------------------------------------------------------------


def test_the_files_are_exactly_what_the_generator_writes(tmp_path: Path) -> None:
    generator().write_shelf(tmp_path)
    assert [path.name for path in sorted(tmp_path.iterdir())] == [path.name for path in FILES]
    for path in FILES:
        assert path.read_bytes() == (tmp_path / path.name).read_bytes(), path.name


def test_the_shelf_is_complete() -> None:
    assert len(shelf()) == len(FILES) >= 30  # names are unique
    assert not set(WANTED) - set(shelf())
    assert {paint.kind for paint in shelf().values()} == set(KINDS)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_paint_says_what_it_is(path: Path) -> None:
    paint = read_paint(path)
    assert slug(paint.name) == path.stem
    assert paint.name == paint.name.lower()
    assert paint.invented
    assert paint.provenance.startswith("invented, measured by nobody")
    assert len(paint.doubts) >= 2
    for doubt in paint.doubts:
        assert doubt.cause.endswith("(size assumed)")
        shift = max(np.abs([*doubt.log_K, *doubt.log_S, doubt.log_cover, doubt.log_tilt]))
        assert 0.02 < shift < np.log(2.0), doubt.cause  # it says something, and less than a factor of two


# --- The liquid (common practice, no source) ------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "solids", "dry_um"),
    [
        ("paint", (0.15, 0.35), (1.0, 4.0)),
        ("metal", (0.15, 0.35), (3.0, 6.0)),
        ("primer", (0.12, 0.35), (2.0, 10.0)),
        ("ink", (0.08, 0.20), (0.5, 1.5)),
        ("wash", (0.03, 0.10), (0.5, 1.5)),
        ("medium", (0.12, 0.35), (1.0, 10.0)),
        ("varnish", (0.12, 0.35), (2.0, 10.0)),
    ],
)
def test_solids_and_films_are_the_trades(
    kind: str, solids: tuple[float, float], dry_um: tuple[float, float]
) -> None:
    for paint in of_kind(kind):
        assert solids[0] <= paint.volume_solids <= solids[1], paint.name
        assert dry_um[0] <= paint.dry_film_um <= dry_um[1], paint.name
        assert paint.sheen in SHEENS.values(), paint.name


# --- White ----------------------------------------------------------------------------------------


def test_titanium_white_is_white_and_scatters_most() -> None:
    white = shelf()["titanium white"]
    # Specular included; good titanium whites measure some 85 to 92 % (from memory).
    assert 0.85 <= float(masstone(white, sheen=1.0) @ Y) <= 0.92
    assert lch(lab(masstone(white), VIEWING))[1] < 3.0
    for other in shelf().values():
        assert other is white or (other.S_per_um < white.S_per_um).all(), other.name


def test_titanium_white_hides_as_handbooks_say() -> None:
    # As an instrument sees the film through its surface, over black and over a white of Y = 80 %
    # (ISO 6504-1, ASTM D2805): white paints of 15 to 20 % rutile by volume want 40 to 75 µm (from memory).
    white = shelf()["titanium white"]
    X = np.linspace(1.0, 150.0, 300)
    coats = X / white.dry_film_um
    white_ground = internal_from_seen(0.80, sheen=1.0)
    over_black, over_white = (
        np.array([seen(inside(white, coats=n, ground=ground), sheen=1.0) @ Y for n in coats])
        for ground in (0.0, white_ground)
    )
    assert 40.0 <= X[np.argmax(over_black / over_white >= 0.98)] <= 75.0
    # Without the specular, as `layersim paint` says it, a ratio needs a somewhat thicker film.
    assert X[np.argmax(over_black / over_white >= 0.98)] < swatch_card(white).hides_at_um < 80.0
    # Four sprayed coats do not hide.
    assert 0.65 < swatch_card(white).contrast[2] < 0.95


def test_thin_white_over_black_is_bluish_and_thick_white_is_not() -> None:
    # Small particles scatter blue more: every painter's white over black dries cold (common practice).
    white = shelf()["airbrush white"]
    b = [lab(seen(inside(white, coats=n, ground=0.0), sheen=1.0), VIEWING)[2] for n in (1, 4, 40)]
    assert -10.0 < b[0] < -3.0
    assert b[0] < b[1] < b[2]
    assert 0.0 < b[2] < 3.0


def mie(index_ratio: complex, size: float) -> tuple[float, float]:
    """Scattering efficiency and asymmetry of a sphere: C. F. Bohren and D. R. Huffman, Absorption and
    Scattering of Light by Small Particles (1983), equations 4.53, 4.61 and section 4.5, term by term."""
    n = np.arange(1, int(size + 4.0 * size ** (1 / 3) + 12.0))
    x, z = size, index_ratio * size
    psi = x * spherical_jn(n, x)
    dpsi = spherical_jn(n, x) + x * spherical_jn(n, x, derivative=True)
    h = spherical_jn(n, x) + 1j * spherical_yn(n, x)
    dh = spherical_jn(n, x, derivative=True) + 1j * spherical_yn(n, x, derivative=True)
    xi, dxi = x * h, h + x * dh
    psi_z = z * spherical_jn(n, z)
    dpsi_z = spherical_jn(n, z) + z * spherical_jn(n, z, derivative=True)
    a = (index_ratio * psi_z * dpsi - psi * dpsi_z) / (index_ratio * psi_z * dxi - xi * dpsi_z)
    b = (psi_z * dpsi - index_ratio * psi * dpsi_z) / (psi_z * dxi - index_ratio * xi * dpsi_z)
    Q = 2.0 / x**2 * ((2 * n + 1) * (np.abs(a) ** 2 + np.abs(b) ** 2)).sum()
    pairs = (a[:-1] * a[1:].conj() + b[:-1] * b[1:].conj()).real
    m = n[:-1]
    along = (m * (m + 2) / (m + 1) * pairs).sum() + ((2 * n + 1) / (n * (n + 1)) * (a * b.conj()).real).sum()
    return float(Q), float(4.0 / x**2 * along / Q)


def rutile_alone_per_um(um: float) -> float:
    """S = ¾ μs (1 − g) (Gate 1974) per share of rutile, were each particle alone in a binder of n = 1.5."""
    # J. R. Devore, J. Opt. Soc. Am. 41 (1951) 416: rutile's two indices; the ordinary counts twice.
    ordinary = np.sqrt(5.913 + 0.2441 / (um**2 - 0.0803))
    index = (2.0 * ordinary + np.sqrt(7.197 + 0.3322 / (um**2 - 0.0843))) / 3.0
    diameters = np.geomspace(0.10, 0.50, 25)
    numbers = np.exp(-0.5 * (np.log(diameters / 0.22) / np.log(1.35)) ** 2)  # pigment grade (from memory)
    reduced = 0.0
    for d, count in zip(diameters, numbers, strict=True):
        Q, g = mie(index / 1.5, np.pi * d * 1.5 / um)
        reduced += count * Q * (1.0 - g) * np.pi * d**2 / 4.0
    return float(0.75 * reduced / (numbers * np.pi * diameters**3 / 6.0).sum())


def test_titanium_white_scatters_less_than_its_particles_would_alone() -> None:
    # Bohren and Huffman's own worked example, appendix A: Q = 3.1054, g = 0.63314.
    assert mie(1.55, 5.21282) == pytest.approx((3.1054, 0.63314), abs=2e-4)
    white = shelf()["titanium white"]
    alone = 0.18 * rutile_alone_per_um(0.55)
    # Crowded and clustered, paints keep a part of it only: a fifth to a half (from memory).
    assert 0.20 < white.S_per_um[AT_550] / alone < 0.50
    power = np.log(white.S_per_um[5] / white.S_per_um[25]) / np.log(650.0 / 450.0)
    lone_power = np.log(rutile_alone_per_um(0.45) / rutile_alone_per_um(0.65)) / np.log(650.0 / 450.0)
    assert 0.3 < power < lone_power  # clusters are larger, so their scattering falls less steeply


# --- Black ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["carbon black", "black primer", "black ink"])
def test_black_is_black_and_hides_thin(name: str) -> None:
    black = shelf()[name]
    assert (
        float(masstone(black, sheen=1.0) @ Y) < 0.06
    )  # a matt black paint returns some 4 to 6 % (from memory)
    assert lch(lab(masstone(black), VIEWING))[1] < 2.0
    assert hides_at_um(black) < 12.0  # without the specular, the strictest way to ask


def test_carbon_black_absorbs_as_soot_so_fine_can() -> None:
    # Particles far below the wavelength: α = 6π (n/λ) Im((m²−1)/(m²+2)) per share (Bohren and Huffman
    # equation 5.11), m = (1.95 + 0.79i)/1.5 (T. C. Bond and R. W. Bergstrom, Aerosol Sci. Technol. 40
    # (2006) 27, from memory), K = 2α.
    m2 = ((1.95 + 0.79j) / 1.5) ** 2
    bound = 2.0 * 6.0 * np.pi * 1.5 / 0.55 * ((m2 - 1.0) / (m2 + 2.0)).imag * 0.05
    assert 0.4 * bound < shelf()["carbon black"].K_per_um[AT_550] < bound


# --- Colours --------------------------------------------------------------------------------------

# The patch of the 24-patch chart, measured spectra in colour-science, that shares each paint's hue.
MASSTONE_LIKE = {
    "warm yellow": "yellow",
    "brass yellow": "orange yellow",
    "yellow ochre": "orange yellow",
    "bright orange": "orange",
    "rust orange": "orange",
    "warm red": "red",
    "crimson": "moderate red",
    "violet": "purple",
    "ultramarine blue": "blue",
    "phthalo blue": "blue",
    "navy blue": "purplish blue",
    "sky blue": "blue sky",
    "pale blue grey": "blue sky",
    "turquoise": "bluish green",
    "deep teal": "bluish green",
    "phthalo green": "bluish green",
    "olive green": "foliage",
    "burnt sienna": "dark skin",
    "raw umber": "dark skin",
    "burnt umber": "dark skin",
    "leather brown": "dark skin",
    "warm beige": "light skin",
    "bone": "yellow",
}
OVER_WHITE_LIKE = {
    "yellow ink": "yellow",
    "magenta ink": "magenta",
    "blue ink": "blue sky",
    "sepia ink": "dark skin",
    "brown wash": "dark skin",
    "blue violet wash": "purplish blue",
    "violet glaze": "purple",
    "oil wash dark brown": "dark skin",
}
GREYS = {"neutral grey", "warm grey", "grey primer"}


@functools.cache
def chart_hues() -> dict[str, float]:
    with np.printoptions():
        import colour
    chart = colour.SDS_COLOURCHECKERS["ISO 17321-1"]
    shape = colour.SpectralShape(400, 700, 10)
    return {name: lch(lab(sd.copy().align(shape).values, VIEWING))[2] for name, sd in chart.items()}


def apart(first: float, second: float) -> float:
    return abs((first - second + 180.0) % 360.0 - 180.0)


@pytest.mark.parametrize("name", MASSTONE_LIKE)
def test_masstone_has_its_names_hue(name: str) -> None:
    _, chroma, hue = lch(lab(masstone(shelf()[name]), VIEWING))
    assert apart(hue, chart_hues()[MASSTONE_LIKE[name]]) < 25.0
    assert chroma > 7.0


@pytest.mark.parametrize("name", OVER_WHITE_LIKE)
def test_two_coats_over_white_have_their_names_hue(name: str) -> None:
    paint = shelf()[name]
    _, chroma, hue = lch(lab(seen(inside(paint, coats=2, ground=WHITE), sheen=paint.sheen), VIEWING))
    assert apart(hue, chart_hues()[OVER_WHITE_LIKE[name]]) < 25.0
    assert chroma > 15.0


def test_every_colour_is_checked() -> None:
    colourless = GREYS | {p.name for p in of_kind("medium", "varnish", "metal")}
    colourless |= {name for name in shelf() if name.split()[-1] in ("white", "black")}
    colourless |= {"white primer", "black primer", "black ink", "black wash"}
    assert set(MASSTONE_LIKE) | set(OVER_WHITE_LIKE) | colourless == set(shelf())


def test_greys_are_grey() -> None:
    for name in ("neutral grey", "grey primer"):
        L, chroma, _ = lch(lab(masstone(shelf()[name]), VIEWING))
        assert 45.0 < L < 60.0, name
        assert chroma < 2.5, name
    _, chroma, hue = lch(lab(masstone(shelf()["warm grey"]), VIEWING))
    assert 3.0 < chroma < 12.0
    assert 40.0 < hue < 100.0


def test_no_masstone_is_stronger_than_real_surfaces() -> None:
    # M. R. Pointer, Color Res. Appl. 5 (1980) 145: the gamut of real surface colours, given for
    # illuminant C between L* 15 and 90; here through L*a*b* relative to each white.
    with np.printoptions():
        import colour
    white_C = np.array([98.074, 100.0, 118.232])
    seen_labs = {p.name: lab(masstone(p), VIEWING) for p in of_kind("paint", "primer")}
    middle = {name: values for name, values in seen_labs.items() if 15.0 < values[0] < 90.0}
    assert len(middle) >= 25

    names, labs = list(middle), np.array(list(middle.values()))
    # All in one call: the library builds its solid anew at each.
    both = np.concatenate([labs, labs * [1.0, 2.0, 2.0]])
    real = colour.is_within_pointer_gamut(xyz_from_lab(both, white_C) / 100.0)
    assert real[: len(names)].all()
    doubled = {name for name, within in zip(names, real[len(names) :], strict=True) if not within}
    assert {"warm yellow", "warm red", "ultramarine blue"} <= doubled  # the check has teeth


@pytest.mark.parametrize(
    ("pigment", "low_nm", "high_nm"),
    [
        ("arylide yellow", 490, 520),
        ("perinone orange", 550, 580),
        ("yellow iron oxide", 540, 575),
        ("red iron oxide", 575, 605),
        ("pyrrole red", 590, 612),
    ],
)
def test_opaque_films_turn_light_where_their_pigments_do(pigment: str, low_nm: float, high_nm: float) -> None:
    # Where reflectance crosses the middle between its least and its value at 700 nm (from memory).
    one = generator().PIGMENTS[pigment]
    R = opaque(one.absorption(), one.scattering(), sheen=0.0)
    middle = 0.5 * (R.min() + R[-1])
    last = int(np.flatnonzero(middle > R)[-1])
    assert low_nm < np.interp(middle, R[last : last + 2], wavelengths_nm()[last : last + 2]) < high_nm


@pytest.mark.parametrize(
    ("pigment", "low_nm", "high_nm"),
    [
        ("ultramarine", 590, 610),
        ("phthalocyanine blue", 600, 720),
        ("phthalocyanine green", 630, 720),
        ("quinacridone magenta", 520, 570),
        ("dioxazine violet", 520, 630),
    ],
)
def test_pigments_absorb_most_where_handbooks_have_their_peaks(
    pigment: str, low_nm: float, high_nm: float
) -> None:
    # From memory.
    K = generator().PIGMENTS[pigment].absorption()
    assert low_nm <= wavelengths_nm()[np.argmax(K)] <= high_nm


def test_organic_colours_hide_less_than_iron_oxides_of_like_hue() -> None:
    # Common practice: arylide yellows and pyrrole reds want many coats, ochres and siennas few.
    paints = shelf()
    assert hides_at_um(paints["warm yellow"]) > 1.4 * hides_at_um(paints["yellow ochre"])
    assert hides_at_um(paints["warm red"]) > 1.4 * hides_at_um(paints["burnt sienna"])
    assert hides_at_um(paints["raw umber"]) < hides_at_um(paints["yellow ochre"])


def test_blue_and_yellow_make_green() -> None:
    for blue in ("phthalo blue", "ultramarine blue"):
        _, chroma, hue = lch(lab(mix({"warm yellow": 6.0, blue: 1.0}), VIEWING))
        assert 100.0 < hue < 200.0, blue
        assert chroma > 5.0, blue


@pytest.mark.parametrize("name", sorted(set(MASSTONE_LIKE) - {"bone", "warm beige"}))
def test_white_lightens_every_colour(name: str) -> None:
    L = [lab(mix({name: 1.0, "titanium white": parts}), VIEWING)[0] for parts in (0.0, 0.5, 2.0, 8.0)]
    assert (np.diff(L) > 1.0).all()


# --- Metals ---------------------------------------------------------------------------------------

METALS = sorted(paint.name for paint in of_kind("metal"))


@functools.cache
def metal(name: str, *, coats: int = 2, ground: str = "black primer") -> AreaPrediction:
    """Coats of a metal paint, seen at 15, 45 and 110 degrees from the mirror direction (ASTM E2194)."""
    coat = Coat("coat", Mix(((shelf()[name], 1.0),)), coats=coats, dry_film_um=3.6, spread=0.15)
    [seen] = simulate(Scheme("test", (Area("x", shelf()[ground], None, (coat,)),)), tones=2, draws=0).areas
    return seen


def metal_labs(name: str) -> FloatArray:
    """L*a*b* at the three angles, (3, 3)."""
    return np.array([angle.lab[-1, 0] for angle in metal(name).angles])


@pytest.mark.parametrize("name", METALS)
def test_two_coats_of_a_metal_hide(name: str) -> None:
    # Flakes lie over each other like tiles (common practice, no source).
    labs = [metal(name, ground=ground).lab[-1, 0] for ground in ("black primer", "white primer")]
    assert delta_e_2000(*labs) < 1.5


@pytest.mark.parametrize("name", METALS)
def test_metals_flop_but_less_than_those_for_cars(name: str) -> None:
    # 0 is a solid colour, 15 to 17 the strongest metallics of cars (paint makers' glossaries, from memory).
    # What a hand sprays in water lies less flat than what is sprayed wet and sinks for minutes.
    flop = metal(name).flop_index
    assert flop is not None
    assert 3.0 < flop[-1, 0] < 15.0
    L = metal_labs(name)[:, 0]
    assert L[0] > L[1] > L[2]


def test_aluminium_is_brighter_than_a_white_towards_the_mirror_direction() -> None:
    near, turned, far = metal_labs("bright aluminium")
    # Silver metallics of cars: L* 120 to 150, 60 to 85, 30 to 55 (from memory).
    assert 120.0 < near[0] < 150.0
    assert 60.0 < turned[0] < 90.0
    assert 30.0 < far[0] < 60.0
    assert np.hypot(*turned[1:]) < 3.0


def test_metals_are_as_light_as_their_names() -> None:
    L = {name: metal_labs(name)[1, 0] for name in METALS}
    assert L["black metal base"] < L["dark steel"] < min(L["copper"], L["old brass"]) < L["pale rose metal"]
    assert L["pale rose metal"] < L["bright aluminium"]
    assert 30.0 < L["dark steel"] < 50.0
    assert L["black metal base"] < 45.0


@pytest.mark.parametrize(
    ("name", "hue", "chroma"),
    [
        ("old brass", (75.0, 95.0), (25.0, 50.0)),
        ("copper", (40.0, 60.0), (25.0, 50.0)),
        ("pale rose metal", (20.0, 55.0), (8.0, 20.0)),
    ],
)
def test_metals_have_their_names_hue(
    name: str, hue: tuple[float, float], chroma: tuple[float, float]
) -> None:
    _, found_chroma, found_hue = lch(metal_labs(name)[1])
    assert hue[0] < found_hue < hue[1]
    assert chroma[0] < found_chroma < chroma[1]


def test_steel_is_a_cold_grey() -> None:
    _, a, b = metal_labs("dark steel")[1]
    assert np.hypot(a, b) < 3.0
    assert b < 1.0


# --- Inks, washes, clears -------------------------------------------------------------------------


@pytest.mark.parametrize("paint", of_kind("ink"), ids=lambda paint: paint.name)
def test_inks_absorb_strongly_and_hardly_scatter(paint: Paint) -> None:
    assert 0.3 <= paint.K_per_um.max() <= 1.5
    assert paint.S_per_um.max() < 0.02 * paint.K_per_um.max()
    assert float(inside(paint, coats=4, ground=0.0) @ Y) < 0.025  # over black it shows almost nothing
    # Two coats take a good half of some band off a white.
    assert inside(paint, coats=2, ground=WHITE).min() < 0.1


@pytest.mark.parametrize("paint", of_kind("wash"), ids=lambda paint: paint.name)
def test_washes_are_weak(paint: Paint) -> None:
    depth = paint.K_per_um.max() * paint.dry_film_um
    weakest_ink = min(ink.K_per_um.max() * ink.dry_film_um for ink in of_kind("ink"))
    assert 0.1 < depth < 0.75 * weakest_ink
    assert float(inside(paint, coats=1, ground=WHITE) @ Y) > 0.3 * WHITE
    assert float(inside(paint, coats=4, ground=0.0) @ Y) < 0.025


@pytest.mark.parametrize(
    ("name", "over_black", "over_white"),
    [
        ("gloss varnish", (0.0, 0.3), (0.0, 0.3)),
        ("glaze medium", (0.0, 0.3), (0.0, 0.3)),
        ("satin varnish", (0.05, 1.0), (0.0, 1.0)),
        ("matt varnish", (0.3, 3.0), (0.0, 1.0)),
    ],
)
def test_clear_coats_hardly_show(
    name: str, over_black: tuple[float, float], over_white: tuple[float, float]
) -> None:
    # At one and the same sheen: what the film itself does. Its change of the surface comes on top.
    paint = shelf()[name]
    for ground, (low, high) in ((BLACK, over_black), (WHITE, over_white)):
        bare = lab(seen(np.full(31, ground), sheen=paint.sheen), VIEWING)
        coated = lab(seen(inside(paint, coats=1, ground=ground), sheen=paint.sheen), VIEWING)
        assert low <= float(delta_e_2000(bare, coated)) < high, ground


def test_varnishes_have_their_sheens() -> None:
    for word, share in SHEENS.items():
        assert shelf()[f"{word} varnish"].sheen == share
