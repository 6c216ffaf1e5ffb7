"""Logged chips as swatches of a paint, for the fit.

Two spectra of one place, before and after a step, are a swatch: what was measured before is its ground, what
was measured after it the swatch, and the step says what was laid in between.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from layersim.documents.writing import toml
from layersim.errors import LayersimError, UnknownNameError, nearest_hint, quoted
from layersim.learn.really import Measured, measured_chips, paint_names, step_names, step_of
from layersim.learn.then import no_copy_words, schemes_then
from layersim.log import Log
from layersim.names import slug
from layersim.paint import Paint
from layersim.scheme.oddities import stages_of
from layersim.scheme.records import Coat, GreysSprayed, Scheme
from layersim.scheme.simulate import AreaModel
from layersim.shelf import Shelf

THIS_PAINT: Final = "this paint"
"""Stands in a mix for the paint whose swatches they are: a word of swatches files."""
FACTOR_COUNTED: Final = "the sprayer's film factor is counted in these coats: fit them without --sprayer"
_LEAST_SHARE: Final = 0.5
"""Where less than this of a coat's film lands, its edge is no place for a swatch."""


def swatches_text(
    scheme: Scheme,
    log: Log,
    paint: str,
    *,
    specular: str = "excluded",
    shelf: Shelf | None = None,
    folders: Sequence[Path] = (),
) -> str:
    """Return the swatches of a paint that a log holds, as the text of a swatches file.

    `specular` is "included" or "excluded" by the instrument; `shelf` and `folders` are for
    :func:`~layersim.learn.then.schemes_then`. Raises LayersimError if no spectra before and after a step
    with the paint were logged, and UnknownNameError if the paint is not in the scheme.
    """
    then = schemes_then(scheme, log, shelf=shelf, folders=folders)
    chips, _ = measured_chips(then, log)
    found = list(_pairs(chips, paint))
    if not found:
        known = dict.fromkeys(
            name for one in (scheme, *(each.scheme for each in then)) for name in paint_names(one)
        )
        if slug(paint) not in {slug(name) for name in known}:
            raise UnknownNameError(
                f"no paint {quoted(paint)} in this scheme. {nearest_hint(paint, known, kind='paints')}"
            )
        raise LayersimError(
            f"{log.path}: found no swatch of {quoted(paint)}; expected two chips with spectra at one tone, "
            "before and after a step with it, over no metal. Add them with --chip TONE=FILE#READING."
        )
    record = found[0][3]
    rows = [
        f"# Swatches of {record.name} from the log {log.path.name}: what lay below, and what came of a step.",
        *dict.fromkeys(
            f"# Note: {no_copy_words(one)}." for _, after, _, _ in found for one in after.no_copies
        ),
        *([f"# Note: {FACTOR_COUNTED}."] if any(_has_factor(after) for _, after, _, _ in found) else []),
        'format = "layersim swatches 1"',
        f"name = {toml(record.name)}",
        f'kind = "{record.kind}"',
        f"volume_solids = {record.volume_solids:.6g}",
        f"wet_film_um = {record.wet_film_um:.6g}",
        f"sheen = {record.sheen:.6g}",
        f'specular = "{specular}"',
        f"provenance = {toml(f'sprayed and measured, log of {scheme.name}')}",
    ]
    for number, (before, after, step, _) in enumerate(found, start=1):
        rows += _swatch_rows(number, before, after, step, record)
    return "\n".join(rows) + "\n"


def _pairs(
    chips: Sequence[Measured], paint: str
) -> Iterable[tuple[Measured, Measured, Coat | GreysSprayed, Paint]]:
    """Yield spectra before and after each step with a paint, at one place."""
    for after in chips:
        step = step_of(after.sprayed, after.stage)
        if step is None or after.chip.reflectance is None or getattr(step, "patch", None) is not None:
            continue
        # Metal that was read from one side is no ground: nobody knows what it sends elsewhere.
        if any(one.is_metal for one in stages_of(after.sprayed)[: after.stage]):
            continue
        record = next((p for p, _ in step.mix.ingredients if slug(p.name) == slug(paint)), None)
        before = slug(step_names(after.sprayed)[after.stage - 1])
        below = [
            one
            for one in chips
            if one.chip.reflectance is not None
            and (one.area, slug(one.entry.step), one.chip.tone) == (after.area, before, after.chip.tone)
        ]
        if record is None or not below:
            continue
        if _share(after, step) >= _LEAST_SHARE:
            yield below[-1], after, step, record


def _has_factor(one: Measured) -> bool:
    sprayer = one.scheme.batch.sprayer
    return sprayer is not None and sprayer.film_factor is not None


def _share(one: Measured, step: Coat | GreysSprayed) -> float:
    """Return the share of a coat's film that lands at a chip's place."""
    if isinstance(step, GreysSprayed):
        # How much of the white lies at a tone is what the preshade is about: the full light alone is known.
        return 1.0 if one.chip.tone == "light" else 0.0
    model = AreaModel(one.scheme, one.sprayed, tones=33, sites=1)
    share = step.where.film_share(model.shade)
    return float(one.at_place(share[:, None], model.shade)[0])


def _swatch_rows(
    number: int, before: Measured, after: Measured, step: Coat | GreysSprayed, paint: Paint
) -> Iterable[str]:
    place = f"{after.entry.area}, {after.chip.tone}, {after.entry.at:%Y-%m-%d}"
    below = step_of(before.sprayed, before.stage)
    sheen = after.sprayed.ground.sheen if below is None else below.mix.sheen
    name = step.name if isinstance(step, Coat) else "preshade"
    coats = step.coats if isinstance(step, Coat) else step.passes
    # In the paint's own coats, as the fit counts them: the film that a scheme gives was measured by nobody.
    own_um = paint.wet_film_um * step.mix.volume_solids
    counted = step.total_film_um / own_um * _share(after, step)
    mix = ", ".join(
        f"{toml(THIS_PAINT if slug(p.name) == slug(paint.name) else p.name)} = {parts:g}"
        for p, parts in step.mix.ingredients
    )
    yield from (
        "",
        "[[ground]]",
        f"name = {toml(f'below {number}')}",
        f"sheen = {sheen:.6g}",
        f"reflectance = {_list(before)}",
        "",
        "[[swatch]]",
        f"name = {toml(f'{number}: {name}, {place}')}",
        f"ground = {toml(f'below {number}')}",
        f"mix = {{ {mix} }}",
        f"thinning = {step.mix.thinning:.6g}",
        f"coats = {counted:.6g}   # {coats} of {step.dry_film_um:.3g} µm dry; its own coat is {own_um:.3g}",
    )
    yield f"reflectance = {_list(after)}"


def _list(one: Measured) -> str:
    return "[" + ", ".join(f"{value:.5g}" for value in one.chip.reflectance or ()) + "]"
