"""The record of one paint: what its dry film does to light, and how it comes out of the bottle."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any, Final

from layersim.documents import kinds
from layersim.documents.keys import Key, check_record
from layersim.documents.kinds import Kind, flag, number, text, word, words
from layersim.documents.spectrum import spectrum
from layersim.documents.table import Table
from layersim.metals import METALS
from layersim.optics.surface import SHEENS
from layersim.spectra import FloatArray, as_bands

METAL: Final = "metal"
"""The kind that has flakes."""
KINDS: Final = ("paint", METAL, "ink", "wash", "medium", "varnish", "primer")
"""Kinds of material; thinner needs no record, since it leaves nothing behind."""
CARRIERS: Final = ("water", "solvent", "oil", "two-pack")
"""What carries the pigment until it dries; it decides about mixing, thinner, drying and cautions."""
USUAL_REFLECTION: Final = 0.04
"""What a surface of binder of index 1.5 sends back of light that falls straight on it (Fresnel)."""
FIRST_REFLECTIONS: Final = (0.01, 0.1)
"""Ends of what a paint's surface may send back of light that falls straight on it: indices 1.22 to 1.92."""
HAZARDS: Final = ("cadmium", "cobalt", "lead", "chromate", "isocyanate")
"""What must never become mist or dust in a hobby room."""
FILM_BASES: Final = ("coats", "measured")
"""Films that were counted in coats, each taken to be as thick as the label says, or measured."""
NO_FLAKES: Final = 'a paint of the kind "metal" has [flakes], and no other has'
BY_SWATCHES: Final = "left open by its swatches"
LARGEST_PER_UM: Final = 1000.0
"""No pigment comes near this; a number beyond it is in the wrong unit (per mm, per cm)."""


def sheen() -> Kind:
    """Return the kind of a sheen: one of the trade's words, or a number from 0 (gloss) to 1 (matt)."""
    expected = "gloss, satin or matt in quotes, or a number from 0 (gloss) to 1 (matt)"
    share = number(0.0, 1.0, expected=expected)

    def read(table: Table, key: str, _: Any) -> float:
        value = table.values.get(key, "")
        if isinstance(value, str) and "%" not in value:
            return SHEENS[table.choice(key, SHEENS)]
        return table.number(key, low=0.0, high=1.0, expected=expected)

    return dataclasses.replace(
        share,
        read=read,
        words=expected,
        written=lambda value: next((word for word, said in SHEENS.items() if said == value), value),
    )


@dataclass(frozen=True, eq=False)
class Doubt:
    """One independent way in which a paint may differ from its record, by one standard deviation.

    Doubts are shifts of the logarithms of K and S, so that no doubt makes a constant negative; a set of
    them is a low-rank covariance over all wavelengths and both constants.
    """

    cause: Annotated[str, Key(text(), "what would narrow the range")]
    log_K: FloatArray
    log_S: FloatArray
    """Shift of ln K and ln S for one standard deviation, shape (31,)."""
    sheen: Annotated[float, Key(number(-1, 1), "shift of the paint's own sheen that goes with it")] = 0.0
    first_reflection: Annotated[
        float, Key(number(-1, 1), "relative shift of the paint's first reflection that goes with it")
    ] = 0.0
    """Readings that held more of the surface's reflection than was thought hold less of K and S."""
    log_cover: Annotated[float, Key(number(-3, 3), "shift of ln of the flakes' cover")] = 0.0
    log_tilt: Annotated[float, Key(number(-3, 3), "shift of ln of the flakes' tilt")] = 0.0
    rough: Annotated[float, Key(number(-1, 1), "shift of the flakes' rough")] = 0.0
    by_swatches: Annotated[bool, Key(flag(), "true where a fit's swatches left it open")] = False

    def __post_init__(self) -> None:
        check_record(self)
        freeze_spectra(self, ("log_K", "log_S"))

    @property
    def words(self) -> str:
        """Its cause, and that the swatches of a fit left it open where they did."""
        return f"{BY_SWATCHES}: {self.cause}" if self.by_swatches else self.cause


@dataclass(frozen=True)
class Flakes:
    """The flakes of a metal paint. Raises ValueError if a value is out of its range."""

    metal: Annotated[str, Key(word(tuple(METALS)), "what they are made of", remark=", ".join(METALS))]
    cover_per_um: Annotated[
        float,
        Key(
            number(above=0, high=100, unit="1/µm"),
            "area of flakes per area of the film and µm of it, dry",
            remark="area of flakes per area of the film and µm of it",
        ),
    ]
    tilt_deg: Annotated[
        float,
        Key(
            number(0, 60, unit="degrees"),
            "how far they are tilted, one standard deviation",
            remark="standard deviation of their tilt; 4 lies very flat, 12 hardly",
        ),
    ]
    rough: Annotated[
        float,
        Key(
            number(0, 1),
            "share of what they send back that their edges and roughness strew evenly",
            remark="share strewn evenly by edges and roughness; more for finer flakes",
        ),
    ] = 0.1

    def __post_init__(self) -> None:
        check_record(self)


