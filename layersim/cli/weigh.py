"""Learn transfer efficiency and drop size from a small balance, and keep them in a sprayer's profile."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from layersim.cli.arguments import add_shelf, shelf_from, whole_number
from layersim.cli.numbers import number
from layersim.cli.output import add_outputs, outputs, sentences
from layersim.errors import LayersimError, quoted

if TYPE_CHECKING:
    from layersim.estimate import Estimate
    from layersim.plan.weighing import Run

_HOW = """\
Cards: weigh a card cut to the outline of your figure, and the filled cup. Spray the card as you spray a
figure. Weigh the cup at once, and the card when it is dry. Three cards say how much it varies.
Solids of the mix as sprayed, one of: --solids, by mass; --dried WET:DRY, a little of the mix weighed
wet and dry; or --paint NAME with --thinning and both densities.
Drops: count ten drops onto the balance, from the bottle and at the angle you always use."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.epilog = _HOW
    parser.add_argument(
        "sprayer", help="name of the sprayer, whose profile in your own folder is made or changed; or a .toml"
    )
    parser.add_argument(
        "--card", action="append", metavar="GAIN:LOSS", help="gain of a dry card : loss of the cup, grams"
    )
    parser.add_argument("--solids", type=number, metavar="SHARE", help="solids by mass of the mix, 0 to 1")
    parser.add_argument("--dried", metavar="WET:DRY", help="some of the mix weighed wet and dry, grams")
    parser.add_argument("--paint", metavar="NAME", help="take its volume solids instead")
    parser.add_argument("--thinning", type=number, default=0.0, metavar="N", help="drops of thinner to one")
    parser.add_argument("--density", type=number, metavar="G_PER_ML", help="of the liquid (1.0 for water)")
    parser.add_argument("--dry-density", type=number, metavar="G_PER_ML", help="of the dry film")
    parser.add_argument(
        "--drops", type=whole_number, metavar="N", help="how many drops were weighed together"
    )
    parser.add_argument(
        "--weight", action="append", type=number, metavar="G", help="of those drops; repeat it"
    )
    parser.add_argument(
        "--balance", type=number, default=0.01, metavar="G", help="what it is sure to (0.01 g)"
    )
    add_outputs(parser)
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.sprayer import keep, profile, replaced_words, updated

    if not asked.card and not asked.weight:
        raise LayersimError("nothing was weighed: give --card GAIN:LOSS, or --drops N --weight G")
    if not 0.0 <= asked.balance < 100.0:
        raise LayersimError(f"--balance: found {asked.balance:g}; expected grams, 0 or more")
    to = outputs(asked)
    path, before = profile(asked.sprayer)
    efficiency = _efficiency(asked) if asked.card else None
    drop = _drop(asked) if asked.weight else None
    after = updated(before, transfer_efficiency=efficiency, drop_ul=drop)
    keep(after, path)
    lines, notices = [], []
    if efficiency is not None:
        lines.append(f"Transfer efficiency: {efficiency.words()}; {efficiency.basis}.")
        if efficiency.high > 1.0:
            notices.append("the upper end is more than all there was: weigh again, on a finer balance")
        lines.append(
            replaced_words(before.transfer_efficiency, efficiency, heading="transfer_efficiency", path=path)
        )
    if drop is not None:
        lines.append(f"One drop: {drop.words('µl')}; {drop.basis}.")
        lines.append(replaced_words(before.drop_ul, drop, heading="drop_ul", path=path, unit="µl"))
    lines += [f"Profile: {path}", f"In a scheme: [batch] sprayer = {quoted(after.name)}"]
    found = {"sprayer": after, "path": path}
    sentences([line for line in lines if line], found, to, title=after.name, name="weigh", notices=notices)
    return 0


def _efficiency(asked: argparse.Namespace) -> Estimate:
    from layersim.plan.weighing import Run, transfer_efficiency

    solids, error = _solids(asked)
    runs: list[Run] = [Run(*_pair("--card", text)) for text in asked.card]
    return transfer_efficiency(runs, solids_by_mass=solids, solids_error=error, balance_g=asked.balance)


def _solids(asked: argparse.Namespace) -> tuple[float, float]:
    """Return the solids by mass of the mix as sprayed, and their relative error."""
    import math

    from layersim.plan.weighing import SOLIDS_ERROR, mass_solids

    ways = [way for way in ("solids", "dried", "paint") if getattr(asked, way) is not None]
    if len(ways) != 1:
        found = "none of them" if not ways else " and ".join(f"--{way}" for way in ways)
        raise LayersimError(
            f"--card needs the solids: found {found}; expected one of --solids, --dried, --paint"
        )
    if asked.solids is not None:
        if not 0.0 < asked.solids <= 1.0:
            hint = f" {asked.solids:g} % is {asked.solids / 100.0:g} here." if asked.solids > 1.0 else ""
            raise LayersimError(
                f"--solids: found {asked.solids:g}; expected a share above 0, at most 1.{hint}"
            )
        return asked.solids, SOLIDS_ERROR / 2.0
    if asked.dried is not None:
        wet, dry = _pair("--dried", asked.dried)
        if not 0.0 < dry < wet:
            raise LayersimError(f"--dried: found {wet:g} g wet and {dry:g} g dry; expected less when dry")
        return dry / wet, math.sqrt(2.0) * asked.balance * math.hypot(1.0 / wet, 1.0 / dry)
    if asked.density is None or asked.dry_density is None:
        raise LayersimError(
            "--paint gives solids by volume; to have them by mass, give --density and --dry-density, too"
        )
    for name, density in (("--density", asked.density), ("--dry-density", asked.dry_density)):
        if not 0.1 <= density <= 20.0:
            raise LayersimError(f"{name}: found {density:g} g/ml; expected one from 0.1 to 20")
    if not 0.0 <= asked.thinning <= 100.0:
        raise LayersimError(f"--thinning: found {asked.thinning:g}; expected drops to one, from 0 to 100")
    paint = shelf_from(asked).find(asked.paint)
    solids = paint.volume_solids / (1.0 + asked.thinning)
    share = mass_solids(volume_solids=solids, dry_density=asked.dry_density, wet_density=asked.density)
    return share, SOLIDS_ERROR


def _drop(asked: argparse.Namespace) -> Estimate:
    from layersim.plan.weighing import DENSITY_ERROR, drop_size_ul

    if asked.drops is None:
        raise LayersimError("--weight: found no --drops; expected how many drops were weighed together")
    density = 1.0 if asked.density is None else asked.density
    error = DENSITY_ERROR if asked.density is None else 0.0
    return drop_size_ul(
        asked.weight, drops=asked.drops, density=density, density_error=error, balance_g=asked.balance
    )


def _pair(option: str, text: str) -> tuple[float, float]:
    first, colon, second = text.partition(":")
    try:
        if not colon:
            raise ValueError
        return float(first), float(second)
    except ValueError:
        hint = " Write decimals with a point." if "," in text else ""
        raise LayersimError(
            f"{option}: found {quoted(text)}; expected two weights in grams with a colon between, "
            f"such as 0.12:1.40.{hint}"
        ) from None
