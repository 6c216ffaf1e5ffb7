"""Metal paints from readings at several angles: how flat flakes lie, what they strew, their binder's tint.

One angle tells none of these from another. Near the mirror direction the flakes' tilt shows, far from it what
they strew, and the binder's tint at all; how well they cover shows only where a film lets its ground through.
Which metal it is shows where no tint could make one look like the other: a tint takes light away and adds
none.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.chance import NINETY
from layersim.errors import FitError
from layersim.estimate import Estimate
from layersim.fitting import verdict as verdicts
from layersim.fitting.amiss import film_of
from layersim.fitting.doubts import (
    EXPLAINED,
    FINISHES,
    MOST_DOUBTS,
    TYPICAL_COATS,
    TYPICAL_GROUNDS,
    WIDEST,
)
from layersim.fitting.films import Below, Maker, films_of, hand_of
from layersim.fitting.finish import MEASURED_FILM, NOMINAL_FILM
from layersim.fitting.flakefit import (
    COVER,
    PAINT,
    ROUGH,
    TILT,
    FlakeFit,
    FlakeReadings,
    K,
    MetalFilms,
    S,
    fit_flakes,
    reflectances,
    slopes_of,
)
from layersim.fitting.measured import grounds_of
from layersim.fitting.problem import MODEL_BENDS_NM
from layersim.fitting.result import Verdict
from layersim.measure.swatch import OfPaint, Sprayed, SwatchSet
from layersim.metals import METALS
from layersim.optics import cones, flakes, levels
from layersim.optics.cones import Admittance
from layersim.optics.flakes import Direction
from layersim.optics.surface import SHEENS
from layersim.paint import Doubt, Flakes, Paint
from layersim.shelf import Shelf
from layersim.shown import Shown
from layersim.spectra import BANDS, FloatArray, wavelengths_nm

OFF: Final = 0.03
"""e of (O1) of one reading: glitter, and what its angle is off (an assumption)."""
MODEL_OFF_PER_DEG: Final = 0.002
"""What the model adds to it by the angle: beside four paints traced ray by ray (tests/oracle/flakes.py) it
was off by up to 7 % at 15 degrees, 15 % at 45 and 24 % at 110."""
COLOUR_OFF_PER_DEG: Final = 0.0008
"""What the model adds to a reading's colour, over MODEL_BENDS_NM (by the same)."""
OWN_NOISE: Final = 0.005
"""What a band of a reading is off by itself, relative (an assumption)."""
METAL_OFF: Final = 0.02
"""How far a metal's colour is off its table's, relative, over MODEL_BENDS_NM (two papers differ so)."""
NEAR_DEG, FAR_DEG = 30.0, 70.0
"""FlakeReadings nearer the mirror tell the tilt, those beyond the second what is strewn."""
LEAST_SPAN_DEG: Final = 20.0
CLEARLY: Final = 9.0
"""(O1) over f by which another metal must be worse to be ruled out: three standard deviations."""
UNKNOWN_COVER: Final = 0.4
"""Standard deviation of ln C from which on it is called a guess."""
LARGEST_MISFIT: Final = 6.0
"""Mean ΔE00 beyond noise from which on there is no such metal paint."""


@dataclass(frozen=True, eq=False, kw_only=True)
class MetalFit(Shown):
    """A metal paint fitted to readings at several angles."""

    paint: Paint
    """With doubts."""
    tilt_deg: Estimate
    rough: Estimate
    cover_per_um: Estimate
    names: tuple[str, ...]
    """The readings."""
    angles_deg: FloatArray
    """From the mirror direction, (r,)."""
    measured: FloatArray | None
    """Spectra, (r, 31), where spectra were measured."""
    fitted: FloatArray
    """Spectra that the paint gives them, (r, 31)."""
    measured_lab: FloatArray
    """(r, 3)."""
    fitted_lab: FloatArray
    delta_e: FloatArray
    """(r,), ΔE00."""
    log_K_error: FloatArray
    """One standard deviation of ln K, (31,)."""
    coat_um: float
    """Dry film of one coat, unthinned."""
    coats_lab: FloatArray
    """Colours of typical coats, (grounds, angles, coats, 3)."""
    coats_off: FloatArray
    """ΔE00 that holds 90 % of each, (grounds, angles, coats)."""
    misfits: Mapping[str, float]
    """(O1) over f of every metal that was tried; the paint's is the least."""
    verdict: Verdict
    chi2: float
    freedom: float
    inflation: float
    notices: tuple[str, ...]

    @property
    def kept(self) -> npt.NDArray[np.bool_]:
        """True for all of them: none is left out."""
        return np.ones(len(self.names), dtype=np.bool_)


