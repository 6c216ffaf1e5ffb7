"""Write data/paints/*.toml: the starter shelf, invented but plausible paints made from pigment features.

Nobody measured these paints. Each is a recipe, pigments by their share of the dry film, and each
pigment is a handful of features: bands and edges where it absorbs, a grey floor, and how strongly
it scatters. With cᵢ the shares and λ in nm,

    kᵢ(λ) = fᵢ + Σ h exp(−½ ((λ − λ₀)/w)²) + Σ h / (1 + exp((λ − λ₀)/w))
    sᵢ(λ) = s₅₅₀ (550 nm / λ)^p
    K = Σ cᵢ kᵢ,  S = Σ cᵢ sᵢ                     D. R. Duncan, Proc. Phys. Soc. 52 (1940) 390

where kᵢ and sᵢ are what a film of nothing but the pigment would have, so they are slopes for the
loadings paints have, not constants of the solid. Where the features come from, all from memory:

- bands: the absorption spectra of the pigments named (phthalocyanine blue near 620 and 700 nm,
  ultramarine near 600, quinacridone near 530 and 565, dioxazine from 530 to 625, rutile below 400);
- edges: λ₀ is where K has fallen to half. An opaque film turns light two to six widths further to
  the red, and there handbooks of pigments have it: arylide yellow near 510 nm, perinone orange near
  565, pyrrole red near 600, yellow iron oxide near 550, red iron oxide near 590;
- rutile's scattering: from hiding, 40 to 75 µm of dry film at 15 to 20 % pigment by volume. Mie's
  theory gives some four times as much for particles that stand alone; in a paint they crowd and
  cluster, and for the same reason S falls with wavelength a little less than Mie's power of 1;
- carbon black's absorption: particles far smaller than the wavelength, of which 4 to 6 % hide at a
  few micrometres;
- flakes: shares of the film as other pigments', and as thick as fine flakes are ground, 0.1 to 0.4 µm; a
  share of thickness t covers share/t of the film for every µm of it. Their tilt is some degrees, more than in
  paints for cars;
- other strengths: set so that opaque films look as masstones of these pigments do, and so that
  organic colours are as transparent as the trade finds them.

Volume solids, films and sheen are common practice, no source. The sizes of the doubts are
assumptions. Run from the top of the tree:

    python data/generate/starter_paints.py
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from layersim.names import slug
from layersim.optics.surface import SHEENS
from layersim.paint import Doubt, Flakes, Paint
from layersim.paintfile import write_paint
from layersim.spectra import FloatArray, wavelengths_nm

SHELF = Path(__file__).parents[1] / "paints"

# The sizes of the doubts, one standard deviation each: assumptions, no source (see also Pigment).
SHADE_NM = 3.0  # a pigment's bands and edges lie this much further to the red
LEAST_SHADE = 0.02  # where such a shift changes K by less at every wavelength, as in a black, it is left out
LOAD_SPREAD = {
    "paint": 0.10,
    "metal": 0.10,
    "primer": 0.10,
    "ink": 0.10,
    "wash": 0.20,
    "medium": 0.30,
    "varnish": 0.30,
}
COVER_SPREAD = 0.20  # of the flakes, which are the first to settle in a bottle
TILT_SPREAD = 0.25  # dry spray leaves flakes standing, a wet coat lays them flat
YELLOWING_PER_UM = 2e-5  # absorption at 400 nm that age or a warm shelf adds to a clear binder

# Inks and washes are made with transparent grades, ground so fine that little scattering is left.
SCATTERING_LEFT = {"ink": 0.05, "wash": 0.20}


@dataclass(frozen=True)
class Band:
    """An absorption band: a Gaussian of standard deviation `width_nm`, `height` per µm of pigment."""

    nm: float
    width_nm: float
    height: float

    def at(self, nm: FloatArray) -> FloatArray:
        """Return the absorption at some wavelengths."""
        return np.asarray(self.height * np.exp(-0.5 * ((nm - self.nm) / self.width_nm) ** 2))


@dataclass(frozen=True)
class Edge:
    """Absorption of everything shorter than `nm`: a logistic curve whose slope spans `width_nm`."""

    nm: float
    width_nm: float
    height: float

    def at(self, nm: FloatArray) -> FloatArray:
        """Return the absorption at some wavelengths."""
        return np.asarray(self.height / (1.0 + np.exp((nm - self.nm) / self.width_nm)))


@dataclass(frozen=True)
class Pigment:
    """What a pigment does to light, per µm of pigment alone.

    `finer_K` and `finer_S` are how much more it absorbs and scatters when spread one standard
    deviation more finely (an assumption): lumps of a white become more scatterers, while an
    organic colour ground finer colours more and scatters less.
    """

    absorbs: tuple[Band | Edge, ...]
    floor: float
    scatters: float
    power: float
    finer_K: float
    finer_S: float

    def absorption(self, *, shift_nm: float = 0.0) -> FloatArray:
        """Return absorption per µm of pigment, features moved to the red by `shift_nm`."""
        nm = wavelengths_nm() - shift_nm
        return np.asarray(self.floor + sum((feature.at(nm) for feature in self.absorbs), np.zeros_like(nm)))

    def scattering(self) -> FloatArray:
        """Return scattering per µm of pigment."""
        return np.asarray(self.scatters * (550.0 / wavelengths_nm()) ** self.power)


def mineral(*absorbs: Band | Edge, floor: float, scatters: float, power: float) -> Pigment:
    """Return a pigment that scatters by itself: finer means more of both."""
    return Pigment(absorbs, floor, scatters, power, finer_K=0.05, finer_S=0.08)


def organic(*absorbs: Band | Edge, floor: float, scatters: float, power: float) -> Pigment:
    """Return a pigment that is strong and nearly clear: finer means more colour, less scattering."""
    return Pigment(absorbs, floor, scatters, power, finer_K=0.08, finer_S=-0.15)


PIGMENTS = {
    "rutile": mineral(Edge(397, 6, 0.9), floor=0.0020, scatters=1.7, power=0.7),
    "carbon black": Pigment((Edge(500, 120, 5.0),), 19.0, 0.45, 1.5, finer_K=0.08, finer_S=-0.15),
    "phthalocyanine blue": organic(
        Band(615, 36, 15.0),
        Band(695, 40, 15.0),
        Band(570, 35, 4.0),
        Edge(405, 14, 5.0),
        floor=0.18,
        scatters=0.55,
        power=2.0,
    ),
    "phthalocyanine green": organic(
        Band(640, 40, 14.0),
        Band(720, 45, 11.0),
        Edge(440, 18, 8.0),
        floor=0.35,
        scatters=0.5,
        power=1.5,
    ),
    "ultramarine": mineral(
        Band(600, 46, 2.4),
        Band(540, 40, 0.8),
        Band(660, 45, 0.9),
        Edge(385, 15, 0.6),
        floor=0.03,
        scatters=0.16,
        power=2.0,
    ),
    "dioxazine violet": organic(
        Band(530, 32, 10.0),
        Band(575, 30, 12.0),
        Band(625, 26, 10.0),
        Edge(385, 20, 4.0),
        floor=0.6,
        scatters=0.6,
        power=2.0,
    ),
    "quinacridone magenta": organic(
        Band(530, 24, 9.0),
        Band(566, 15, 7.0),
        Band(490, 30, 3.5),
        Edge(390, 20, 2.0),
        floor=0.07,
        scatters=0.45,
        power=1.0,
    ),
    "pyrrole red": organic(
        Edge(564, 7, 7.0), Band(552, 20, 3.0), Edge(450, 30, 2.0), floor=0.015, scatters=0.85, power=0.3
    ),
    "perinone orange": organic(Edge(530, 9, 6.0), Edge(450, 30, 2.0), floor=0.02, scatters=0.9, power=0.3),
    "arylide yellow": organic(Edge(480, 9, 6.0), floor=0.012, scatters=0.8, power=0.3),
    "yellow iron oxide": mineral(
        Edge(490, 22, 3.0), Band(650, 45, 0.05), floor=0.05, scatters=0.8, power=0.3
    ),
    "red iron oxide": mineral(
        Edge(560, 11, 4.5), Edge(470, 35, 4.5), Band(640, 40, 0.3), floor=0.25, scatters=0.9, power=0.1
    ),
    "burnt umber earth": mineral(
        Edge(560, 36, 3.0), Edge(460, 35, 2.5), floor=0.45, scatters=0.35, power=0.2
    ),
    "raw umber earth": mineral(Edge(520, 45, 2.4), Edge(450, 35, 2.5), floor=0.55, scatters=0.35, power=0.2),
    "matting silica": Pigment((), 0.0005, 0.12, 1.2, finer_K=0.0, finer_S=0.15),
    "binder": Pigment((Edge(400, 15, 4e-5),), 1e-5, 4e-5, 2.0, finer_K=0.0, finer_S=0.15),
}
"""Pigments, matting silica and, for the clear products, the haze of the binder itself."""


@dataclass(frozen=True)
class Leaves:
    """The flakes of one metal, by share of the dry film."""

    metal: str
    share: float
    thickness_um: float
    tilt_deg: float
    rough: float

    def flakes(self) -> Flakes:
        """Return what they do in a film."""
        cover = round(self.share / self.thickness_um, 3)
        return Flakes(self.metal, cover_per_um=cover, tilt_deg=self.tilt_deg, rough=self.rough)


@dataclass(frozen=True)
class Recipe:
    """One product: its pigments by share of the dry film, and how it comes out of the bottle."""

    name: str
    kind: str
    shares: dict[str, float]
    volume_solids: float
    wet_film_um: float
    sheen: str
    note: str = ""
    carrier: str = "water"
    leaves: Leaves | None = None

    def paint(self) -> Paint:
        """Return the paint, with its doubts."""
        K, S = self._absorption(), self._scattering()
        shares = self.shares | ({f"{self.leaves.metal} flakes": self.leaves.share} if self.leaves else {})
        listed = ", ".join(f"{name} {share * 100:.4g} %" for name, share in shares.items())
        return Paint(
            name=self.name,
            kind=self.kind,
            K_per_um=K,
            S_per_um=S,
            volume_solids=self.volume_solids,
            wet_film_um=self.wet_film_um,
            sheen=SHEENS[self.sheen],
            provenance="invented, measured by nobody: computed from pigment features by "
            f"data/generate/starter_paints.py; share of the dry film: {listed}",
            invented=True,
            note=self.note,
            carrier=self.carrier,
            flakes=self.leaves and self.leaves.flakes(),
            doubts=tuple(self._doubts(K, S)),
        )

    def _absorption(self, *, finer: bool = False, shift_nm: float = 0.0) -> FloatArray:
        pigments = [(share, PIGMENTS[name]) for name, share in self.shares.items()]
        return np.asarray(
            sum(c * p.absorption(shift_nm=shift_nm) * (1.0 + finer * p.finer_K) for c, p in pigments)
        )

    def _scattering(self, *, finer: bool = False) -> FloatArray:
        pigments = [(share, PIGMENTS[name]) for name, share in self.shares.items()]
        total = sum(c * p.scattering() * (1.0 + finer * p.finer_S) for c, p in pigments)
        return np.asarray(SCATTERING_LEFT.get(self.kind, 1.0) * total)

    def _doubts(self, K: FloatArray, S: FloatArray) -> list[Doubt]:
        one = np.ones_like(K)
        load = (1.0 + LOAD_SPREAD[self.kind]) * one
        finer = (self._absorption(finer=True) / K, self._scattering(finer=True) / S)
        of_flakes = [
            _doubt("flakes that settled, from bottle to bottle", one, one, log_cover=np.log1p(COVER_SPREAD)),
            _doubt("how flat the flakes lie", one, one, log_tilt=np.log1p(TILT_SPREAD)),
        ]
        if self.kind in ("medium", "varnish"):
            yellow = YELLOWING_PER_UM * np.exp((400.0 - wavelengths_nm()) / 50.0)
            return [
                _doubt("clarity of the binder from bottle to bottle", load, load),
                _doubt("how finely the solids are spread", *finer),
                _doubt("yellowing with age", 1.0 + yellow / K, one),
            ]
        doubts = [
            _doubt("pigment load from bottle to bottle", load, load),
            _doubt("how finely the pigment is spread", *finer),
        ]
        shade = self._absorption(shift_nm=SHADE_NM) / K
        if np.abs(shade - 1.0).max() > LEAST_SHADE:
            doubts.append(_doubt(f"the pigments' own shade, {SHADE_NM:g} nm to the red", shade, one))
        return doubts + (of_flakes if self.leaves else [])


def _doubt(
    cause: str, K_ratio: FloatArray, S_ratio: FloatArray, *, log_cover: float = 0.0, log_tilt: float = 0.0
) -> Doubt:
    # To a thousandth of a percent: below that only rounding differs, from one processor to another.
    return Doubt(
        cause=f"{cause} (size assumed)",
        log_K=np.log(K_ratio.round(5)),
        log_S=np.log(S_ratio.round(5)),
        log_cover=round(float(log_cover), 5),
        log_tilt=round(float(log_tilt), 5),
    )


MATT = {"matting silica": 0.06}
WHITE_NOTE = "for a preshade over black, thin with 3 to 4 drops to 1 and build it up in passes"
METAL_NOTE = "flakes settle: shake it long, and stir the cup; a nozzle of 0.3 mm or more"
INK_NOTE = "colours strongly and hides nothing: mix a drop into 5 of paint, or spray thin as a glaze"
WASH_NOTE = "made to settle in recesses; sprayed or brushed evenly it is a filter over everything"

RECIPES = (
    # Primers and undercoats.
    Recipe("white primer", "primer", {"rutile": 0.15, **MATT}, 0.24, 24, "matt"),
    Recipe(
        "grey primer",
        "primer",
        {"rutile": 0.10, "carbon black": 0.0042, "raw umber earth": 0.008, **MATT},
        0.24,
        24,
        "matt",
    ),
    Recipe("black primer", "primer", {"carbon black": 0.045, **MATT}, 0.24, 24, "matt"),
    # White, black, greys.
    Recipe("titanium white", "paint", {"rutile": 0.18}, 0.30, 12, "satin"),
    Recipe("airbrush white", "paint", {"rutile": 0.16, "matting silica": 0.03}, 0.20, 14, "matt", WHITE_NOTE),
    Recipe("carbon black", "paint", {"carbon black": 0.05, **MATT}, 0.24, 12, "matt"),
    Recipe(
        "neutral grey",
        "paint",
        {"rutile": 0.12, "carbon black": 0.0054, "raw umber earth": 0.012, **MATT},
        0.26,
        12,
        "matt",
    ),
    Recipe(
        "warm grey",
        "paint",
        {"rutile": 0.12, "carbon black": 0.003, "raw umber earth": 0.03, **MATT},
        0.26,
        12,
        "matt",
    ),
    Recipe(
        "pale blue grey",
        "paint",
        {"rutile": 0.14, "carbon black": 0.0006, "phthalocyanine blue": 0.0003, "ultramarine": 0.005, **MATT},
        0.26,
        12,
        "matt",
    ),
    # Yellows, oranges, reds.
    Recipe(
        "warm yellow",
        "paint",
        {"arylide yellow": 0.14, "perinone orange": 0.006, "rutile": 0.02},
        0.26,
        13,
        "satin",
    ),
    Recipe(
        "brass yellow",
        "paint",
        {"yellow iron oxide": 0.10, "arylide yellow": 0.05, "rutile": 0.02, **MATT},
        0.26,
        13,
        "matt",
        "a dull golden yellow without metal flakes",
    ),
    Recipe("bright orange", "paint", {"perinone orange": 0.13, "rutile": 0.006}, 0.26, 13, "satin"),
    Recipe(
        "rust orange",
        "paint",
        {"perinone orange": 0.07, "red iron oxide": 0.035, "yellow iron oxide": 0.03, **MATT},
        0.26,
        13,
        "matt",
    ),
    Recipe("warm red", "paint", {"pyrrole red": 0.12, "perinone orange": 0.02}, 0.26, 13, "satin"),
    Recipe(
        "crimson", "paint", {"quinacridone magenta": 0.08, "pyrrole red": 0.05, **MATT}, 0.26, 13, "satin"
    ),
    # Purple and blues.
    Recipe(
        "violet",
        "paint",
        {"dioxazine violet": 0.03, "quinacridone magenta": 0.03, "rutile": 0.04},
        0.26,
        13,
        "satin",
    ),
    Recipe("ultramarine blue", "paint", {"ultramarine": 0.22, "rutile": 0.006}, 0.28, 13, "satin"),
    Recipe("phthalo blue", "paint", {"phthalocyanine blue": 0.07, "rutile": 0.012}, 0.26, 13, "satin"),
    Recipe(
        "navy blue",
        "paint",
        {
            "ultramarine": 0.15,
            "phthalocyanine blue": 0.012,
            "carbon black": 0.004,
            "rutile": 0.010,
            "matting silica": 0.04,
        },
        0.26,
        13,
        "matt",
    ),
    Recipe("sky blue", "paint", {"rutile": 0.13, "phthalocyanine blue": 0.005, **MATT}, 0.26, 13, "matt"),
    # Teals and greens.
    Recipe(
        "turquoise",
        "paint",
        {"rutile": 0.11, "phthalocyanine green": 0.018, "phthalocyanine blue": 0.005, "matting silica": 0.03},
        0.26,
        13,
        "matt",
    ),
    Recipe(
        "deep teal",
        "paint",
        {"phthalocyanine green": 0.035, "phthalocyanine blue": 0.014, "rutile": 0.02, "matting silica": 0.03},
        0.26,
        13,
        "matt",
    ),
    Recipe(
        "phthalo green",
        "paint",
        {"phthalocyanine green": 0.06, "arylide yellow": 0.008, "rutile": 0.010},
        0.26,
        13,
        "satin",
    ),
    Recipe(
        "olive green",
        "paint",
        {
            "yellow iron oxide": 0.08,
            "arylide yellow": 0.05,
            "carbon black": 0.005,
            "phthalocyanine green": 0.002,
            **MATT,
        },
        0.28,
        12,
        "matt",
    ),
    # Earths, leather, beige, bone.
    Recipe("yellow ochre", "paint", {"yellow iron oxide": 0.16, **MATT}, 0.28, 12, "matt"),
    Recipe(
        "burnt sienna",
        "paint",
        {
            "red iron oxide": 0.055,
            "yellow iron oxide": 0.06,
            "burnt umber earth": 0.008,
            "matting silica": 0.03,
        },
        0.28,
        12,
        "matt",
    ),
    Recipe("raw umber", "paint", {"raw umber earth": 0.16, **MATT}, 0.28, 12, "matt"),
    Recipe("burnt umber", "paint", {"burnt umber earth": 0.16, **MATT}, 0.28, 12, "matt"),
    Recipe(
        "leather brown",
        "paint",
        {
            "burnt umber earth": 0.06,
            "red iron oxide": 0.02,
            "yellow iron oxide": 0.06,
            "rutile": 0.01,
            **MATT,
        },
        0.28,
        12,
        "matt",
    ),
    Recipe(
        "warm beige",
        "paint",
        {"rutile": 0.13, "red iron oxide": 0.007, "yellow iron oxide": 0.010, **MATT},
        0.26,
        12,
        "matt",
    ),
    Recipe(
        "bone",
        "paint",
        {"rutile": 0.14, "yellow iron oxide": 0.010, "raw umber earth": 0.003, **MATT},
        0.26,
        12,
        "matt",
    ),
    # Metals.
    Recipe(
        "black metal base",
        "metal",
        {"carbon black": 0.04, "ultramarine": 0.02, "binder": 0.86},
        0.24,
        14,
        "satin",
        METAL_NOTE,
        leaves=Leaves("iron", 0.05, 0.20, 8, 0.15),
    ),
    Recipe(
        "dark steel",
        "metal",
        {"carbon black": 0.024, "ultramarine": 0.03, "binder": 0.84},
        0.26,
        14,
        "satin",
        METAL_NOTE,
        leaves=Leaves("iron", 0.10, 0.20, 8, 0.15),
    ),
    Recipe(
        "bright aluminium",
        "metal",
        {"binder": 0.92},
        0.26,
        14,
        "satin",
        METAL_NOTE,
        leaves=Leaves("aluminium", 0.08, 0.12, 7, 0.10),
    ),
    Recipe(
        "old brass",
        "metal",
        {"raw umber earth": 0.10, "carbon black": 0.005, "binder": 0.80},
        0.26,
        14,
        "satin",
        METAL_NOTE,
        leaves=Leaves("brass", 0.10, 0.20, 9, 0.15),
    ),
    Recipe(
        "copper",
        "metal",
        {"burnt umber earth": 0.06, "red iron oxide": 0.010, "binder": 0.83},
        0.26,
        14,
        "satin",
        METAL_NOTE,
        leaves=Leaves("copper", 0.10, 0.20, 9, 0.15),
    ),
    Recipe(
        "pale rose metal",
        "metal",
        {"red iron oxide": 0.025, "quinacridone magenta": 0.005, "binder": 0.89},
        0.26,
        14,
        "satin",
        METAL_NOTE,
        leaves=Leaves("aluminium", 0.08, 0.12, 8, 0.10),
    ),
    # Inks.
    Recipe("yellow ink", "ink", {"arylide yellow": 0.16}, 0.12, 9, "satin", INK_NOTE),
    Recipe("magenta ink", "ink", {"quinacridone magenta": 0.10}, 0.12, 9, "satin", INK_NOTE),
    Recipe("blue ink", "ink", {"phthalocyanine blue": 0.065}, 0.12, 9, "satin", INK_NOTE),
    Recipe(
        "sepia ink", "ink", {"burnt umber earth": 0.18, "carbon black": 0.012}, 0.12, 9, "satin", INK_NOTE
    ),
    Recipe("black ink", "ink", {"carbon black": 0.05}, 0.12, 9, "satin", INK_NOTE),
    # Washes and filters.
    Recipe("brown wash", "wash", {"burnt umber earth": 0.10}, 0.06, 15, "satin", WASH_NOTE),
    Recipe("black wash", "wash", {"carbon black": 0.014}, 0.06, 15, "satin", WASH_NOTE),
    Recipe(
        "blue violet wash",
        "wash",
        {"phthalocyanine blue": 0.012, "dioxazine violet": 0.012},
        0.06,
        15,
        "satin",
        WASH_NOTE,
    ),
    Recipe(
        "violet glaze",
        "wash",
        {"dioxazine violet": 0.014, "quinacridone magenta": 0.01},
        0.06,
        12,
        "satin",
        "a filter: one or two thin passes, unthinned, over everything",
    ),
    Recipe(
        "oil wash dark brown",
        "wash",
        {"burnt umber earth": 0.14, "carbon black": 0.006},
        0.04,
        20,
        "satin",
        "sold ready thinned; give acrylics under it a day to dry, and it a day before varnish",
        carrier="oil",
    ),
    # Clear.
    Recipe(
        "glaze medium",
        "medium",
        {"binder": 1.0},
        0.25,
        12,
        "satin",
        "clear: makes a paint more transparent without thinning the film",
    ),
    Recipe("gloss varnish", "varnish", {"binder": 1.0}, 0.25, 20, "gloss"),
    Recipe("satin varnish", "varnish", {"binder": 0.985, "matting silica": 0.01}, 0.25, 20, "satin"),
    Recipe("matt varnish", "varnish", {"binder": 0.97, "matting silica": 0.03}, 0.25, 20, "matt"),
)


def write_shelf(folder: Path = SHELF) -> None:
    """Write every paint of the shelf into a folder, which is made if it is missing."""
    folder.mkdir(parents=True, exist_ok=True)
    for recipe in RECIPES:
        write_paint(recipe.paint(), folder / f"{slug(recipe.name)}.toml")


if __name__ == "__main__":
    write_shelf()
