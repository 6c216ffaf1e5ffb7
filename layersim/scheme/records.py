"""What a scheme says: areas of a model, each with a ground, a preshade and coats in order."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final, TypeAlias

import numpy as np
import numpy.typing as npt

from layersim.colour import Viewing
from layersim.documents.keys import Key
from layersim.documents.kinds import number, whole
from layersim.names import named
from layersim.optics import cones, mixing
from layersim.paint import Paint, film_words
from layersim.scheme.batch import Batch, Extent
from layersim.scheme.targets import MEASURED_DOUBT, PICKED_DOUBT, PLACES, TARGET, Target
from layersim.scheme.times import Times
from layersim.spectra import FloatArray

if TYPE_CHECKING:
    from layersim.scheme.prediction import Prediction

MOST_COATS: Final = 100
"""Coats of one step, and passes of a preshade."""
SHARE: Final = number(0, 1)
ON_FORM: Final = ("edges", "recesses", "above", "below", "front", "behind", "left", "right")
"""Where a coat may land on a form, or from where it is sprayed at it."""
EDGE_SIGMAS: Final = 2.0 * 1.2815515655446004
"""Standard deviations between the 10 % and 90 % points of a Gaussian edge."""


@dataclass(frozen=True)
class Where:
    """Where along the shade axis a coat lands.

    The axis is the lightness L* of the bare preshade, so a painter can read it off a photograph of the
    model. The coat thins out across the edge as the edge of a spray cone does: the film is a Gaussian's
    integral, from 90 % to 10 % over `edge` (a Gaussian deposit is the usual model of a spray cone; the width
    is the painter's).
    """

    lightest_from: Annotated[
        float | None, Key(number(0, 100, unit="L*"), "lands on tones lighter than this", name="from")
    ] = None
    darkest_up_to: Annotated[
        float | None, Key(number(0, 100, unit="L*"), "lands on tones darker than this", name="up_to")
    ] = None
    edge: Annotated[
        float, Key(number(0, 100, unit="L*"), "width over which the film falls away; 0 is a mask's hard edge")
    ] = 20.0

    @property
    def everywhere(self) -> bool:
        """Whether the coat lands on every tone alike."""
        return self.lightest_from is None and self.darkest_up_to is None

    def film_share(self, lightness: npt.ArrayLike) -> FloatArray:
        """Return the share of the full film, 0..1, that lands on tones of some lightness L*.

        >>> Where(lightest_from=60.0, edge=20.0).film_share([50.0, 60.0, 70.0]).round(3)
        array([0.1, 0.5, 0.9])
        """
        L = np.asarray(lightness, dtype=np.float64)
        share = np.ones_like(L)
        if self.lightest_from is not None:
            share = share * self._rise(L - self.lightest_from)
        if self.darkest_up_to is not None:
            share = share * self._rise(self.darkest_up_to - L)
        return share

    def words(self) -> str:
        """Return the place in words: "everywhere", "from L* 60 up", "up to L* 40"."""
        if self.everywhere:
            return "everywhere"
        if self.lightest_from is None:
            return f"up to L* {self.darkest_up_to:g}"
        if self.darkest_up_to is None:
            return f"from L* {self.lightest_from:g} up"
        return f"L* {self.lightest_from:g} to {self.darkest_up_to:g}"

    def _rise(self, distance: FloatArray) -> FloatArray:
        if self.edge < 1e-6:  # no eye tells such an edge from a mask's, and dividing by it overflows
            return np.where(distance >= 0.0, 1.0, 0.0)
        sigma = self.edge / EDGE_SIGMAS
        erf = np.vectorize(math.erf, otypes=[np.float64])
        return np.asarray(0.5 * (1.0 + erf(distance / (sigma * math.sqrt(2.0)))))


@dataclass(frozen=True)
class Mix:
    """Paints in parts by volume, and thinner."""

    ingredients: tuple[tuple[Paint, float], ...]
    """Paints and their parts (drops)."""
    thinning: float = 0.0
    """Drops of thinner to one drop of the paints together."""

    @property
    def parts(self) -> FloatArray:
        """Parts of the paints, shape (m,)."""
        return np.array([parts for _, parts in self.ingredients])

    @property
    def solids(self) -> FloatArray:
        """Volume solids of the paints as supplied, shape (m,)."""
        return np.array([paint.volume_solids for paint, _ in self.ingredients])

    @property
    def medium(self) -> cones.Medium:
        """The mix's two lines (:mod:`layersim.optics.cones`)."""
        shares = mixing.dry_shares(parts=self.parts, volume_solids=self.solids)
        K, S = (
            mixing.mixed_constants(constants=np.array(constants), shares=shares)
            for constants in zip(*((p.K_per_um, p.S_per_um) for p, _ in self.ingredients), strict=True)
        )
        return cones.medium(K_per_um=K, S_per_um=S)

    @property
    def is_metal(self) -> bool:
        """Whether there are flakes in it: no K and S tell what it looks like."""
        return any(paint.flakes is not None and parts > 0.0 for paint, parts in self.ingredients)

    @property
    def cover_per_um(self) -> float:
        """Area of its flakes of metal per area of a dry film and µm of it."""
        each = np.array([0.0 if p.flakes is None else p.flakes.cover_per_um for p, _ in self.ingredients])
        return float(each @ mixing.dry_shares(parts=self.parts, volume_solids=self.solids))

    @property
    def volume_solids(self) -> float:
        """Volume solids of the mix as sprayed, thinner included."""
        return float(mixing.mixed_volume_solids(parts=self.parts, volume_solids=self.solids)) / (
            1.0 + self.thinning
        )

    @property
    def wet_film_um(self) -> float:
        """Suggested wet film of one coat: the ingredients' own, by their parts, µm."""
        films = np.array([paint.wet_film_um for paint, _ in self.ingredients])
        return float(self.parts @ films / self.parts.sum())

    @property
    def sheen(self) -> float:
        """Sheen of the dry mix: the ingredients' own, by their share of the dry film.

        As a share of the usual first reflection, so that a stronger one counts as more.
        """
        shares = mixing.dry_shares(parts=self.parts, volume_solids=self.solids)
        return float(shares @ np.array([paint.share_seen for paint, _ in self.ingredients]))

    def words(self) -> str:
        """Return the recipe in words: "5 navy blue : 1 blue ink, thinned 1:1"."""
        if len(self.ingredients) == 1:
            text = self.ingredients[0][0].name
        else:
            text = " : ".join(f"{parts:g} {paint.name}" for paint, parts in self.ingredients)
        return f"{text}, thinned {self.thinning:g}:1" if self.thinning else text


@dataclass(frozen=True)
class Coat:
    """One step with brush or airbrush: a mix, how often, how thick and where."""

    name: str
    mix: Mix
    coats: int
    dry_film_um: float
    """Dry film of one coat, where it lands in full."""
    spread: float
    """Relative spread of one coat's film from site to site, 0..1."""
    where: Where = field(default_factory=Where)
    is_filter: bool = False
    """Whether this is the filter (glaze over everything) whose effect is shown before and after."""
    patch: str | None = None
    """Name of a local effect (chips, streaks, a pin wash): the coat lies on this part alone."""
    coverage: float = 1.0
    """Share of the area under the patch, 0..1; 1 where there is no patch."""
    sheen: float | None = None
    """Instead of the mix's own."""
    by: str = "airbrush"
    """What it is laid with: "airbrush" or "brush"."""
    on_form: str | None = None
    """Where it lands on a form in space, one of :data:`ON_FORM`, if not where its kind usually does."""
    film_from: str = "dry"
    """Where the film is from: "dry" or "wet" if the scheme gives it, "paint" for the paints' own."""

    @property
    def total_film_um(self) -> float:
        """Dry film of all its coats, µm."""
        return self.coats * self.dry_film_um

    @property
    def is_wash(self) -> bool:
        """Whether it is of washes alone, medium aside."""
        return {paint.kind for paint, _ in self.mix.ingredients} - {"medium"} == {"wash"}

    @property
    def dry_sheen(self) -> float:
        """Sheen of the dry coat, 0 (gloss) to 1 (matt)."""
        return self.mix.sheen if self.sheen is None else self.sheen

    def words(self) -> str:
        """Return the step in words, for a label."""
        coats = f"{self.coats} coat" + ("" if self.coats == 1 else "s")
        film = f"{film_words(self.total_film_um)} dry"
        local = "" if self.patch is None else f", on {self.coverage * 100:g} % of the area"
        place = "" if self.where.everywhere else f", {self.where.words()}"
        return f"{self.mix.words()}, {coats}, {film}{place}{local}"


@dataclass(frozen=True)
class GreysGiven:
    """A preshade whose greys are known: read off a photograph, or measured."""

    darkest: float
    lightest: float
    """L* in the deepest shadow and at the full highlight, as seen."""
    sheen: float
    spotted: float = 0.0
    """How far the greys are spots of white beside bare primer, 0..1: 0 are even films, 1 sites as light as
    the lightest and as dark as the darkest grey, and none between. A scheme file that is silent has 0.2."""
    tint: float = 0.0
    """How blue the middle greys are: their reflectance goes with the wavelength to the power of minus this. A
    scheme file has 0.3, between grey paints (0) and white over black (0.6)."""


@dataclass(frozen=True)
class GreysSprayed:
    """A preshade worked out from passes of thinned white over the primer."""

    mix: Mix
    passes: int
    dry_film_um: float
    """Dry film of one pass where the surface faces the spray."""
    spread: float
    """Relative spread of one pass, 0..1."""
    reach: float
    """Share of that film that drifts into the deepest shadow, 0..1."""
    film_from: str = "dry"
    """As :attr:`Coat.film_from`."""
    spot_um: float = 0.0
    """Dry film of the spot that one droplet leaves; 0 for droplets too fine to matter."""

    @property
    def total_film_um(self) -> float:
        """Dry film of all passes where the surface faces the spray, µm."""
        return self.passes * self.dry_film_um


Preshade: TypeAlias = GreysGiven | GreysSprayed


@dataclass(frozen=True)
class Targets:
    """Colours to reach, as L*a*b* relative to the light's white, shape (3,); None where not asked.

    `on_screen` and `doubts` go by place: "shadow", "mid", "light".
    """

    shadow: Annotated[FloatArray | None, Key(TARGET, "in the deepest shadow")] = None
    mid: Annotated[FloatArray | None, Key(TARGET, "halfway")] = None
    light: Annotated[FloatArray | None, Key(TARGET, "at the full highlight")] = None
    on_screen: frozenset[str] = frozenset()
    """Those whose colour is a screen's: their L*a*b* stands for daylight (D65, 2°)."""
    doubts: Mapping[str, float] = field(default_factory=dict)
    """Half the range that holds nine of ten for each of L*, a* and b*, where it is not the usual one."""

    @property
    def given(self) -> dict[str, FloatArray]:
        """Return the targets there are, by place."""
        return {place: lab for place in PLACES if (lab := getattr(self, place)) is not None}

    def under(self, viewing: Viewing) -> Targets:
        """Return the same targets as L*a*b* under a light, see :meth:`Target.under`."""
        seen = {
            place: Target(lab, place in self.on_screen).under(viewing) for place, lab in self.given.items()
        }
        return targets_of(**{place: Target(lab, doubt=self.doubt(place)) for place, lab in seen.items()})

    def doubt(self, place: str) -> float:
        """Return how far each of L*, a* and b* of a target may be off, nine times in ten."""
        return self.doubts.get(place, PICKED_DOUBT if place in self.on_screen else MEASURED_DOUBT)


def targets_of(**given: Target | None) -> Targets:
    """Return targets, a keyword a place."""
    known = {place: target for place, target in given.items() if target is not None}
    shadow, mid, light = (known[place].lab if place in known else None for place in PLACES)
    return Targets(
        shadow,
        mid,
        light,
        on_screen=frozenset(place for place, target in known.items() if target.on_screen),
        doubts={place: target.doubt for place, target in known.items() if target.doubt is not None},
    )


@dataclass(frozen=True)
class Area:
    """One part of the model that is painted alike: cloth, straps, lenses."""

    name: str
    ground: Paint
    """The primer, taken as opaque."""
    preshade: Preshade | None
    coats: tuple[Coat, ...]
    """In order of work."""
    targets: Targets = field(default_factory=Targets)
    extent: Extent = field(default_factory=Extent)
    """How much of the model it is."""

    @property
    def is_metal(self) -> bool:
        """Whether flakes of metal are anywhere in it: it looks different from every side."""
        mixes = [self.preshade.mix] if isinstance(self.preshade, GreysSprayed) else []
        mixes += [coat.mix for coat in self.coats]
        return self.ground.flakes is not None or any(mix.is_metal for mix in mixes)

    def __getitem__(self, coat: str) -> Coat:
        """Return the coat of a name; raises UnknownNameError, with the nearest one, if there is none."""
        return named(self.coats, coat, kind="coats")

    def __repr__(self) -> str:
        return f"<Area {self.name!r}: {', '.join(coat.name for coat in self.coats)} over {self.ground.name}>"


@dataclass(frozen=True)
class Hand:
    """How exactly the painter works; each error is one standard deviation.

    The first three are from one session to the next and act on a whole batch alike; the others set the models
    of one batch apart. The defaults are assumptions: common practice, no source.
    """

    film: Annotated[float, Key(SHARE, "relative error of a coat's film from one session to the next")] = 0.15
    parts: Annotated[float, Key(SHARE, "relative error of one ingredient's part in a mix")] = 0.05
    greys: Annotated[float, Key(number(0, 30, unit="L*"), "error of given greys")] = 2.0
    models: Annotated[float, Key(SHARE, "relative error of a coat's film from one model to the next")] = 0.05
    drift: Annotated[
        float, Key(SHARE, "by how much, relative, the film on the last model differs from the first's")
    ] = 0.06
    slips: Annotated[float, Key(SHARE, "chance that a coat is laid once too few or too many on a model")] = (
        0.002
    )
    mixes: Annotated[
        int, Key(whole(1, MOST_COATS), "how often a mix is made for one batch, each with errors of its own")
    ] = 1
    sheen: Annotated[float, Key(SHARE, "error of the finish's sheen from one model to the next")] = 0.02
    satin: Annotated[
        float,
        Key(number(0, 0.5), "doubt of how much of a surface's reflection is seen, of the sheen's share"),
    ] = 0.0
    """A scheme file that does not say has 0.10."""
    model: Annotated[
        float, Key(number(0, 5), "by how much the film model's own error counts: 0 as if it were true")
    ] = 1.0


@dataclass(frozen=True)
class Scheme:
    """Everything a scheme file says, with its paints found."""

    name: str
    areas: tuple[Area, ...]
    viewing: Viewing = field(default_factory=Viewing)
    hand: Hand = field(default_factory=Hand)
    note: str = ""
    path: Path | None = None
    """The file it came from."""
    notices: tuple[str, ...] = ()
    """What the user should know about how it was read."""
    batch: Batch = field(default_factory=Batch)
    times: Times = field(default_factory=Times)

    def __getitem__(self, area: str) -> Area:
        """Return the area of a name; raises UnknownNameError, with the nearest one, if there is none."""
        return named(self.areas, area, kind="areas")

    def __repr__(self) -> str:
        return f"<Scheme {self.name!r}>" + "".join(f"\n  {area!r}" for area in self.areas)

    def predict(self, *, tones: int = 9, viewing: Viewing | None = None) -> Prediction:
        """Return what it looks like, stage by stage; see :func:`layersim.simulate`, which takes more."""
        from layersim.scheme.simulate import simulate

        return simulate(self, tones=tones, viewing=viewing)

    @property
    def paints(self) -> tuple[Paint, ...]:
        """Return every paint that the scheme names, in the order of work; one used twice stands twice."""
        found: list[Paint] = []
        for area in self.areas:
            mixes = [area.preshade.mix] if isinstance(area.preshade, GreysSprayed) else []
            mixes += [coat.mix for coat in area.coats]
            found += [area.ground, *(paint for mix in mixes for paint, _ in mix.ingredients)]
        return tuple(found)