@dataclass(frozen=True, eq=False, kw_only=True)
class SeenFrom:
    """Readings, and how they are told."""

    names: tuple[str, ...]
    angles_deg: FloatArray
    readings: FlakeReadings
    to_xyz: FloatArray
    """What makes XYZ of a reading's values, (n, 3)."""
    white: FloatArray
    """(r, 3)."""
    notices: tuple[str, ...]
    words: str
    """What they are."""

    def lab(self, values: FloatArray) -> FloatArray:
        """Return the colours of some values, (r, ..., n)."""
        white = self.white if values.ndim == 2 else self.white[:, np.newaxis]
        return colour.lab_from_xyz(values @ self.to_xyz, white)


def fit_metal(
    swatches: SwatchSet, shelf: Shelf | None = None, *, film_error: float | Estimate | None = None
) -> MetalFit:
    """Return the metal paint that readings at several angles make most likely, with how sure that is.

    `shelf` and `film_error` are as in :func:`layersim.fitting.measured.fit_swatches`. Raises FitError if the
    swatches cannot give a paint: it says why and what to do next.
    """
    where = swatches.source or Path(swatches.paint)
    angles = _angles(swatches, where)
    grounds = grounds_of(swatches, shelf or Shelf.usual(), where)
    laid, film = films_laid(swatches, swatches.swatches, grounds, film_error)
    values = np.stack([one.reflectance for one in swatches.swatches])
    noise = np.stack([one.noise for one in swatches.swatches])
    readings = FlakeReadings(
        film=film,
        at=_views(angles),
        values=values,
        covariance=_own_errors(values, noise, angles),
        weights=np.broadcast_to(np.eye(BANDS), (len(values), BANDS, BANDS)),
        off=off_by(angles),
    )
    seen = SeenFrom(
        names=tuple(one.name for one in swatches.swatches),
        angles_deg=angles,
        readings=readings,
        to_xyz=colour.Viewing().weights,
        white=np.broadcast_to(colour.Viewing().white, (len(values), 3)),
        notices=swatches.notices,
        words=f"readings at {listed(angles)} from the mirror direction",
    )
    counted = any(one.dry_film_um is None and not one.opaque for one in swatches.swatches)
    return conclude(swatches, laid, seen, counted=counted, where=where)


