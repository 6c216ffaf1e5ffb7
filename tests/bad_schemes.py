"""Everything that can be wrong with a scheme file, and the whole of what must be said about it."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.examples import SCHEME


@dataclass(frozen=True)
class Bad:
    """One bad file: what writes it into a folder, and the message after its path and a colon."""

    make: Callable[[Path], Path]
    said: str


def line_of(text: str, sought: str) -> int:
    return text[: text.index(sought)].count("\n") + 1


def changed(old: str, new: str, said: str) -> Bad:
    """The example scheme with one text changed; ``{line}`` in `said` is the line where it stands."""
    assert SCHEME.count(old) == 1, (old, SCHEME.count(old))
    text = SCHEME.replace(old, new)
    place = line_of(text, new) + (len(new) - len(new.lstrip("\n"))) if new else line_of(SCHEME, old)
    return Bad(lambda folder: _write(folder, text.encode()), said.replace("{line}", str(place)))


def whole(content: bytes | str, said: str) -> Bad:
    raw = content.encode() if isinstance(content, str) else content
    return Bad(lambda folder: _write(folder, raw), said)


def _write(folder: Path, content: bytes) -> Path:
    path = folder / "rig.toml"
    path.write_bytes(content)
    return path


def _folder(folder: Path) -> Path:
    (folder / "rig.toml").mkdir()
    return folder / "rig.toml"


def _pipe(folder: Path) -> Path:
    os.mkfifo(folder / "rig.toml")
    return folder / "rig.toml"


def _climbing_link(folder: Path) -> Path:
    (folder / "beyond").mkdir()
    inside = folder / "inside"
    inside.mkdir()
    (inside / "paints").symlink_to(folder / "beyond")
    return _write(inside, SCHEME.replace('lamp = "D65"', 'paints = "paints"').encode())


def _broken_paint(folder: Path) -> Path:
    (folder / "paints").mkdir()
    (folder / "paints" / "rust.toml").write_text(
        'format = "layersim paint 1"\nname = "rust"\nkind = "pant"\n'
    )
    text = (
        'format = "layersim scheme 1"\nname = "x"\npaints = "paints"\n[[area]]\nname = "a"\nprimer = "rust"\n'
    )
    return _write(folder, text.encode())


# The headings of two coats.
LIGHT, FILTER = (line_of(SCHEME, f'name = "{name}"') - 1 for name in ("light", "filter"))
CLIMB = "a folder beside the scheme file, or below it"
BAD: dict[str, Bad] = {
    # files
    "missing": Bad(
        lambda folder: folder / "rig.toml", "there is no such file; expected a scheme file in FOLDER"
    ),
    "a folder": Bad(_folder, "this is a folder; expected a scheme file"),
    "a pipe": Bad(_pipe, "this is not an ordinary file; expected a scheme file"),
    "empty": whole(b"", "this file is empty; expected a scheme"),
    "too large": whole(
        b"#" * 5_000_000,
        "this file is too large (more than 4 MB); expected a scheme file. Was another file meant?",
    ),
    "not UTF-8": whole(
        SCHEME.encode().replace(b"for tests", b"caf\xe9"),
        f"line {line_of(SCHEME, 'for tests')}: found the byte 0xe9, which is no UTF-8 text; "
        "expected a scheme saved as UTF-8 (most editors offer it under Save as, Encoding)",
    ),
    "not TOML": changed(
        "coats = 2",
        "coats 2",
        'line {line}, column 7: found "coats 2"; expected a line such as name = "value".',
    ),
    "a picture": whole(
        b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
        "line 1: found the byte 0x89, which is no UTF-8 text; "
        "expected a scheme saved as UTF-8 (most editors offer it under Save as, Encoding)",
    ),
    # format
    "no format": changed(
        'format = "layersim scheme 1"\n',
        "\n",
        'format: found nothing; expected "layersim scheme 1". '
        'Write format = "layersim scheme 1" as its first line.',
    ),
    # paints
    "unknown paint": changed(
        'primer = "soot primer"\n\n[area.preshade]\nwhite',
        'primer = "sot primer"\n\n[area.preshade]\nwhite',
        'line {line}, area 1 "cloth", primer: found "sot primer"; '
        'expected the name of a paint on the shelf. Did you mean "soot primer"?',
    ),
    "unknown paint in a mix": changed(
        '"plum ink" = 1 }',
        '"plumb ink" = 1 }',
        'line {line}, area 1 "cloth", coat 1 "base", mix, plumb ink: found "plumb ink"; '
        'expected the name of a paint on the shelf. Did you mean "plum ink"?',
    ),
    "unknown white": changed(
        'white = "chalk white"',
        'white = "zzz"',
        'line {line}, area 1 "cloth", preshade, white: found "zzz"; '
        "expected the name of a paint on the shelf. See them all with: layersim paints.",
    ),
    # keys
    "missing key": changed(
        'name = "Test rig"\n', "", "name: found nothing; expected a text in quotes. This key is missing."
    ),
    "missing key of a table": changed(
        "passes = 4\n",
        "",
        f'line {line_of(SCHEME, "[area.preshade]")}, area 1 "cloth", preshade, passes: found nothing; '
        "expected a whole number from 1 to 100. This key is missing.",
    ),
    "misspelt key": changed(
        "filter = true",
        "filtre = true",
        'line {line}, area 1 "cloth", coat 3 "filter", filtre: found the key "filtre"; '
        'expected a key known here. Did you mean "filter"?',
    ),
    "no area": whole(
        'format = "layersim scheme 1"\nname = "x"\n',
        "area: found nothing; expected at least one area, under a heading [[area]].",
    ),
    "one heading where many are wanted": whole(
        'format = "layersim scheme 1"\nname = "x"\n[area]\nname = "a"\n',
        "line 3, area: found a table; expected headings in double brackets, [[area]].",
    ),
    "two areas of one name": changed(
        'name = "strap"',
        'name = "cloth" #',
        'line {line}, area 2 "cloth", name: found "cloth"; expected a name that no other area has.',
    ),
    # wrong types
    "a broken number of coats": changed(
        "coats = 2",
        "coats = 2.3",
        'line {line}, area 1 "cloth", coat 1 "base", coats: found 2.3; '
        "expected a whole number from 1 to 100, or a half such as 1.5.",
    ),
    "a list for a place": changed(
        "where = { from = 60, edge = 20 }",
        "where = [60, 20]",
        'line {line}, area 1 "cloth", coat 2 "light", where: found a list of 2; '
        'expected "everywhere", { from = 60, edge = 20 } or { up_to = 40, edge = 20 }.',
    ),
    "a word for a table": changed(
        "[hand]\nfilm = 0.2\nparts = 0.1\n",
        'hand = "steady"\n',
        'line {line}, hand: found the text "steady"; '
        "expected a table, such as { ... } or a heading in [square brackets].",
    ),
    # amounts
    "negative parts": changed(
        '"plum ink" = 1 }',
        '"plum ink" = -1 }',
        'line {line}, area 1 "cloth", coat 1 "base", mix, plum ink: found -1; '
        "expected a number from 0 to 100000.",
    ),
    "parts all zero": changed(
        '{ "moss green" = 4, "plum ink" = 1 }',
        '{ "moss green" = 0, "plum ink" = 0.0 }',
        'line {line}, area 1 "cloth", coat 1 "base", mix: found parts that are all zero; '
        "expected at least one part above zero.",
    ),
    "an empty mix": changed(
        '{ "moss green" = 4, "plum ink" = 1 }',
        "{}",
        'line {line}, area 1 "cloth", coat 1 "base", mix: found an empty mix; '
        "expected at least one paint with its parts.",
    ),
    "a negative film": changed(
        "dry_film_um = 0.5",
        "dry_film_um = -0.5",
        'line {line}, area 1 "cloth", coat 2 "light", dry_film_um: found -0.5; '
        "expected a number from 0 to 1000.",
    ),
    "two films": changed(
        "dry_film_um = 0.5",
        "dry_film_um = 0.5\nwet_film_um = 5",
        f'line {LIGHT}, area 1 "cloth", coat 2 "light": '
        "found both wet_film_um and dry_film_um; expected one of them.",
    ),
    "per cent": changed(
        "coverage = 0.1",
        "coverage = 10",
        'line {line}, area 1 "cloth", coat 4 "chips", coverage: found 10; '
        "expected a number from 0 to 1. 10 % is 0.1 here.",
    ),
    "a number beyond all numbers": changed(
        "passes = 4",
        "passes = 0x" + "f" * 300,
        'line {line}, area 1 "cloth", preshade, passes: found a number of more than 20 digits; '
        "expected a whole number from 1 to 100 (a finite one).",
    ),
    # places
    "unsorted lightness": changed(
        "greys = [30, 80]",
        "greys = [80, 30]",
        'line {line}, area 2 "strap", preshade, greys: found 80 before 30; '
        "expected the darker lightness first.",
    ),
    "three greys": changed(
        "greys = [30, 80]",
        "greys = [30, 50, 80]",
        'line {line}, area 2 "strap", preshade, greys: found 3 numbers; '
        "expected two: the darkest and the lightest L*.",
    ),
    "a grey beyond white": changed(
        "greys = [30, 80]",
        "greys = [30, 180]",
        'line {line}, area 2 "strap", preshade, greys: found 180; '
        "expected a number from 0 to 100 at place 2 of the list.",
    ),
    "from above up_to": changed(
        "where = { from = 60, edge = 20 }",
        "where = { from = 60, up_to = 40 }",
        'line {line}, area 1 "cloth", coat 2 "light", where: found from 60 up to 40; '
        "expected from below up_to.",
    ),
    "a place without a bound": changed(
        "where = { from = 60, edge = 20 }",
        "where = { edge = 20 }",
        'line {line}, area 1 "cloth", coat 2 "light", where: found neither from nor up_to; '
        'expected "everywhere", { from = 60, edge = 20 } or { up_to = 40, edge = 20 }.',
    ),
    # what excludes each other
    "paint and mix": changed(
        'paint = "plum ink"',
        'paint = "plum ink"\nmix = { "rust" = 1 }',
        f'line {FILTER}, area 1 "cloth", coat 3 "filter": found both paint and mix; expected one of them.',
    ),
    "neither paint nor mix": changed(
        'paint = "plum ink"\n',
        "",
        f'line {FILTER}, area 1 "cloth", coat 3 "filter": '
        'found neither paint nor mix; expected paint = "name", or mix = { "one paint" = 5, "another" = 1 }.',
    ),
    "greys and white": changed(
        "greys = [30, 80]",
        'greys = [30, 80]\nwhite = "chalk white" #',
        f'line {line_of(SCHEME, "greys") - 1}, area 2 "strap", preshade: '
        "found both greys and white; expected greys (known) or white (sprayed), not both.",
    ),
    "neither greys nor white": changed(
        "greys = [30, 80]\n",
        "",
        f'line {line_of(SCHEME, "greys") - 1}, area 2 "strap", preshade: found neither greys nor white; '
        "expected greys = [darkest, lightest], or white = the paint sprayed.",
    ),
    "coverage without a patch": changed(
        'patch = "chips"\n',
        "",
        f'line {line_of(SCHEME, "coverage") - 1}, area 1 "cloth", coat 4 "chips", coverage: '
        'found a coverage without a patch; expected patch = "chips" beside it.',
    ),
    "a patch of another size": changed(
        'paint = "gloss lacquer"',
        'paint = "gloss lacquer"\npatch = "chips"\ncoverage = 0.2',
        f'line {line_of(SCHEME, "gloss lacquer") + 2}, area 1 "cloth", coat 5 "varnish", coverage: '
        'found 0.2; expected 0.1, as given before for "chips".',
    ),
    "a patch placed twice": changed(
        'paint = "gloss lacquer"',
        'paint = "gloss lacquer"\npatch = " chips"\nwhere = { from = 50 }',
        f'line {line_of(SCHEME, "gloss lacquer") + 2}, area 1 "cloth", coat 5 "varnish", where: '
        "found from L* 50 up; expected no where: this patch was placed by its first coat.",
    ),
    "a patch placed on a form twice": changed(
        'paint = "gloss lacquer"',
        'paint = "gloss lacquer"\npatch = "chips"\non_form = "left"',
        f'line {line_of(SCHEME, "gloss lacquer") + 2}, area 1 "cloth", coat 5 "varnish", on_form: '
        'found "left"; expected no on_form: this patch was placed by its first coat.',
    ),
    # words
    "a place on a form that is none": changed(
        'paint = "gloss lacquer"',
        'paint = "gloss lacquer"\non_form = "edge"',
        f'line {line_of(SCHEME, "gloss lacquer") + 1}, area 1 "cloth", coat 5 "varnish", on_form: '
        'found "edge"; expected one of "edges", "recesses", "above", "below", "front", "behind", "left", '
        '"right". Did you mean "edges"?',
    ),
    "an unknown light": changed(
        'lamp = "D65"',
        'lamp = "d65"',
        'line {line}, lamp: found "d65"; expected one of "D65", "D50", "A", "LED-B1", "LED-B3", "LED-B5", '
        '"FL2", "FL11". Did you mean "D65"?',
    ),
    "an unknown sheen": changed(
        "coats = 2",
        'sheen = "glossy"',
        'line {line}, area 1 "cloth", coat 1 "base", sheen: found "glossy"; '
        'expected one of "gloss", "satin", "matt". Did you mean "gloss"?',
    ),
    "a colour that is none": changed(
        'shadow = "#202020"',
        'shadow = "dark blue"',
        'line {line}, area 1 "cloth", targets, shadow: found "dark blue"; '
        'expected "#rrggbb" such as "#3d4c74", or [L, a, b] such as [52, 3, -20].',
    ),
    "a colour of two numbers": changed(
        "light = [60, 5, -10]",
        "light = [60, 5]",
        'line {line}, area 1 "cloth", targets, light: found 2 numbers; '
        'expected "#rrggbb" such as "#3d4c74", or [L, a, b] such as [52, 3, -20].',
    ),
    "a colour lighter than white": changed(
        "light = [60, 5, -10]",
        "light = [160, 5, -10]",
        'line {line}, area 1 "cloth", targets, light: found a lightness L of 160; '
        "expected one from 0 to 100.",
    ),
    "letters that steer a terminal": changed(
        'note = "for tests"',
        'note = "\\u001b[2J"',
        'line {line}, note: found "\\x1b[2J"; expected a text without control characters.',
    ),
    "a name too long for a strip": changed(
        'name = "Test rig"',
        f'name = "{"x" * 101}"',
        "line {line}, name: found a text of 101 letters; expected at most 100.",
    ),
    # folders
    "a folder that climbs out": changed(
        'lamp = "D65"',
        'paints = "../paints"',
        'line {line}, paints: found "../paints"; expected ' + CLIMB + ".",
    ),
    "a folder from the root": changed(
        'lamp = "D65"', 'paints = "/etc"', 'line {line}, paints: found "/etc"; expected ' + CLIMB + "."
    ),
    "a link that climbs out": Bad(
        _climbing_link, f'line {line_of(SCHEME, "lamp =")}, paints: found "paints"; expected {CLIMB}.'
    ),
    "a folder that is not there": changed(
        'lamp = "D65"',
        'paints = "mine"',
        'line {line}, paints: found "mine"; expected a folder that is there. Make it, or take this line out.',
    ),
    "a folder no system would have": changed(
        'lamp = "D65"',
        f'paints = "{"x" * 300}"',
        f'line {{line}}, paints: found "{"x" * 57}..."; expected a folder that is there. '
        "Make it, or take this line out.",
    ),
}

BROKEN_PAINT = Bad(_broken_paint, "")
"""A paint whose file cannot be used: says both where it is asked for and what is wrong with it."""
