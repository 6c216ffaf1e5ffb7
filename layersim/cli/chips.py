"""Colours that came out, as people give them: numbers, a screen's colour, or a spot of a photograph."""

from __future__ import annotations

import argparse
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
        from layersim.documents.points import point_from
        from layersim.fitting.chip import read_reference, spot_seen
        from layersim.views.chip import seen_words

        at = point_from(place)
        if path not in self._open:
            self._open[path] = read_reference(path, greys=greys_from(self.greys))
            self.notes += [f"{path.name}: {note}" for note in self._open[path].notes]
        found = spot_seen(self._open[path], at, viewing=viewing)
        self.notes += [f"{path.name}: {note}" for note in found.notes]
        words = seen_words(found, by_greys=bool(self.greys))
        self.notes.append(f"{path.name} at {place.strip()}: {words}")
        return found


def greys_from(texts: list[str] | None) -> list[Grey]:
    """Return the grey cards that ``--grey`` names; raises LayersimError."""
    from layersim.documents.points import point_from
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