def conclude(swatches: OfPaint, laid: MetalFilms, seen: SeenFrom, *, counted: bool, where: Path) -> MetalFit:
    """Return the paint that something seen makes most likely; `counted`: whether coats were counted."""
    readings = seen.readings
    coat_um = swatches.wet_film_um * swatches.volume_solids
    tried = [
        fit_flakes(one, laid, readings, coat_um=coat_um)
        for one in ([swatches.metal] if swatches.metal else METALS)
    ]
    # All by the errors of the best: each by its own would call the worst as good.
    scale = min(one.inflation for one in tried)
    misfits = {one.metal: one.cost / scale for one in tried}
    best = min(tried, key=lambda one: misfits[one.metal])
    fitted = readings.of(best.fitted)
    measured_lab, fitted_lab = seen.lab(readings.values), seen.lab(fitted)
    delta_e = colour.delta_e_2000(measured_lab, fitted_lab)
    gains = (readings.off[:, np.newaxis] * fitted)[:, :, np.newaxis]
    roots = np.concatenate([np.linalg.cholesky(readings.covariance), gains], axis=-1)
    by_noise = np.sqrt((_lab_change(fitted, roots, seen.lab) ** 2).reshape(len(fitted), -1).sum(axis=1))
    beyond = float(np.sqrt(np.maximum(delta_e**2 - (2.0 * by_noise) ** 2, 0.0)).mean())
    if beyond > LARGEST_MISFIT:
        worst = [f'"{seen.names[i]}" (ΔE00 {delta_e[i]:.1f})' for i in np.argsort(-delta_e)[:3]]
        raise FitError(
            where,
            f"no metal paint of {' or '.join(misfits)} meets these readings. Farthest off are "
            f"{', '.join(worst)}. Check their angles, films and grounds, and whether the paint is a metal "
            "at all: pearls and colour-shifting flakes are none.",
        )
    typical = _Typical(best, coat_um=coat_um, sheen=swatches.sheen)
    verdict = verdicts.judge(
        reach=typical.reach(),
        reach_under={one: typical.under(SHEENS[one]).reach() for one in FINISHES},
        residual=float(delta_e.mean()),
        beyond_noise=beyond,
        outliers=0,
        swatches=len(fitted),
    )
    if verdict.reach > verdicts.LARGEST_REACH:
        raise FitError(
            where,
            f"the readings leave open what the paint looks like (ΔE00 {verdict.reach:.0f}, nine times in "
            f"ten; expected at most {verdicts.LARGEST_REACH:g}). {_USUAL_ANGLES}",
        )
    x, error = best.unknowns, np.sqrt(np.diag(best.covariance))
    marked = "" if verdict.grade == "good" else f"{verdict.grade.capitalize()} fit: {verdict.words}."
    readings_words = f"fitted to {len(fitted)} {seen.words}"
    films = NOMINAL_FILM if counted else MEASURED_FILM
    return MetalFit(
        paint=Paint(
            name=swatches.paint,
            kind=swatches.kind,
            K_per_um=np.exp(x[K]),
            S_per_um=np.full(BANDS, np.exp(x[S])),
            volume_solids=swatches.volume_solids,
            wet_film_um=swatches.wet_film_um,
            sheen=swatches.sheen,
            provenance="; ".join(part for part in (swatches.provenance, readings_words, films) if part),
            invented=swatches.invented,
            note=" ".join(part for part in (swatches.note, marked) if part),
            flakes=Flakes(
                best.metal,
                cover_per_um=min(float(np.exp(x[COVER])), 100.0),
                tilt_deg=min(best.tilt_deg, 60.0),
                rough=best.rough,
            ),
            doubts=_doubts(best, typical),
            carrier=swatches.carrier,
            hazards=swatches.hazards,
            film_basis="coats" if counted else "measured",
        ),
        tilt_deg=Estimate(best.tilt_deg, float(error[TILT])),
        rough=Estimate(best.rough, float(error[ROUGH] * (1.0 - best.rough))),
        cover_per_um=Estimate(float(np.exp(x[COVER])), float(error[COVER])),
        names=seen.names,
        angles_deg=seen.angles_deg,
        measured=readings.values if readings.values.shape[1] == BANDS else None,
        fitted=best.fitted,
        measured_lab=measured_lab,
        fitted_lab=fitted_lab,
        delta_e=delta_e,
        log_K_error=error[K],
        coat_um=coat_um,
        coats_lab=typical.lab(),
        coats_off=typical.each(),
        misfits=misfits,
        verdict=verdict,
        chi2=best.chi2,
        freedom=best.freedom,
        inflation=best.inflation,
        notices=(*seen.notices, *_notices(seen.angles_deg, misfits, best)),
    )


# --- what was read -------------------------------------------------------------------------------

_USUAL_ANGLES: Final = "Read 15°, 45° and 110° from the mirror direction, of one coat and of two, over black."


def _angles(swatches: SwatchSet, where: Path) -> FloatArray:
    """Return the angles of all readings; raise FitError where they cannot tell of flakes."""
    angles = [one.angle_deg for one in swatches.swatches if one.angle_deg is not None]
    if not angles:
        raise FitError(
            where,
            "a metal looks different from every side, and no swatch says from where it was read: write "
            f"angle_deg (45/0 is 45; a sphere, d/8, has none and cannot be used). {_USUAL_ANGLES}",
        )
    for one in swatches.swatches:
        if one.angle_deg is None:
            raise FitError(
                where, f'swatch "{one.name}": angle_deg is missing; leave the swatch out or write it'
            )
        if len(one.parts) > 1:
            raise FitError(where, f'swatch "{one.name}": a metal is fitted by itself; leave its mixes out')
    if swatches.specular == "included":
        raise FitError(
            where,
            'specular: found "included"; expected "excluded", since an instrument that reads at angles looks '
            "past the surface's mirror image",
        )
    if max(angles) - min(angles) < LEAST_SPAN_DEG:
        raise FitError(
            where,
            f"all readings are from about one side ({listed(np.array(angles))} from the mirror direction), "
            "and how flat the flakes lie, how much they strew and how dark the binder is look alike from "
            f"there. {_USUAL_ANGLES}",
        )
    return np.array(angles)


