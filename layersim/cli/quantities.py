"""Say how much of everything to mix for a batch: drops, millilitres, ranges, what to buy, cautions.

To print the drops beside the coats: layersim card.
"""

from __future__ import annotations

import argparse
import dataclasses
from pathlib import Path

from layersim.cli.arguments import Parser, add_shelf, check_range, extra_folders, whole_number
from layersim.cli.numbers import number
from layersim.cli.output import add_outputs, outputs, show
from layersim.errors import LayersimError, UnknownNameError, nearest_hint, quoted
from layersim.scheme.batch import MOST_MODELS, MOST_SURFACE_CM2, Batch
from layersim.scheme.records import Scheme


def add_arguments(parser: Parser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file; its [batch] table says how many and how")
    parser.add_argument("--models", type=whole_number, metavar="N", help="for so many models instead")
    surface = parser.add_mutually_exclusive_group()
    surface.add_argument("--surface", type=number, metavar="CM2", help="surface of one model, cm², instead")
    surface.add_argument("--size", metavar="CLASS", help='size class of the model, such as "1/35 figure"')
    surface.add_argument(
        "--mesh", type=Path, metavar="FILE", help="a mesh of one model: .stl, .obj, .ply ..."
    )
    parser.add_argument(
        "--mesh-mm", type=number, metavar="MM", help="millimetres to one unit of the mesh (1)"
    )
    parser.add_argument("--sprayer", metavar="NAME", help="your sprayer's profile; see: layersim weigh")
    parser.add_argument(
        "--coat", action="append", metavar="NAME", help="this coat's mix only; may be repeated"
    )
    add_outputs(parser)
    add_shelf(parser)
    parser.once = {"--step": "--coat"}


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.plan.quantities import quantities
    from layersim.plan.shopping import purchases
    from layersim.scheme.reading import load_scheme
    from layersim.views.quantities import view

    to = outputs(asked, asked.scheme)
    scheme = load_scheme(asked.scheme, folders=extra_folders(asked))
    scheme = dataclasses.replace(scheme, batch=_batch(asked, scheme.batch))
    _check_steps(asked.coat, scheme)
    found = quantities(scheme, steps=asked.coat or ())
    bought, _ = purchases(found)
    answer = {"quantities": found, "purchases": bought}
    show(view(found), answer, to, name="quantities")
    return 0


def _batch(asked: argparse.Namespace, batch: Batch) -> Batch:
    """Return the scheme's batch with what the arguments say instead."""
    from layersim.estimate import Estimate
    from layersim.scheme.batch import GIVEN_ERROR
    from layersim.scheme.figures import SIZES
    from layersim.sprayer import find_sprayer

    changes: dict[str, object] = {}
    if asked.models is not None:
        check_range("--models", asked.models, 1, MOST_MODELS)
        changes["models"] = asked.models
    if asked.surface is not None:
        if not 0.0 < asked.surface <= MOST_SURFACE_CM2:
            raise LayersimError(
                f"--surface: found {asked.surface:g}; expected cm² of one model, above 0, "
                f"at most {MOST_SURFACE_CM2:g}"
            )
        changes |= {"surface_cm2": Estimate(asked.surface, GIVEN_ERROR, "as given; its error is assumed")}
    if asked.size is not None:
        if asked.size not in SIZES:
            hint = nearest_hint(asked.size, SIZES, kind="size classes")
            raise UnknownNameError(f"--size: no size class {quoted(asked.size)}. {hint}")
        changes |= {"size": asked.size, "surface_cm2": None, "mesh": None}
    if asked.mesh is not None:
        changes |= {"mesh": asked.mesh}
    if asked.surface is not None:
        changes |= {"mesh": None}
    if asked.mesh_mm is not None:
        if asked.mesh is None and (batch.mesh is None or asked.surface is not None or asked.size is not None):
            raise LayersimError("--mesh-mm: found no mesh whose unit it could be; expected one: --mesh FILE")
        if not 0.0 < asked.mesh_mm <= 1e4:
            raise LayersimError(f"--mesh-mm: found {asked.mesh_mm:g}; expected millimetres, above 0")
        changes["mesh_mm"] = asked.mesh_mm
    if asked.sprayer is not None:
        sprayer = find_sprayer(asked.sprayer, asked.scheme.parent)
        changes["sprayer"] = sprayer
        changes["transfer_efficiency"] = sprayer.transfer_efficiency or batch.transfer_efficiency
        changes["drop_ul"] = sprayer.drop_ul or batch.drop_ul
    return dataclasses.replace(batch, **changes)  # type: ignore[arg-type]


def _check_steps(wanted: list[str] | None, scheme: Scheme) -> None:
    known = ["primer", "preshade", *(coat.name for area in scheme.areas for coat in area.coats)]
    for name in wanted or []:
        if name not in known:
            hint = nearest_hint(name, known, kind="coats")
            raise UnknownNameError(f"--coat: no coat {quoted(name)}. {hint}")
