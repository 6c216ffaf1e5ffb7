"""The model against radiative transfer: stacks over a preshade, from shadow to highlight."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from layersim import colour
from layersim.spectra import FloatArray
from tests.validation.document import table
from tests.validation.errors import VIEW, delta_e, four, two
from tests.validation.models import TWO_CONES, TWO_FLUXES, Constants, Model, straight
from tests.validation.stacks import GEOMETRIES, PALETTES, PIGMENTS, Judged, judged, predicted
from tests.validation.swatches import card, card_by, fitted


@dataclass(frozen=True, eq=False)
class Method:
    """A model with K and S of every pigmentation."""

    model: Model
    source: str
    """Where K and S come from."""
    constants: dict[str, Constants]

    @property
    def name(self) -> str:
        return f"{self.model.name}, {self.source}"

    def stages(self, truth: Judged) -> FloatArray:
        return predicted(self.model, truth.stack, self.constants)


@functools.cache
def methods() -> tuple[Method, ...]:
    """Return both models, each with K and S straight from the pigments and fitted to swatches."""
    physics = {name: straight(pigmentation) for name, pigmentation in PIGMENTS.items()}
    return tuple(
        Method(model, source, constants)
        for model in (TWO_FLUXES, TWO_CONES)
        for source, constants in (
            ("straight", physics),
            ("fitted", {name: fitted(model, name) for name in PIGMENTS}),
        )
    )


@functools.cache
def stage_errors() -> dict[str, tuple[FloatArray, ...]]:
    """Return for each method ΔE00 of every stack, shape (stages, tones)."""
    return {
        method.name: tuple(delta_e(method.stages(truth), truth.stages) for truth in judged())
        for method in methods()
    }


def tables() -> dict[str, str]:
    """Return this section's tables."""
    return {
        "stacks": _overall(),
        "stacks-by-tone": _by_tone(),
        "stacks-lightness": _lightness(),
        "stacks-by-coats": _by_coats(),
        "stacks-by-geometry": _by_geometry(),
        "stacks-filter": _filter(),
        "stacks-worst": _worst(),
        "paints": _paints(),
    }


def _overall() -> str:
    rows = []
    for method in methods():
        for palette in PALETTES:
            finish = [
                errors[-1]
                for errors, truth in zip(stage_errors()[method.name], judged(), strict=True)
                if truth.stack.palette is palette
            ]
            count = f"{len(finish)} × {finish[0].size}"
            rows.append([method.name, palette.name, count, *four(np.concatenate(finish))])
    head = ["model, source of K and S", "pigments", "stacks × tones", "mean", "median", "95 %", "largest"]
    return table(head, rows)


def _by_tone() -> str:
    before = np.mean([colour.lab(truth.stages[0], VIEW)[:, 0] for truth in judged()], axis=0)
    after = np.mean([colour.lab(truth.stages[-1], VIEW)[:, 0] for truth in judged()], axis=0)
    rows = [
        ["L\\* of the preshade", *(f"{L:.0f}" for L in before)],
        ["L\\* of the finish", *(f"{L:.0f}" for L in after)],
    ]
    for name, errors in stage_errors().items():
        finish = np.stack([stack[-1] for stack in errors])
        rows.append([name, *(two(finish[:, tone]) for tone in range(finish.shape[1]))])
    return table(["ΔE00, mean / 95 %", "shadow", *"2345678", "highlight"], rows)


def _lightness() -> str:
    rows = []
    for words, stage in (("preshade", 0), ("finish", -1)):
        true = [colour.lab(truth.stages[stage], VIEW)[:, 0] for truth in judged()]
        for method in methods():
            said = [colour.lab(method.stages(truth)[stage], VIEW)[:, 0] for truth in judged()]
            off = np.mean(said, axis=0) - np.mean(true, axis=0)
            rows.append([f"{words}: {method.name}", *(f"{L:+.1f}" for L in off)])
    return table(["L\\* too light, mean", "shadow", *"2345678", "highlight"], rows)


def _by_coats() -> str:
    most = max(len(truth.stack.coats) for truth in judged())
    rows = []
    for name, errors in stage_errors().items():
        by_stage = [np.concatenate([stack[n] for stack in errors if len(stack) > n]) for n in range(most + 1)]
        rows.append([name, *(two(stage) for stage in by_stage)])
    head = ["ΔE00, mean / 95 %", "preshade", "1 coat", *(f"{n} coats" for n in range(2, most + 1))]
    return table(head, rows)


def _by_geometry() -> str:
    rows = []
    for geometry, (words, sheen) in GEOMETRIES.items():
        cells = []
        for method in methods():
            errors = [
                delta_e(
                    predicted(method.model, truth.stack, method.constants, sheen=sheen)[-1],
                    truth.finish[geometry],
                )
                for truth in judged()
            ]
            cells.append(two(np.concatenate(errors)))
        rows.append([words, *cells])
    return table(["ΔE00, mean / 95 %", *(method.name for method in methods())], rows)


def _filter() -> str:
    sizes = []
    for truth in judged():
        after = truth.stack.glaze + 1
        lab = colour.lab(truth.stages, VIEW)
        sizes.append(colour.delta_e_2000(lab[after - 1], lab[after]))
    rows = [["the glaze itself", *four(np.concatenate(sizes))]]
    for method in methods():
        wrong = []
        for truth in judged():
            after = truth.stack.glaze + 1
            true, said = colour.lab(truth.stages, VIEW), colour.lab(method.stages(truth), VIEW)
            # The predicted change, begun from where the true one begins.
            moved = true[after - 1] + said[after] - said[after - 1]
            wrong.append(colour.delta_e_2000(moved, true[after]))
        rows.append([f"wrong by: {method.name}", *four(np.concatenate(wrong))])
    return table(["change by the glaze, ΔE00", "mean", "median", "95 %", "largest"], rows)


def _worst() -> str:
    method = methods()[-1]
    found = []
    for errors, truth in zip(stage_errors()[method.name], judged(), strict=True):
        tone = int(errors[-1].argmax())
        said, true = (colour.lab(R[-1, tone], VIEW) for R in (method.stages(truth), truth.stages))
        found.append((float(errors[-1, tone]), truth, tone, said, true))
    found.sort(key=lambda one: -one[0])
    rows = [
        [
            f"{truth.stack.palette.name}: {truth.stack.words()}",
            str(tone + 1),
            f"{error:.2f}",
            ", ".join(f"{value:.1f}" for value in true),
            ", ".join(f"{value:+.1f}" for value in said - true),
        ]
        for error, truth, tone, said, true in found[:6]
    ]
    return table(["stack", "tone", "ΔE00", "true L\\*, a\\*, b\\*", "off by"], rows)


def _paints() -> str:
    rows = []
    for palette in PALETTES:
        for name, pigmentation in palette.pigments.items():
            measured = card(name)
            cells = [
                delta_e(card_by(method.model, method.constants[name], measured.bare), measured.painted)
                for method in methods()
            ]
            g = float(np.mean(pigmentation.g))
            rows.append(
                [f"{name} ({palette.name})", f"{g:.2f}", *(f"{c.mean():.2f} / {c.max():.2f}" for c in cells)]
            )
    return table(["ΔE00, mean / largest of six swatches", "g", *(method.name for method in methods())], rows)
