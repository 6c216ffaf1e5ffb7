"""The order of work for a batch: which step when, on which areas, in which sitting, and what waits overnight.

Primer and white go onto the whole model at once, where areas have the same.
A step is done on all models before the next mix is filled. Its coats follow each other round by round, each
round after the last has flashed off. Then it rests as ``[times]`` says (:mod:`layersim.scheme.times`).

Within an area the coats follow the scheme. Between areas, spray goes astray: where ``between = "mask"``,
every other area that has been begun is masked before an area is sprayed, and must be dry enough for a mask.
A coat with a hard edge is masked on its own area, too. Whether one area is done before another or both at
once is then chosen so that the least time goes into setting up, filling, rinsing, cleaning out and masking
(:mod:`layersim.plan.sequence`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from layersim.errors import Problem, SchemeError
from layersim.plan.cautions import Caution, cautions
from layersim.plan.offers import Offer, offers_of
from layersim.plan.sequence import (
    MOST_LABELS,
    BestSequence,
    Progress,
    Visit,
    Work,
    best_sequence,
    changes,
)
from layersim.plan.sittings import Sitting, sittings_of
from layersim.plan.steps import hours_s, steps_of, unsaid_carriers
from layersim.scheme.records import GreysGiven, Scheme
from layersim.scheme.simulate import simulate
from layersim.scheme.times import UNKNOWN_CARRIER
from layersim.shown import Shown
from layersim.spectra import FloatArray

MOST_STEPS: Final = 300
"""Steps of all areas together, each part of a step that is done in parts counted."""
_USUAL_STEPS: Final = 50
_FEWEST_LABELS: Final = 30
_LABELS_SOONEST: Final = 600


@dataclass(frozen=True, eq=False)
class Order(Shown):
    """The order of work for a batch."""

    scheme: Scheme
    sittings: tuple[Sitting, ...]
    proven: bool
    """Whether it is certain that no other order takes less time beside laying paint."""
    gap_s: int
    """By how much another order may take less time beside laying paint, at the most."""
    beside_s: int
    """Setting up, filling, rinsing, cleaning out and masking."""
    changes: int
    """Other mixes put into the airbrush within a sitting."""
    clean_outs: int
    """Those at the end of a sitting included."""
    maskings: int
    """Areas masked, each on all models."""
    handle_s: int
    """From when the last film can be handled; seconds from the first sitting's start."""
    offers: tuple[Offer, ...]
    """Sittings that may start late on an earlier day instead, where the batch is done a day sooner so."""
    stages: tuple[FloatArray, ...]
    """For each area L*a*b* of the middle tone after each of its whole steps, shape (steps, 3)."""
    cautions: tuple[Caution, ...]
    notices: tuple[str, ...]
    soonest: bool = True
    """Whether it is certain that no other order, but `sooner`, is done in an earlier sitting."""
    sooner: Order | None = None
    """The order that is done in the earliest sitting, where that is an earlier one and takes more time."""

    @property
    def visits(self) -> tuple[Visit, ...]:
        """All visits, in order."""
        return tuple(visit for sitting in self.sittings for visit in sitting.visits)


def order(scheme: Scheme, *, most_labels: int = MOST_LABELS, progress: Progress | None = None) -> Order:
    """Return the order of work for a scheme's batch that takes least time beside laying paint.

    Where another is done in an earlier sitting, it stands beside it. `most_labels` unfinished orders are
    kept at one stage. `progress` is told what is done of how much. Raises SchemeError if a step takes
    longer than a sitting on one model, or if there is more to do than :data:`MOST_STEPS`.
    """
    work = Work(steps_of(scheme), scheme.times, scheme.batch.models)
    steps = sum(len(chain) for chain in work.chains)
    if steps > MOST_STEPS:
        said = f"{steps} pieces of work, as long steps are shared out over sittings"
        hint = "Split the batch, or sit longer."
        problem = Problem("[batch], models", said, f"at most {MOST_STEPS}", hint=hint)
        raise SchemeError(scheme.path or scheme.name, [problem])
    # So that the search for a large batch takes no longer than that for a usual one.
    most_labels = max(_FEWEST_LABELS, most_labels * _USUAL_STEPS**2 // max(steps, _USUAL_STEPS) ** 2)

    def told(half: int) -> Progress | None:
        return None if progress is None else lambda done, every: progress(half * every + done, 2 * every)

    least = best_sequence(work, most_labels=most_labels, progress=told(0))
    found = _order(scheme, work, least)
    if not least.visits:
        return found
    soonest = best_sequence(
        work, most_labels=min(most_labels, _LABELS_SOONEST), goal="soonest", known=least, progress=told(1)
    )
    if progress is not None:
        progress(1, 1)
    if soonest.visits[-1].sitting == least.visits[-1].sitting:
        return replace(found, soonest=soonest.proven)
    return replace(found, soonest=soonest.proven, sooner=_order(scheme, work, soonest))


def _order(scheme: Scheme, work: Work, found: BestSequence) -> Order:
    sittings = sittings_of(work, found.visits)
    handle = [v.ends_s + hours_s(step.drying.handle_h) for v in found.visits for step in v.steps]
    strips = sum(visit.empties == "clean-out" for visit in found.visits)
    return Order(
        scheme=scheme,
        sittings=sittings,
        proven=found.proven,
        gap_s=found.cost_s - found.least_s,
        beside_s=found.cost_s,
        changes=changes(found.visits),
        clean_outs=strips + sum(sitting.clean_out for sitting in sittings),
        maskings=sum(
            len(visit.masked) + sum(s.hard_edge and s.part == 1 for s in visit.steps)
            for visit in found.visits
        ),
        handle_s=max(handle, default=0),
        offers=offers_of(work, sittings),
        stages=_stages(scheme),
        cautions=cautions(scheme),
        notices=tuple(_notices(scheme)),
    )


def _stages(scheme: Scheme) -> tuple[FloatArray, ...]:
    first = 0 if scheme.batch.primer_coats else 1
    return tuple(area.lab[first:, 1] for area in simulate(scheme, tones=3, sites=1, draws=0).areas)


def _notices(scheme: Scheme) -> list[str]:
    notices = []
    unsaid = unsaid_carriers(scheme)
    if unsaid:
        notices.append(
            f"{', '.join(unsaid)}: no file says what carries it, so it is given the times of "
            f"{UNKNOWN_CARRIER}-borne paint"
        )
    if any(isinstance(area.preshade, GreysGiven) for area in scheme.areas):
        notices.append("a preshade given by its greys is sprayed with the others' white, or as one coat")
    return notices
