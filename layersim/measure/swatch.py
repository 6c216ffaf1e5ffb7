"""Swatches: what was sprayed or brushed, over what, and the reflectance measured on it.

Records alone. How they are written down, and what is refused, is in
:mod:`layersim.measure.swatchfile`; what they say of a paint's K and S is for the fit, which also looks up
the paints that are given by name.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final, Literal

from layersim.documents import kinds
from layersim.documents.keys import Key
from layersim.documents.kinds import flag, number, special, text, word, words
from layersim.documents.table import Table
from layersim.errors import quoted
from layersim.measure.sheet import Specular
from layersim.metals import METALS
from layersim.paint import CARRIERS, HAZARDS, KINDS, SOLIDS, SOLIDS_WORDS, freeze_spectra, sheen
from layersim.spectra import FloatArray

THIS_PAINT: Final = "this paint"
"""Stands in a mix for the paint whose swatches these are."""

Laid = Literal["sprayed", "brushed"]
LAID: Final[tuple[Laid, ...]] = ("sprayed", "brushed")
"""How swatches were laid: a brush leaves films that vary more."""
SPECULAR: Final[tuple[Specular, ...]] = ("included", "excluded")
"""Whether the instrument saw the surface's mirror reflection."""


MOST_OWN_TEXT: Final = 3500
"""Letters in a note of swatches: a fit adds its own sentences, and a paint's note has an end, too."""
THINNEST_WET_UM: Final = 0.5
"""No coat of liquid is thinner than its pigment; a smaller number is in another unit."""

_LAID_WORDS: Final = {
    "sprayed": ("spray", "airbrush", "airbrushed", "by airbrush", "misted", "spray gun"),
    "brushed": ("brush", "by brush", "with a brush", "painted"),
}


def _laid(table: Table, key: str) -> str:
    """Return how the swatches were laid, by whichever word painters have for it."""
    said = table.text(key).casefold()
    for laid, meant in _LAID_WORDS.items():
        if said == laid or said in meant:
            return laid
    raise table.fault(key, quoted(said), " or ".join(f'"{laid}"' for laid in LAID))


@dataclass(frozen=True, eq=False, kw_only=True)
class OfPaint:
    """What swatches say of their paint, whatever they were looked at with."""

    paint: Annotated[
        str, Key(kinds.name(findable=True), "of the paint; the one that is fitted gets it", name="name")
    ]
    kind: Annotated[str, Key(word(KINDS), "what it is")] = "paint"
    volume_solids: Annotated[float, Key(SOLIDS, SOLIDS_WORDS)]
    wet_film_um: Annotated[
        float,
        Key(
            number(
                THINNEST_WET_UM,
                1000,
                expected=f"a number from {THINNEST_WET_UM:g} to 1000, in micrometres "
                "(thousandths of a millimetre)",
                unit="µm",
            ),
            "wet film of one coat",
        ),
    ]
    """Where only coats are counted, it sets the scale of thickness, and of K and S with it."""
    sheen: Annotated[float, Key(sheen(), "of the dry paint")]
    invented: Annotated[bool, Key(flag(), "true where nobody measured this")] = False
    provenance: Annotated[str, Key(text(MOST_OWN_TEXT), "who measured, when, with what")] = ""
    note: Annotated[str, Key(text(MOST_OWN_TEXT), "anything to know")] = ""
    carrier: Annotated[str, Key(word(CARRIERS), "what carries it until it dries, where that is known")] = ""
    hazards: Annotated[tuple[str, ...], Key(words(HAZARDS), "what must never become mist or dust")] = ()
    laid: Annotated[
        Laid,
        Key(
            special(_laid, '"sprayed" or "brushed"', LAID[0]),
            "how the swatches were laid: a brush is less even",
        ),
    ] = "sprayed"
    metal: Annotated[
        str, Key(word(tuple(METALS)), 'of the kind "metal": what its flakes are; without, the likeliest')
    ] = ""
    source: Path | None = None
    """The swatches file."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Ground:
    """What swatches were painted on, as thick as it may be: measured bare, or a primer known by name."""

    name: str
    reflectance: FloatArray | None = None
    """As measured, a fraction, shape (31,)."""
    noise: FloatArray | None = None
    """One standard deviation of it; there is one where the other is."""
    paint: str | None = None
    """Name of a paint on the shelf, instead of a measurement."""
    sheen: float = 1.0
    """Share of the surface's reflection that reached the eye off the bare ground, 0 (gloss) to 1 (matt); gone
    once it is painted over."""

    def __post_init__(self) -> None:
        if self.reflectance is not None:
            freeze_spectra(self, ("reflectance", "noise"))


@dataclass(frozen=True, eq=False, kw_only=True)
class Sprayed:
    """How one swatch was made, whatever it was then measured with."""

    name: str
    ground: str | None
    """Name of a ground; None only where the film is opaque and hides it."""
    parts: tuple[tuple[str, float], ...] = ((THIS_PAINT, 1.0),)
    """Paints by name, or :data:`THIS_PAINT`, and parts by volume of each (drops)."""
    thinning: float = 0.0
    """Parts of thinner to one part of the paints together."""
    thinning_said: bool = True
    """False where nobody said so, and none was taken for granted."""
    coats: float | None = None
    dry_film_um: float | None = None
    """Dry film of all coats together, where it is known."""
    opaque: bool = False
    """True where more coats would change nothing (masstone)."""
    note: str = ""

    @property
    def share(self) -> float:
        """Share of this paint among the parts, by volume of the liquids, 0..1."""
        return sum(p for name, p in self.parts if name == THIS_PAINT) / sum(p for _, p in self.parts)


@dataclass(frozen=True, eq=False, kw_only=True)
class Swatch(Sprayed):
    """One swatch and the spectrum measured on it.

    >>> swatch = Swatch(name="tint", ground="black", parts=(("this paint", 1.0), ("titanium white", 9.0)),
    ...                 coats=2, reflectance=0.6, noise=0.003)
    >>> swatch.share, swatch.reflectance.shape
    (0.1, (31,))
    """

    reflectance: FloatArray
    """As measured, shape (31,); :attr:`SwatchSet.specular` says whether the surface's own is in it."""
    noise: FloatArray
    """One standard deviation of it."""
    angle_deg: float | None = None
    """From the mirror direction, lit from 45°; None where nobody said it."""

    def __post_init__(self) -> None:
        freeze_spectra(self, ("reflectance", "noise"))


@dataclass(frozen=True, eq=False, kw_only=True)
class SwatchSet(OfPaint):
    """The swatches of one paint, measured, with all that a fit needs to know of it."""

    specular: Specular
    """Whether the instrument saw the surface's mirror reflection."""
    grounds: tuple[Ground, ...]
    swatches: tuple[Swatch, ...]
    notices: tuple[str, ...] = ()
    """What a user should know of how the spectra were read."""

    def surface_share(self, sheen: float) -> float:
        """Return the share σ of the first surface reflection that the instrument saw at some sheen.

        All of it where specular reflection is included. Where it is excluded, what a matt surface
        scatters past the mirror direction is seen still, and σ is the surface's sheen
        (:mod:`layersim.optics.surface`, S3).
        """
        return 1.0 if self.specular == "included" else sheen