def films_laid(
    swatches: OfPaint,
    sprayed: Sequence[Sprayed],
    grounds: Mapping[str, Below],
    film_error: float | Estimate | None,
) -> tuple[MetalFilms, npt.NDArray[np.intp]]:
    """Return the films, and which of them each of `sprayed` is: those made alike on one ground are one."""
    made: dict[object, Sprayed] = {}
    film = []
    for one in sprayed:
        key = (one.ground, film_of(one))
        made.setdefault(key, one)
        film.append(list(made).index(key))
    maker = Maker(
        wet_film_um=swatches.wet_film_um,
        volume_solids=swatches.volume_solids,
        sheen=swatches.sheen,
        film_error=hand_of(swatches.laid, film_error),
    )
    films = films_of(list(made.values()), grounds=grounds, paints={}, maker=maker)
    laid = MetalFilms(
        film_um=films.thickness_um,
        error=films.film_error,
        over=levels.level_of(Admittance(*films.ground)),
        sheen=swatches.sheen,
    )
    return laid, np.array(film)


def _own_errors(values: FloatArray, noise: FloatArray, angles_deg: FloatArray) -> FloatArray:
    """Return the covariance of what readings are off beside their level: noise, metal, model."""
    nm = wavelengths_nm()
    bent = np.exp(-0.5 * ((nm[:, np.newaxis] - nm) / MODEL_BENDS_NM) ** 2)
    colour_off = np.hypot(METAL_OFF, COLOUR_OFF_PER_DEG * np.abs(angles_deg))[:, np.newaxis] * values
    alone = (noise**2 + (OWN_NOISE * values) ** 2)[:, :, np.newaxis] * np.eye(BANDS)
    return np.asarray(alone + bent * colour_off[:, :, np.newaxis] * colour_off[:, np.newaxis, :])


def off_by(angles_deg: FloatArray) -> FloatArray:
    """Return e of (O1), (r,)."""
    return np.hypot(OFF, MODEL_OFF_PER_DEG * np.abs(angles_deg))


def _views(angles_deg: FloatArray) -> Direction:
    each = [flakes.turned(float(angle)) for angle in angles_deg]
    return Direction(
        *(np.stack([getattr(one, f.name) for one in each], axis=-1) for f in dataclasses.fields(Direction))
    )


def listed(angles_deg: FloatArray) -> str:
    """Return some angles in words."""
    found = [f"{angle:g}°" for angle in np.unique(angles_deg)]
    return " and ".join([", ".join(found[:-1]), found[-1]] if len(found) > 1 else found)


def _notices(angles: FloatArray, misfits: Mapping[str, float], best: FlakeFit) -> list[str]:
    found = []
    if len(misfits) > 1:
        second = min((metal for metal in misfits if metal != best.metal), key=lambda metal: misfits[metal])
        apart = misfits[second] - misfits[best.metal]
        if apart < CLEARLY:
            found.append(
                f"the flakes may as well be {second}, with another tint. That looks alike by itself, not in "
                f"mixes and under glazes; if you know what they are, say so: metal = {second!r}".replace(
                    "'", '"'
                )
            )
    if not (np.abs(angles) <= NEAR_DEG).any():
        found.append(
            f"no reading is within {NEAR_DEG:g}° of the mirror direction, where the flakes' tilt shows"
        )
    if not (angles >= FAR_DEG).any():
        found.append(f"no reading is beyond {FAR_DEG:g}°, where it shows how much the flakes strew")
    if float(np.sqrt(best.covariance[COVER, COVER])) > UNKNOWN_COVER:
        found.append(
            "no film lets its ground through, so how well the flakes cover is a guess: read half a coat over "
            "black and over white, too"
        )
    return found


# --- typical coats -------------------------------------------------------------------------------


