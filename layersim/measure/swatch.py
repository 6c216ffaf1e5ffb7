"""Swatches: what was sprayed or brushed, over what, and the reflectance measured on it.

Records alone. How they are written down is in :mod:`layersim.measure.swatchfile`; what they say of a
paint's K and S is for the fit, which also looks up the paints that are given by name.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from layersim.measure.sheet import Specular
from layersim.measure.spectral import HIGHEST, LOWEST
from layersim.paint import CARRIERS, HAZARDS, KINDS
from layersim.spectra import FloatArray, as_bands

THIS_PAINT: Final = "this paint"
"""Stands in a mix for the paint whose swatches these are."""

Laid = Literal["sprayed", "brushed"]
LAID: Final[tuple[Laid, ...]] = ("sprayed", "brushed")
"""How swatches were laid: a brush leaves films that vary more."""
SPECULAR: Final[tuple[Specular, ...]] = ("included", "excluded")
"""Whether the instrument saw the surface's mirror reflection."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Ground:
    """What swatches were painted on: measured bare, or a primer known by name.

    Opaque: its thickness does not matter.

    Parameters
    ----------
    name : str
    reflectance : ndarray, shape (31,), fraction as measured, or None
    noise : ndarray, shape (31,), or None
        One standard deviation of `reflectance`; there is one where the other is.
    paint : str or None
        Name of a paint on the shelf, instead of a measurement.
    sheen : float
        Share of the surface's reflection that reached the eye off the bare ground, 0 (gloss) to 1 (matt);
        gone once it is painted over.

    Raises
    ------
    ValueError
        If it is neither measured nor named, or both, or a value is out of its range.
    """

    name: str
    reflectance: FloatArray | None = None
    noise: FloatArray | None = None
    paint: str | None = None
    sheen: float = 1.0

    def __post_init__(self) -> None:
        if (self.reflectance is None) == (self.paint is None):
            raise ValueError(f'ground "{self.name}" must be either measured or the name of a paint')
        if (self.reflectance is None) != (self.noise is None):
            raise ValueError(f'ground "{self.name}": a reflectance and its noise go together')
        if not 0.0 <= self.sheen <= 1.0:
            raise ValueError("sheen must lie within 0..1")
        if self.reflectance is not None:
            _freeze_measured(self)


@dataclass(frozen=True, eq=False, kw_only=True)
class Sprayed:
    """How one swatch was made, whatever it was then measured with.

    Parameters
    ----------
    name : str
    ground : str or None
        Name of a :class:`Ground`; None only where the film is opaque and hides it.
    parts : tuple of (str, float)
        Paints by name, or :data:`THIS_PAINT`, and parts by volume of each (drops).
    thinning : float
        Parts of thinner to one part of the paints together.
    thinning_said : bool
        False where nobody said so, and none was taken for granted.
    coats : float or None
        Number of coats, where it is known.
    dry_film_um : float or None, µm
        Dry film of all coats together, where it is known.
    opaque : bool
        True where more coats would change nothing (masstone).
    note : str

    Raises
    ------
    ValueError
        If a value is out of its range, or nothing tells the thickness.
    """

    name: str
    ground: str | None
    parts: tuple[tuple[str, float], ...] = ((THIS_PAINT, 1.0),)
    thinning: float = 0.0
    thinning_said: bool = True
    coats: float | None = None
    dry_film_um: float | None = None
    opaque: bool = False
    note: str = ""

    def __post_init__(self) -> None:
        shares = [share for _, share in self.parts]
        if not shares or not all(0.0 < share < math.inf for share in shares):
            raise ValueError(f'swatch "{self.name}": parts must be above 0, and finite')
        if len({paint for paint, _ in self.parts}) < len(self.parts):
            raise ValueError(f'swatch "{self.name}" has a paint twice in its mix')
        if not 0.0 <= self.thinning < math.inf:
            raise ValueError(f'swatch "{self.name}": thinning must be 0 or more')
        for value in (self.coats, self.dry_film_um):
            if value is not None and not 0.0 < value < math.inf:
                raise ValueError(f'swatch "{self.name}": coats and dry_film_um must be above 0')
        if self.coats is None and self.dry_film_um is None and not self.opaque:
            raise ValueError(f'swatch "{self.name}" needs coats, a dry film or to be opaque')
        if self.ground is None and not self.opaque:
            raise ValueError(f'swatch "{self.name}" needs a ground, unless it is opaque')

    @property
    def share(self) -> float:
        """Share of this paint among the parts, by volume of the liquids, 0..1."""
        return sum(p for name, p in self.parts if name == THIS_PAINT) / sum(p for _, p in self.parts)


@dataclass(frozen=True, eq=False, kw_only=True)
class Swatch(Sprayed):
    """One swatch and the spectrum measured on it.

    Parameters
    ----------
    reflectance : ndarray, shape (31,), fraction as measured
        The surface's own reflection in it or not, as :attr:`SwatchSet.specular` says.
    noise : ndarray, shape (31,)
        One standard deviation of `reflectance`.

    Raises
    ------
    ValueError
        As :class:`Sprayed`, or if the spectrum cannot be a reflectance.

    Examples
    --------
    >>> swatch = Swatch(name="tint", ground="black", parts=(("this paint", 1.0), ("titanium white", 9.0)),
    ...                 coats=2, reflectance=0.6, noise=0.003)
    >>> swatch.share, swatch.reflectance.shape
    (0.1, (31,))
    """

    reflectance: FloatArray
    noise: FloatArray

    def __post_init__(self) -> None:
        super().__post_init__()
        _freeze_measured(self)


