"""The record of one paint: what its dry film does to light, and how it comes out of the bottle."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from layersim.spectra import FloatArray, as_bands

KINDS: Final = ("paint", "ink", "wash", "medium", "varnish", "primer")
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


@dataclass(frozen=True, eq=False)
class Doubt:
    """One independent way in which a paint may differ from its record, by one standard deviation.

    Doubts are shifts of the logarithms of K and S, so that no doubt makes a constant negative; a
    set of them is a low-rank covariance over all wavelengths and both constants.

    Parameters
    ----------
    cause : str
        In words ("pigment load from bottle to bottle"), to tell what would narrow the range.
    log_K, log_S : ndarray, shape (31,)
        Shift of ln K and ln S for one standard deviation.
    sheen, first_reflection : float
        Shift of the paint's own sheen, and relative one of its first reflection, that go with it:
        readings that held more of the surface's reflection than was thought hold less of K and S.
    """

    cause: str
    log_K: FloatArray
    log_S: FloatArray
    sheen: float = 0.0
    first_reflection: float = 0.0

    def __post_init__(self) -> None:
        if not (-1.0 <= self.sheen <= 1.0 and -1.0 <= self.first_reflection <= 1.0):
            raise ValueError("a doubt's sheen and first_reflection must lie within -1..1")
        _freeze(self, ("log_K", "log_S"), least=None)


@dataclass(frozen=True, eq=False)
class Paint:
    """One paint, ink, wash, medium, varnish or primer.

    Parameters
    ----------
    name : str
    kind : str
        One of :data:`KINDS`.
    K_per_um, S_per_um : ndarray, shape (31,), 1/µm of dry film
        Absorption and scattering.
    volume_solids : float, 0 < v ≤ 1
        Share of the liquid's volume that stays when it dries, as supplied.
    wet_film_um : float, µm
        Suggested wet film of one coat.
    sheen : float
        Share of the surface's reflection that reaches the eye, 0 (gloss) to 1 (matt).
    provenance : str
        Where the constants come from.
    invented : bool
        True for a plausible paint that nobody measured.
    note : str
        Anything to know when using it; may be empty.
    doubts : tuple of Doubt
        Empty where nothing is known.
    carrier : str
        One of :data:`CARRIERS`; empty where nobody said.
    hazards : tuple of str
        Some of :data:`HAZARDS`.
    first_reflection : float
        What its surface sends back of light that falls on it straight: 0.04 at a binder's index of 1.5.
    film_basis : str
        One of :data:`FILM_BASES`: what the micrometres of K and S rest on. Empty where nobody said.
    film_of : str
        The sprayer whose known film scaled counted coats; empty where none did.

    Raises
    ------
    ValueError
        If a value is out of its range.

    Examples
    --------
    >>> grey = Paint(name="test grey", kind="paint", K_per_um=np.full(31, 0.02), S_per_um=np.full(31, 0.3),
    ...              volume_solids=0.3, wet_film_um=15.0, sheen=1.0, provenance="an example", invented=True)
    >>> grey.dry_film_um
    4.5
    """

    name: str
    kind: str
    K_per_um: FloatArray
    S_per_um: FloatArray
    volume_solids: float
    wet_film_um: float
    sheen: float
    provenance: str
    invented: bool
    note: str = ""
    doubts: tuple[Doubt, ...] = field(default=())
    carrier: str = ""
    hazards: tuple[str, ...] = ()
    first_reflection: float = USUAL_REFLECTION
    film_basis: str = ""
    film_of: str = ""

    def __post_init__(self) -> None:
        low, high = FIRST_REFLECTIONS
        if not low <= self.first_reflection <= high:
            raise ValueError(f"first_reflection must lie within {low:g}..{high:g}")
        if self.carrier not in ("", *CARRIERS) or not set(self.hazards) <= set(HAZARDS):
            raise ValueError(f"carrier must be one of {', '.join(CARRIERS)}; hazards of {', '.join(HAZARDS)}")
        if self.film_basis not in ("", *FILM_BASES):
            raise ValueError(f"film_basis must be one of {', '.join(FILM_BASES)}")
        if self.kind not in KINDS:
            raise ValueError(f"kind must be one of {', '.join(KINDS)}")
        if not 0.0 < self.volume_solids <= 1.0:
            raise ValueError("volume_solids must be above 0 and at most 1")
        if not 0.0 < self.wet_film_um < np.inf:
            raise ValueError("wet_film_um must be above 0")
        if not 0.0 <= self.sheen <= 1.0:
            raise ValueError("sheen must lie within 0..1")
        _freeze(self, ("K_per_um", "S_per_um"), least=0.0)

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

    Paints of different carriers curdle or part in the cup (common practice, no source). One of which
    nobody said what carries it is let be. Some paints may be mixed if every two of them may.

    Parameters
    ----------
    paints : iterable of Paint

    Returns
    -------
    bool
    """
    return len({paint.carrier for paint in paints if paint.carrier}) <= 1


def film_words(film_um: float) -> str:
    """Return a film's thickness in words, two digits and never a power of ten.

    Parameters
    ----------
    film_um : float, µm

    Returns
    -------
    str

    Examples
    --------
    >>> film_words(2.44), film_words(240.0), film_words(0.0)
    ('2.4 µm', '240 µm', '0 µm')
    """
    if 0.0 < film_um < 0.01:
        return "under 0.01 µm"
    return f"{film_um:.2g} µm" if film_um < 99.5 else f"{film_um:.0f} µm"


def _freeze(record: object, names: tuple[str, ...], *, least: float | None) -> None:
    for name in names:
        array = as_bands(getattr(record, name), name=name).copy()
        if array.ndim != 1:
            raise ValueError(f"{name} must be one spectrum")
        if least is not None and (array < least).any():
            raise ValueError(f"{name} must be {least:g} or more")
        array.setflags(write=False)
        object.__setattr__(record, name, array)
