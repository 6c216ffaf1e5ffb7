"""Find the mixes on the shelf that bring an area's tones closest to colours you ask for.

  layersim match my-scheme.toml --area cloth --coat base --mid "#2c4470"
  layersim match my-scheme.toml --area cloth --coat base --artwork cover.png --write 1

Targets: --shadow, --mid, --light as "#rrggbb" or L,a,b; or colours of a picture (--artwork, with
--pick mid=40,25,10,10 in per cent of it, or its main colours proposed); or what the scheme plans
now (--as-planned, to replace a paint you lack); else the scheme's own [area.targets].
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Final

from layersim.cli.arguments import (
    COLOUR,
    add_shelf,
    check_range,
    extra_folders,
    paints_named,
    shelf_from,
    whole_number,
)
from layersim.cli.numbers import number
from layersim.cli.output import add_outputs, outputs, refuse_what_is_read, show
from layersim.cli.progress import progress_line

if TYPE_CHECKING:
    from layersim.decide.artwork import Artwork, Patch
    from layersim.decide.recipes import Limits
    from layersim.paint import Paint
    from layersim.scheme.records import Scheme, Targets
    from layersim.spectra import FloatArray

    Shown = tuple[Artwork, tuple[Patch, ...], dict[str, Patch]]

# In words, as layersim.decide.targets has them, which would have numpy imported for --help.
PLACES: Final = {"shadow": "the shadow", "mid": "the mid-tone", "light": "the light tone"}
# Stands for the file of what is owned where none is named; its place takes numpy to say.
_TICKED: Final = Path()
# Seconds from which a painter would rather know of a faster way.
_SLOW_S: Final = 15.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    parser.add_argument("--area", metavar="NAME", help="the area (may be left out if there is one)")
    place = parser.add_mutually_exclusive_group(required=True)
    place.add_argument("--coat", metavar="NAME", help="the coat to replace")
    place.add_argument("--after", metavar="NAME", help='put a new coat after this one, or after "preshade"')
    for name in PLACES:
        parser.add_argument(
            f"--{name}", metavar=COLOUR, help=f'target for {PLACES[name]}: "#rrggbb" or L,a,b'
        )
    parser.add_argument("--artwork", type=Path, metavar="PICTURE", help="take targets from a picture")
    parser.add_argument(
        "--pick", action="append", metavar="PLACE=BOX",
        help="shadow, mid, light or all = left,top,width,height in per cent of the picture",
    )  # fmt: skip
    parser.add_argument("--as-planned", action="store_true", help="match what the scheme plans now")
    add_search(parser)
    parser.add_argument(
        "--filter", action="append", metavar="NAME", help="try this glaze after it, too, 1 or 2 coats"
    )
    parser.add_argument(
        "--other-preshades",
        action="store_true",
        help="try a darker and a lighter preshade, and lifted shadows, too",
    )
    parser.add_argument(
        "--quick",
        action="store_true",
        help="three paints only where two of them are among the best pairs: a third of the time, may miss "
        "some",
    )
    parser.add_argument("--answers", type=whole_number, default=6, metavar="N", help="answers to give (6)")
    parser.add_argument("--write", type=whole_number, metavar="N", help="write answer N into the scheme")
    add_outputs(parser, usual="NAME-match.png in this folder")
    parser.add_argument("--tones", type=whole_number, default=9, metavar="N", help="tones (9)")
    add_shelf(parser)


def add_search(parser: argparse.ArgumentParser) -> None:
    """Add what limits a search."""
    parser.add_argument(
        "--owned", type=Path, nargs="?", const=_TICKED, metavar="FILE",
        help="search what you own: a text file, one name a line, or else what the page's shelf has ticked",
    )  # fmt: skip
    parser.add_argument("--among", nargs="+", metavar='"NAME"', help="search these paints")
    parser.add_argument(
        "--paints-at-most", type=whole_number, metavar="N", help="paints in a mix, 1 to 3 (3)"
    )
    parser.add_argument(
        "--drops", type=whole_number, metavar="N", help="drops of paint in a mix at most (12)"
    )
    parser.add_argument("--least-drops", type=whole_number, metavar="N", help="fewest drops of one paint (1)")
    parser.add_argument("--coats", metavar="N-M", help="coats to try, such as 1-6 or 2")
    parser.add_argument(
        "--thinning", type=number, nargs="+", metavar="X", help="drops of thinner to one drop, to try (1)"
    )
    parser.add_argument(
        "--wet-film", type=number, metavar="UM", help="wet film of a coat instead of the paints' own"
    )


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    import time

    from layersim.decide.match import filters_of, match
    from layersim.decide.preshades import preshades_to_try
    from layersim.decide.reach import reach_of
    from layersim.errors import LayersimError
    from layersim.scheme.reading import load_scheme
    from layersim.views import artwork
    from layersim.views import match as match_view

    check_range("--tones", asked.tones, 2, 60)
    check_range("--answers", asked.answers, 1, 20)
    to = outputs(asked, asked.scheme, usual=f"{asked.scheme.stem}-match.png")
    scheme = load_scheme(asked.scheme, folders=extra_folders(asked))
    area = only_area(scheme, asked.area)
    targets, like, art, notes = _targets(asked, scheme, area)
    if art is not None and to.picture is not None:
        from layersim.writers.whole import save

        there = to.picture.with_name(f"{to.picture.stem}-colours{to.picture.suffix}")
        refuse_what_is_read(asked, there, option="--out")
        save(artwork.view(*art), there)
        print(f"Where the colours come from: {there.resolve()}")
    paints = paints_asked(asked)
    glazes = paints_named(shelf_from(asked), asked.filter or [], option="--filter", repeated=True)
    began = time.perf_counter()
    line = progress_line("the search")
    found = match(
        scheme,
        area=area,
        coat=asked.coat,
        after=asked.after,
        paints=paints,
        targets=targets,
        wanted=like,
        limits=limits_asked(asked),
        filters=filters_of(glazes),
        preshades=preshades_to_try(scheme, area) if asked.other_preshades else (),
        tones=asked.tones,
        most=asked.answers,
        quick=asked.quick,
        # What comes after the search is the last fifth: the finalists' chances, and what is within reach.
        progress=None if line is None else lambda done, every: line(4 * done, 5 * every),
    )
    took = time.perf_counter() - began
    if asked.write is not None and not 1 <= asked.write <= len(found.answers):
        raise LayersimError(
            f"--write: found {asked.write}; expected an answer's number, 1 to {len(found.answers)}"
        )
    reach = reach_of(found)
    if line is not None:
        line(1, 1)
    slow = not asked.quick and max(found.findings.best) == 3 and took >= _SLOW_S
    notes.append(
        match_view.search_words(
            took,
            skipped=found.findings.tally.skipped,
            quicker=" With --quick it takes about a third of the time, and may miss some." if slow else "",
            every="without --quick all are tried",
        )
    )
    show(match_view.view(found, reach, notes), {"match": found, "reach": reach}, to, name="match")
    if asked.write is not None:
        from layersim.decide.writing import write_answer

        write_answer(
            asked.scheme,
            found.answers[asked.write - 1],
            area=area,
            coat=asked.coat,
            after=asked.after,
            folders=tuple(extra_folders(asked)),
        )
        print(f"Answer {asked.write} is written into {asked.scheme}.")
    return 0


def only_area(scheme: Scheme, named: str | None) -> str:
    """Return the area's name, where it is given or there is no choice."""
    from layersim.errors import LayersimError, quoted

    if named is not None:
        return named
    if len(scheme.areas) == 1:
        return scheme.areas[0].name
    names = ", ".join(quoted(area.name) for area in scheme.areas)
    first = quoted(scheme.areas[0].name)
    raise LayersimError(
        f"--area: found nothing, and the scheme has {len(scheme.areas)} areas; expected one of {names}, such "
        f"as --area {first}"
    )