@dataclass(frozen=True, eq=False, kw_only=True)
class SwatchSet:
    """The swatches of one paint, with all that a fit needs to know of it.

    Parameters
    ----------
    paint : str
        Name of the paint.
    kind : str
        One of :data:`layersim.paint.KINDS`.
    volume_solids : float, 0 < v ≤ 1
        Share of the liquid's volume that stays when it dries, as supplied.
    wet_film_um : float, µm
        Wet film of one coat, the paint's suggested one. Where swatches tell only their number of coats,
        it sets the scale of thickness, and of K and S with it.
    sheen : float
        Share of the surface's reflection that reaches the eye, 0 (gloss) to 1 (matt).
    specular : "included" or "excluded"
        Whether the instrument saw the surface's mirror reflection.
    grounds : tuple of Ground
    swatches : tuple of Swatch
        At least one.
    source : Path or None
        The swatches file.
    spectra : Path or None
        The spectral file named there.
    invented : bool
        True where nobody measured this.
    provenance, note : str
    carrier : str
    hazards : tuple of str
        As in :class:`layersim.paint.Paint`.
    notices : tuple of str
        What a user should know of how the spectra were read.
    laid : "sprayed" or "brushed"
        How the swatches were laid.

    Raises
    ------
    ValueError
        If a value is out of its range, names are doubled, a ground is not there, or no swatch has the
        paint itself in it.
    """

    paint: str
    kind: str
    volume_solids: float
    wet_film_um: float
    sheen: float
    specular: Specular
    grounds: tuple[Ground, ...]
    swatches: tuple[Swatch, ...]
    source: Path | None = None
    spectra: Path | None = None
    invented: bool = False
    provenance: str = ""
    note: str = ""
    carrier: str = ""
    hazards: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    laid: Laid = "sprayed"

    def __post_init__(self) -> None:
        if self.laid not in LAID:
            raise ValueError(f"laid must be one of {', '.join(LAID)}")
        if self.kind not in KINDS:
            raise ValueError(f"kind must be one of {', '.join(KINDS)}")
        if self.carrier not in ("", *CARRIERS) or not set(self.hazards) <= set(HAZARDS):
            raise ValueError(f"carrier must be one of {', '.join(CARRIERS)}; hazards of {', '.join(HAZARDS)}")
        if self.specular not in SPECULAR:
            raise ValueError(f"specular must be one of {', '.join(SPECULAR)}")
        if not 0.0 < self.volume_solids <= 1.0:
            raise ValueError("volume_solids must be above 0 and at most 1")
        if not 0.0 < self.wet_film_um < math.inf:
            raise ValueError("wet_film_um must be above 0")
        if not 0.0 <= self.sheen <= 1.0:
            raise ValueError("sheen must lie within 0..1")
        for entries in (self.grounds, self.swatches):
            names = [entry.name for entry in entries]
            if len(set(names)) < len(names):
                raise ValueError("two grounds or two swatches have one name")
        if not any(swatch.share > 0.0 for swatch in self.swatches):
            raise ValueError(f'no swatch has "{THIS_PAINT}" in it')
        for swatch in self.swatches:
            if swatch.ground is not None:
                self.ground(swatch.ground)

    def surface_share(self, sheen: float) -> float:
        """Return the share σ of the first surface reflection that the instrument saw off a surface.

        All of it where specular reflection is included. Where it is excluded, what a matt surface
        scatters past the mirror direction is seen still, and σ is the surface's sheen
        (:mod:`layersim.optics.surface`, equation S3).

        Parameters
        ----------
        sheen : float
            Of the bare ground, or :attr:`sheen`.

        Returns
        -------
        float
        """
        return 1.0 if self.specular == "included" else sheen

    def ground(self, name: str) -> Ground:
        """Return the ground of a name.

        Parameters
        ----------
        name : str

        Returns
        -------
        Ground

        Raises
        ------
        ValueError
            If there is none.
        """
        for ground in self.grounds:
            if ground.name == name:
                return ground
        raise ValueError(f'no ground is named "{name}"')


def _freeze_measured(record: Ground | Swatch) -> None:
    reflectance = as_bands(record.reflectance, name="reflectance").copy()  # type: ignore[arg-type]
    noise = as_bands(record.noise, name="noise").copy()  # type: ignore[arg-type]
    if reflectance.ndim != 1 or noise.ndim != 1:
        raise ValueError(f'"{record.name}": reflectance and noise must be one spectrum each')
    if (reflectance < LOWEST).any() or (reflectance > HIGHEST).any():
        raise ValueError(f'"{record.name}": reflectance must lie within {LOWEST:g}..{HIGHEST:g}')
    if not (noise > 0.0).all():
        raise ValueError(f'"{record.name}": noise must be above 0')
    for key, array in (("reflectance", reflectance), ("noise", noise)):
        array.setflags(write=False)
        object.__setattr__(record, key, array)
