"""Say in which order to do a batch: sitting by sitting, with drying, masks, and what waits overnight.

Among all orders the one is found that takes the least time beside laying paint: setting up, filling,
rinsing, cleaning out, masking. Times stand under [times] in the scheme; --times prints that table.
"""

from __future__ import annotations

import argparse
import dataclasses
from pathlib import Path

from layersim.cli.arguments import add_shelf, scheme_from, whole_number
from layersim.cli.numbers import number
from layersim.cli.output import add_outputs, outputs, show
from layersim.cli.progress import progress_line


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    parser.add_argument("--models", type=whole_number, metavar="N", help="for so many models instead")
    parser.add_argument(
        "--session", type=number, metavar="HOURS", help="sittings of so many hours instead of the scheme's"
    )
    parser.add_argument("--times", action="store_true", help="print the times used, as a table to edit")
    add_outputs(parser, usual="NAME-order.png in this folder")
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.errors import LayersimError
    from layersim.plan.order import order
    from layersim.scheme.times import times_text
    from layersim.views.order import view

    if asked.times and asked.picture is not None:
        raise LayersimError("--out and --times: found both; expected one of them")
    to = outputs(asked, asked.scheme, usual="" if asked.times else f"{asked.scheme.stem}-order.png")
    scheme = scheme_from(asked)
    if asked.session is not None:
        if not 0.0 < asked.session <= 24.0:
            raise LayersimError(f"--session: found {asked.session:g}; expected hours, above 0, at most 24")
        every = max(scheme.times.every_h, asked.session)
        times = dataclasses.replace(scheme.times, session_h=asked.session, every_h=every)
        scheme = dataclasses.replace(scheme, times=times)
    if asked.times:
        print(times_text(scheme.times), end="")
        return 0
    plan = order(scheme, progress=progress_line("orders"))
    show(view(plan), plan, to, name="order")
    return 0
