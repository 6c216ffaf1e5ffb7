"""Say whether a scheme can be used; if not, everything that is wrong with it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from layersim.cli.arguments import add_shelf, extra_folders
from layersim.cli.output import add_outputs, outputs, sentences

if TYPE_CHECKING:
    from layersim.scheme.records import Scheme


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    add_outputs(parser)
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.scheme.reading import load_scheme
    from layersim.scheme.simulate import simulate

    to = outputs(asked, asked.scheme)
    scheme = load_scheme(asked.scheme, folders=extra_folders(asked))
    notices = list(simulate(scheme, tones=9, sites=1, draws=0).notices)
    unanswered = _for_quantities(scheme)
    if unanswered:
        notices.append(f"layersim quantities cannot use it yet: {unanswered.rstrip('.')}")
    lines = []
    for area in scheme.areas:
        coats = f"{len(area.coats)} coat" + ("" if len(area.coats) == 1 else "s")
        lines.append(f"{area.name}: {coats} over {area.ground.name}")
    title = f"{asked.scheme}: {'nothing else' if unanswered else 'nothing'} wrong in it."
    sentences(
        lines,
        {"scheme": scheme, "areas": lines, "notices": notices},
        to,
        title=title,
        name="check",
        notices=notices,
    )
    return 0


def _for_quantities(scheme: Scheme) -> str:
    """Return why the surfaces of the scheme's areas cannot be used; empty where they can."""
    from layersim.errors import InputFileError, LayersimError
    from layersim.plan.surfaces import area_surfaces

    try:
        area_surfaces(scheme)
    except InputFileError as fault:
        # The scheme's own name stands at the end of what is said; a mesh's must be told.
        return " ".join(map(str, fault.problems)) or str(fault)
    except LayersimError as fault:
        return str(fault)
    return ""
