"""Colours that came out, as people give them: numbers, a screen's colour, or a spot of a photograph."""

from __future__ import annotations

import argparse
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from layersim.documents.typed import plain_number

if TYPE_CHECKING:
    from layersim.colour import Viewing
    from layersim.fitting.chip import Grey, Reference, SeenSpot
    from layersim.spectra import FloatArray


def add_grey(parser: argparse.ArgumentParser) -> None:
    """Add where grey cards lie in photographs."""
    parser.add_argument(
        "--grey", action="append", metavar="X,Y[=SHARE]",
        help="where a grey card is in the photograph, in per cent, and what it reflects (0.18); more of them "
        "tell more; without, a 24-patch chart is looked for",
    )  # fmt: skip


@dataclass
class Photographs:
    """Photographs that spots are read from, each opened once."""

    greys: list[str] | None
    notes: list[str] = field(default_factory=list)
    """What to know of what was read."""
    _open: dict[Path, Reference] = field(default_factory=dict)

    def read(self, text: str, viewing: Viewing) -> tuple[FloatArray, float] | None:
        """Return L*a*b* and doubt of a spot written as ``FILE@X,Y``; None for any other text."""
        file, at_sign, place = text.rpartition("@")
        if not at_sign or not file.strip():
            return None
        found = self.spot(Path(file.strip()), place, viewing)
        return found.lab, found.doubt

    def spot(self, path: Path, place: str, viewing: Viewing) -> SeenSpot:
        """Return the colour of a spot of a photograph, and note how it was read."""
        from layersim.decide.spot import point_from
        from layersim.fitting.chip import read_reference, spot_seen

        at = point_from(place)
        if path not in self._open:
            self._open[path] = read_reference(path, greys=greys_from(self.greys))
            self.notes += [f"{path.name}: {note}" for note in self._open[path].notes]
        found = spot_seen(self._open[path], at, viewing=viewing)
        self.notes += [f"{path.name}: {note}" for note in found.notes]
        L, a, b = (round(float(value), 2) + 0.0 for value in found.lab)
        by = "the grey cards" if self.greys else "the chart"
        self.notes.append(
            f"{path.name} at {place.strip()}: L* {L:.1f} ± {found.lightness_doubt:.1f}, a* {a:.1f}, "
            f"b* {b:.1f}, all three ± {found.doubt:.1f} on average, by {by} in the picture"
        )
        return found


def screen_lab(text: str) -> FloatArray | None:
    """Return the L*a*b* for daylight of a screen's colour; None for any other text."""
    from layersim.colour import lab_of_hex

    return lab_of_hex(text.strip()) if re.fullmatch(r"#[0-9a-fA-F]{6}", text.strip()) else None


def screen_note(place: str) -> str:
    """Return what to know of a chip's colour off a screen."""
    from layersim.log import SCREEN_DOUBT

    return (
        f"{place}: a colour off a screen may be off by {SCREEN_DOUBT:.0f} either way, and counts for little. "
        "Photographed beside a 24-patch chart it is read from the picture: FILE@X,Y"
    )


def greys_from(texts: list[str] | None) -> list[Grey]:
    """Return the grey cards that ``--grey`` names; raises LayersimError."""
    from layersim.decide.spot import point_from
    from layersim.errors import LayersimError, quoted
    from layersim.fitting.chip import GREY_CARD, Grey

    found = []
    for text in texts or []:
        place, equals, share = text.partition("=")
        reflects = plain_number(share.rstrip("% ")) if equals else GREY_CARD
        if reflects is not None and "%" in share:
            reflects /= 100.0
        if reflects is None or not 0.01 <= reflects <= 1.0:
            raise LayersimError(
                f"--grey: found {quoted(text)}; expected X,Y, or X,Y=SHARE with the share of light that it "
                "reflects, 0.01 to 1, such as 20,80=0.18"
            )
        try:
            found.append(Grey(point_from(place), reflects))
        except LayersimError as fault:
            raise LayersimError(f"--grey: {fault}") from None
    return found