def paints_asked(asked: argparse.Namespace) -> list[Paint]:
    """Return the paints to search: those named, those owned, or all that colour."""
    from layersim.owned import colours_owned, owned_file
    from layersim.shelf import NO_COLOURS

    shelf = shelf_from(asked)
    found = paints_named(shelf, asked.among or [], option="--among")
    if asked.owned is not None:
        found += colours_owned(owned_file() if asked.owned == _TICKED else asked.owned, shelf)
    if found:
        return list({paint.name: paint for paint in found}.values())
    return [place.paint for place in shelf.places() if place.paint.kind not in NO_COLOURS]


def limits_asked(asked: argparse.Namespace, default: Limits | None = None) -> Limits:
    """Return the limits of a search."""
    from layersim.decide.recipes import Limits, changed_limits

    return changed_limits(
        default or Limits(),
        paints_at_most=asked.paints_at_most,
        drops=asked.drops,
        least_drops=asked.least_drops,
        coats=asked.coats,
        thinnings=asked.thinning,
        wet_film_um=asked.wet_film,
        mark="--",
    )


def _targets(
    asked: argparse.Namespace, scheme: Scheme, area: str
) -> tuple[Targets | None, FloatArray | None, Shown | None, list[str]]:
    """Return targets, or a reflectance to be like, the picture's colours to show, and notes."""
    from layersim.decide.targets import colour_from
    from layersim.errors import LayersimError
    from layersim.scheme.records import targets_of

    given = {name: getattr(asked, name) for name in PLACES if getattr(asked, name) is not None}
    sources = [bool(given), asked.artwork is not None, asked.as_planned]
    if sum(sources) > 1:
        raise LayersimError("targets: found several sources; expected colours, --artwork or --as-planned")
    if asked.pick and asked.artwork is None:
        raise LayersimError("--pick: found no picture to pick from; expected --artwork PICTURE beside it")
    if given:
        named = {name: colour_from(text, name=f"--{name}") for name, text in given.items()}
        return targets_of(**named), None, None, []
    if asked.as_planned:
        from layersim.decide.match import planned

        like = planned(scheme, area=area, coat=asked.coat, after=asked.after, tones=asked.tones)
        return None, like, None, []
    if asked.artwork is None:
        return None, None, None, []
    return _from_artwork(asked)


def _from_artwork(asked: argparse.Namespace) -> tuple[Targets, None, Shown, list[str]]:
    from layersim.decide import artwork as art
    from layersim.errors import LayersimError, nearest_hint, quoted

    picture = art.read_artwork(asked.artwork)
    colours: tuple[art.Patch, ...] = ()
    chosen: dict[str, art.Patch] = {}
    for text in asked.pick or []:
        name, _, box = text.partition("=")
        name = name.strip()
        if name not in (*PLACES, "all"):
            hint = nearest_hint(name, (*PLACES, "all"), kind="places")
            raise LayersimError(f"--pick: found {quoted(text)}; expected PLACE=left,top,width,height. {hint}")
        region = art.region_from(box)
        chosen |= (
            art.tones_in(picture, region)
            if name == "all"
            else {name: art.patch_in(picture, region, name=name)}
        )
    if not chosen:
        colours = art.main_colours(picture)
        chosen = art.proposed_targets(picture, colours)
    chosen = {name: chosen[name] for name in PLACES if name in chosen}
    from layersim.views.artwork import sentences

    notes = sentences(picture, chosen, proposed=not asked.pick)
    return art.targets_from(chosen), None, (picture, colours, chosen), notes
