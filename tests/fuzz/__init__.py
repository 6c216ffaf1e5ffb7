"""Texts and pictures with slips in them: every reader must read them or say what is wrong, nothing else.

``python -m tests.fuzz`` tries 100,000 of either, ``python -m tests.fuzz 5000 7`` 5,000 from seed 7.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from layersim.cli.chips import Photographs, greys_from
from layersim.colour import Viewing
from layersim.decide.choices import asked_in_file
from layersim.decide.targets import colour_from
from layersim.documents.points import point_from
from layersim.errors import LONGEST_MESSAGE, LayersimError
from layersim.estimate import Estimate
from layersim.measure.card import standard_card
from layersim.measure.cardfile import read_card, write_card_file
from layersim.measure.photofile import photograph_starter_text
from layersim.measure.swatchfile import read_any_swatches, starter_text
from layersim.paintfile import read_paint
from layersim.resources import data_folder
from layersim.scheme.batch import read_stock
from layersim.scheme.reading import load_scheme
from layersim.shelf import Shelf
from layersim.sprayer import Sprayer, read_sprayer, sprayer_text

ODD = (
    r"""
-1 ; 0 ; 0.5 ; 1e308 ; -1e-308 ; nan ; inf ; 999999999999999999999999999999 ; true ; [] ; {} ; [[]] ; [1, 2]
"x" ; "" ; "two" ; "20 %" ; "1:1" ; "5 navy blue : 1 blue ink, thinned 2:1"
"from 60 up" ; "half a coat" ; "!!!"
"\u001b[2J" ; "\u202e" ; "#3d4c74" ; [44, 68, 112] ; 1979-05-27 ; 07:32:00 ; { "navy blue" = 5 } ; two ; 0,5
{ "navy blue": 5 } ; { from 76 } ; 5. ; ["lead", 1] ; [{ name = "a" }]
""".strip()
    .replace("\n", " ; ")
    .split(" ; ")
)
"""Values that stand where others are wanted."""
LINES = [
    *r"""
batch = 5 ; times = "x" ; hand = [] ; area = 3 ; [batch] ; [times] ; [[area]] ; [[area.coat]] ; [photograph]
[ ; [[swatch]] ; [[ground]] ; [[doubt]] ; [hand] ; batch = { sprayer = "x" } ; wavelength_nm = [400, 700] ; ]]
''' ; times = { water = 1 } ; "\u001b[31m" = 1 ; a note without its mark
""".strip()
    .replace("\n", " ; ")
    .split(" ; "),
    "a" + ".a" * 60 + " = 1",
    '"' + "k" * 500 + '" = 1',
    f"text = '{'y' * 300}'",
    "\u00a0coats = 2",
]
"""Lines that are put in anywhere."""


@dataclass(frozen=True)
class Case:
    """A sound document, and who reads it."""

    name: str
    text: str
    read: Callable[[Path], object]


def cases(folder: Path) -> list[Case]:
    """Return a sound document of each kind, the files that they name written into a folder."""
    write_card_file(folder / "card.toml", standard_card())
    (folder / "brick-red.txt").write_bytes((data_folder() / "examples" / "brick-red.txt").read_bytes())
    shelf = Shelf.usual()
    shelf.places()
    schemes = data_folder() / "schemes"
    texts = {
        "demo": (schemes / "tide-lamplighters.toml").read_text(encoding="utf-8"),
        "starter": (schemes / "starter.toml").read_text(encoding="utf-8"),
    }
    sprayer = Sprayer("fine", Estimate(0.8, 0.1), Estimate(0.3, 0.1), Estimate(40.0, 0.1), Estimate(0.2, 0.3))
    return [
        *(Case(name, text, lambda path: load_scheme(path, shelf)) for name, text in texts.items()),
        Case("paint", (data_folder() / "paints" / "navy-blue.toml").read_text(encoding="utf-8"), read_paint),
        Case("sprayer", sprayer_text(sprayer), read_sprayer),
        Case("swatches", starter_text(), read_any_swatches),
        Case("photograph", photograph_starter_text(card="card.toml"), read_any_swatches),
        Case("card", (folder / "card.toml").read_text(encoding="utf-8"), read_card),
        *(Case(name, text, _word(read)) for name, (text, read) in words(folder).items()),
        Case("stock", 'format = "layersim stock 1"\n[ml]\n"navy blue" = 17\nbone = 3\n', read_stock),
        Case(
            "choices",
            'format = "layersim choices 1"\n[[choice]]\nname = "a"\nchange = ["a.coats = 2", "lamp = A"]\n',
            asked_in_file,
        ),
    ]


def words(folder: Path) -> dict[str, tuple[str, Callable[[str], object]]]:
    """Return what is typed behind ``--mid``, ``--grey`` and ``--chip``, and who reads it."""
    Image.new("RGB", (200, 200), (90, 92, 91)).save(folder / "chip.png")
    photographs = Photographs(["50,50"])
    return {
        "point": ("12.5 %, 80 %", point_from),
        "grey": ("20,80=0.18", lambda text: greys_from([text])),
        "colour": ("[31.5, 2, -18]", lambda text: colour_from(text, name="--mid")),
        "screen": ("#3d4c74", lambda text: colour_from(text, name="--mid")),
        "chip": (f"{folder / 'chip.png'}@40,25", lambda text: photographs.read(text, Viewing())),
    }


def _word(read: Callable[[str], object]) -> Callable[[Path], object]:
    return lambda path: read(path.read_text(encoding="utf-8"))


def mutated(text: str, rng: random.Random) -> str:
    """Return a text with one to four slips in it."""
    for _ in range(rng.randint(1, 4)):
        lines = text.split("\n")
        at = rng.randrange(len(lines))
        slip = rng.randrange(7)
        if slip == 0:  # another value
            lines[at] = re.sub(r"=.*", lambda _: f"= {rng.choice(ODD)}", lines[at])
        elif slip == 1:
            lines.insert(at, rng.choice(LINES))
        elif slip == 2:
            del lines[at]
        elif slip == 3:  # a line, moved or doubled
            lines.insert(rng.randrange(len(lines)), lines[at])
        elif slip == 4:  # another key
            key = rng.choice(lines).split("=")[0].strip() or "x"
            _, equals, value = lines[at].partition("=")
            lines[at] = f"{key} {equals}{value}"
        elif slip == 5 and lines[at]:  # a letter
            place = rng.randrange(len(lines[at]))
            letter = rng.choice("\"'[]{}=,.#:\\\0\u00a0\u202e\x1b9- ")
            lines[at] = lines[at][:place] + letter + lines[at][place + rng.randint(0, 1) :]
        else:
            lines[at] = lines[at].replace("[[", "[") if "[[" in lines[at] else lines[at].replace("#", "", 1)
        text = "\n".join(lines)
    return text


def faults(folder: Path, *, count: int, seed: int) -> Iterator[str]:
    """Yield what went wrong in some mutated texts: a fault of the program, or a message unfit to show."""
    rng = random.Random(seed)
    sound = cases(folder)
    for i in range(count):
        case = sound[i % len(sound)]
        text = mutated(case.text, rng)
        path = folder / f"fuzz-{case.name}.toml"
        path.write_text(text, encoding="utf-8", errors="replace")
        try:
            case.read(path)
        except LayersimError as fault:
            message = str(fault)
            if len(message) > LONGEST_MESSAGE or not message.replace("\n", "").isprintable():
                yield f"{case.name}: unfit to show: {message!r}\n{text}"
        except Exception as fault:
            yield f"{case.name}: {type(fault).__name__}: {fault}\n{text}"