SOLIDS: Final = number(above=0, high=1)
SOLIDS_WORDS: Final = "share of the liquid's volume that stays when dry"


@dataclass(frozen=True, eq=False, kw_only=True)
class Paint:
    """One paint, ink, wash, medium, varnish or primer. Raises ValueError if a value is out of its range.

    >>> grey = Paint(name="test grey", kind="paint", K_per_um=0.02, S_per_um=0.3,
    ...              volume_solids=0.3, wet_film_um=15.0, sheen=1.0, provenance="an example", invented=True)
    >>> grey.dry_film_um
    4.5
    """

    name: Annotated[str, Key(kinds.name(findable=True), "by which schemes find it")]
    kind: Annotated[str, Key(word(KINDS), "what it is", remark=", ".join(KINDS))]
    invented: Annotated[bool, Key(flag(), "true for a plausible paint that nobody measured")] = False
    provenance: Annotated[str, Key(text(), "where the constants come from")]
    note: Annotated[str, Key(text(), "anything to know when using it")] = ""
    carrier: Annotated[
        str,
        Key(
            word(CARRIERS),
            "what carries it until it dries, where that is known",
            remark=f"what carries it: {', '.join(CARRIERS)}",
        ),
    ] = ""
    hazards: Annotated[
        tuple[str, ...], Key(words(HAZARDS), "what must never become mist", remark="never as mist or dust")
    ] = ()
    volume_solids: Annotated[float, Key(SOLIDS, SOLIDS_WORDS, remark=SOLIDS_WORDS)]
    wet_film_um: Annotated[
        float,
        Key(
            number(above=0, high=1000, unit="µm"),
            "suggested wet film of one coat",
            remark="suggested wet film of one coat, micrometres",
        ),
    ]
    sheen: Annotated[
        float,
        Key(
            sheen(),
            "share of the surface's reflection that reaches the eye",
            remark="gloss, satin, matt, or a number from 0 (gloss) to 1 (matt)",
        ),
    ]
    first_reflection: Annotated[
        float,
        Key(
            number(*FIRST_REFLECTIONS),
            "what its surface sends back of light that falls straight on it",
            remark="of its surface; 0.04 is usual",
        ),
    ] = USUAL_REFLECTION
    K_per_um: Annotated[FloatArray, Key(spectrum(0, LARGEST_PER_UM, unit="1/µm"), "absorption")]
    S_per_um: Annotated[FloatArray, Key(spectrum(0, LARGEST_PER_UM, unit="1/µm"), "scattering")]
    film_basis: Annotated[
        str, Key(word(FILM_BASES), "how the films behind K and S were known, where that is known")
    ] = ""
    film_of: Annotated[str, Key(text(), "whose coats they were, where a known sprayer's film was used")] = ""
    flakes: Flakes | None = None
    """Of a metal paint, whose K and S are then its binder's; None for all others."""
    doubts: tuple[Doubt, ...] = ()
    """Empty where nothing is known."""

    def __repr__(self) -> str:
        return f"<Paint {self.name!r}: {self.kind}, {film_words(self.dry_film_um)} a coat>"

    def __post_init__(self) -> None:
        check_record(self)
        freeze_spectra(self, ("K_per_um", "S_per_um"), least=0.0)
        if (self.kind == METAL) != (self.flakes is not None):
            raise ValueError(NO_FLAKES)

    @property
    def share_seen(self) -> float:
        """Share of a usual first reflection that reaches the eye off its surface."""
        return self.sheen * self.first_reflection / USUAL_REFLECTION

    @property
    def dry_film_um(self) -> float:
        """Dry film that one unthinned coat leaves, µm."""
        return self.wet_film_um * self.volume_solids


def mixable(paints: Iterable[Paint]) -> bool:
    """Return whether paints may be mixed in one film, by what carries them.

    Paints of different carriers curdle or part in the cup (common practice, no source). One of which nobody
    said what carries it is let be. Some paints may be mixed if every two of them may.
    """
    return len({paint.carrier for paint in paints if paint.carrier}) <= 1


def film_words(film_um: float) -> str:
    """Return a film's thickness in words, two digits and never a power of ten.

    >>> film_words(2.44), film_words(240.0), film_words(0.0)
    ('2.4 µm', '240 µm', '0 µm')
    """
    if 0.0 < film_um < 0.01:
        return "under 0.01 µm"
    return f"{film_um:.2g} µm" if film_um < 99.5 else f"{film_um:.0f} µm"


def freeze_spectra(record: object, names: tuple[str, ...], *, least: float | None = None) -> None:
    """Keep a record's spectra as frozen arrays of its own; raises ValueError for what is none, or too low."""
    for name in names:
        array = as_bands(getattr(record, name), name=name).copy()
        if array.ndim != 1:
            raise ValueError(f"{name} must be one spectrum")
        if least is not None and (array < least).any():
            raise ValueError(f"{name} must be {least:g} or more")
        array.setflags(write=False)
        object.__setattr__(record, name, array)