class _Typical:
    """Half a coat to four over dark, middle and light grounds, from three sides, and what moves them."""

    def __init__(self, fit: FlakeFit, *, coat_um: float, sheen: float) -> None:
        self.fit, self.coat_um = fit, coat_um
        shape = (len(TYPICAL_GROUNDS), len(flakes.ANGLES_DEG), len(TYPICAL_COATS))
        ground, angle, coats = (one.ravel() for one in np.indices(shape))
        films = np.arange(shape[0] * shape[2])
        below = cones.ground_from_seen(
            np.repeat(np.array(TYPICAL_GROUNDS), shape[2])[:, np.newaxis] * np.ones(BANDS), sheen=0.0
        )
        laid = MetalFilms(
            film_um=np.tile(coat_um * np.array(TYPICAL_COATS), shape[0]),
            error=np.zeros(len(films)),
            over=levels.level_of(below),
            sheen=sheen,
        )
        film, at = ground * shape[2] + coats, _views(np.array(flakes.ANGLES_DEG)[angle])

        def seen(x: FloatArray) -> FloatArray:
            return reflectances(x, metal=fit.metal, laid=laid, film=film, at=at)

        x = np.concatenate([fit.unknowns[:PAINT], np.zeros(len(films))])
        self.shape = shape
        self.reflectance = seen(x[np.newaxis])[0]
        self.change = _lab_change(self.reflectance, slopes_of(seen, x, film)[:, :, :PAINT], _bright_lab)
        """(stacks · 3, 35), in ΔE00."""

    def under(self, sheen: float) -> _Typical:
        """Return the same under a varnish of some sheen."""
        return _Typical(self.fit, coat_um=self.coat_um, sheen=sheen)

    def lab(self) -> FloatArray:
        """Return their colours."""
        return _bright_lab(self.reflectance).reshape(*self.shape, 3)

    def each(self) -> FloatArray:
        """Return the ΔE00 that holds 90 % of each."""
        variance = np.einsum("ij,jk,ik->i", self.change, self.fit.covariance, self.change)
        return np.asarray(NINETY * np.sqrt(variance.reshape(*self.shape, 3).sum(axis=-1)))

    def reach(self) -> float:
        """Return their root mean square."""
        return float(np.sqrt((self.each() ** 2).mean()))


def _lab_change(
    values: FloatArray, slopes: FloatArray, lab: Callable[[FloatArray], FloatArray]
) -> FloatArray:
    """Return how colours change in ΔE00 where values (r, n) do, by slopes (r, n, p), (3r, p).

    Hue counts as chroma, with the weights of CIE94 (CIE 116) and S_L of CIEDE2000 (CIE 142-2001).
    """
    step = 1e-6
    there = lab(values)[:, np.newaxis]
    change = (lab(values[:, np.newaxis] + step * np.swapaxes(slopes, 1, 2)) - there) / step
    lighter = (there[..., 0] - 50.0) ** 2
    chroma = 1.0 + 0.045 * np.hypot(there[..., 1], there[..., 2])
    scale = np.stack([1.0 + 0.015 * lighter / np.sqrt(20.0 + lighter), chroma, chroma], axis=-1)
    return np.asarray(np.swapaxes(change / scale, 1, 2).reshape(-1, slopes.shape[-1]))


def _bright_lab(reflectance: FloatArray) -> FloatArray:
    """Return L*a*b* at D65, 2°, of what may be far lighter than white."""
    view = colour.Viewing()
    return colour.lab_from_xyz(colour.xyz(reflectance, view), view.white)


def _doubts(fit: FlakeFit, typical: _Typical) -> tuple[Doubt, ...]:
    """Return the leading shifts of what is left open, as (E1) of :mod:`layersim.fitting.doubts`."""
    values, vectors = np.linalg.eigh(fit.covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    changes = np.concatenate([typical.change, *(typical.under(SHEENS[one]).change for one in FINISHES)])
    _, s, Vt = np.linalg.svd(changes @ root, full_matrices=False)
    needed = int(np.searchsorted(np.cumsum(s**2) / float((s**2).sum()), EXPLAINED)) + 1
    found: list[Doubt] = []
    for shift in np.clip(root @ Vt[: min(needed, MOST_DOUBTS)].T, -WIDEST, WIDEST).T:
        cause = _cause(shift, changes)
        same = sum(one.cause.startswith(cause) for one in found)
        found.append(
            Doubt(
                cause + ", another way" * same,
                log_K=shift[K],
                log_S=np.full(BANDS, shift[S]),
                log_cover=float(shift[COVER]),
                log_tilt=float(shift[TILT]),
                rough=float(shift[ROUGH] * fit.rough * (1.0 - fit.rough)),
                by_swatches=True,
            )
        )
    return tuple(found)


def _cause(shift: FloatArray, changes: FloatArray) -> str:
    """Return what does most of a shift."""
    parts: Sequence[tuple[str, slice | list[int]]] = (
        ("the tint of the binder", K),
        ("what the binder strews", [S]),
        ("how flat the flakes lie", [TILT]),
        ("how much the flakes strew", [ROUGH]),
        ("how well the flakes cover", [COVER]),
    )
    sizes = [float(((changes[:, at] @ shift[at]) ** 2).sum()) for _, at in parts]
    return parts[int(np.argmax(sizes))][0]
