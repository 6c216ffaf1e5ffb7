"""Writing an answer into a scheme file, with every remark left where it was."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from layersim import colour
from layersim.decide.answer import Answer
from layersim.documents.recipes import name_of_step
from layersim.documents.syntax import Address, is_open, lines_of
from layersim.documents.writing import one_line, toml
from layersim.errors import LayersimError, SchemeError, harmless, nearest_hint, quoted
from layersim.files import read_text, write_whole
from layersim.names import slug
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Coat, GreysGiven, GreysSprayed, Preshade, Scheme, Targets, targets_of
from layersim.scheme.targets import MEASURED_DOUBT, PICKED_DOUBT, PLACES, Target

# What a coat's recipe consists of; the rest (name, where, patch, spread) stays as it is.
_RECIPE_KEYS = ("paint", "mix", "thinning", "coats", "dry_film_um", "wet_film_um", "sheen")


@dataclass(frozen=True)
class Written:
    """What of an answer goes into a file."""

    coat: Coat
    extra: tuple[Coat, ...] = ()
    preshade: Preshade | None = None


def write_answer(
    path: Path,
    answer: Answer,
    *,
    area: str,
    coat: str | None = None,
    after: str | None = None,
    folders: tuple[Path, ...] = (),
) -> None:
    """Write an answer into the scheme file it was found for; `area`, `coat` and `after` as it was asked.

    The old recipe of a coat that is replaced stays as a remark. The file is written whole or not at all,
    and only if what was written reads back as the answer. Raises LayersimError if the file has changed
    so that the place is gone, or would not read back.
    """
    text = _sound(path, folders)
    new = with_answer(text, answer, area=area, coat=coat, after=after)
    _check(path, new, answer, area, folders)
    write_whole(path, new)


def with_answer(
    text: str, answer: Answer | Written, *, area: str, coat: str | None = None, after: str | None = None
) -> str:
    """Return a scheme's text with an answer in it; as :func:`write_answer`."""
    ending, lines, where, i, values = _place_of(text, area)
    coats = values.get("coat", [])
    added: list[tuple[int, list[str]]] = []
    if coat is not None:
        j = _index(coats, coat, area)
        added += _replaced(lines, where, ("area", i, "coat", j), answer.coat)
        last = _end(lines, where, ("area", i, "coat", j))
    else:
        last = _place_after(lines, where, i, coats, after or "", area)
        added.append((last, ["", "[[area.coat]]", f"name = {toml(answer.coat.name)}", *_recipe(answer.coat)]))
    for extra in answer.extra:
        block = ["", "[[area.coat]]", f"name = {toml(extra.name)}", *_recipe(extra)]
        added.append((last, [*block, *(["filter = true"] if extra.is_filter else [])]))
    added += _preshade(lines, where, i, answer)
    # From the end, so that the numbers of the lines before still hold; of one place, in order.
    for at, block in sorted(added, key=lambda entry: entry[0], reverse=True):
        same = [b for a, b in added if a == at]
        if block is same[-1]:
            lines[at:at] = [line for b in same for line in b]
    return ending.join(lines)


def _place_of(text: str, area: str) -> tuple[str, list[str], dict[Address, int], int, dict[str, Any]]:
    """Return a scheme's line ending, its lines, where its keys stand, which area is meant, its values."""
    ending = "\r\n" if "\r\n" in text else "\n"
    lines = text.replace("\r\n", "\n").split("\n")
    plain = "\n".join(lines)
    areas = tomllib.loads(plain).get("area", [])
    names = [slug(str(one.get("name", ""))) for one in areas]
    if slug(area) not in names:
        hint = nearest_hint(area, [str(one.get("name", "")) for one in areas], kind="areas")
        raise LayersimError(f"there is no area {quoted(area)} in the scheme. {hint}")
    i = names.index(slug(area))
    where = lines_of(plain)
    if ("area", i) not in where:
        raise LayersimError(
            f"the area {quoted(area)} has no heading [[area]] of its own; write into it by hand"
        )
    return ending, lines, where, i, areas[i]


def _index(coats: list[dict[str, Any]], name: str, area: str) -> int:
    there = [j for j, one in enumerate(coats) if slug(name_of_step(one)) == slug(name)]
    if not there:
        raise LayersimError(f"the scheme no longer has a coat {quoted(name)} in {quoted(area)}")
    # One that is switched off may have the name of one that is not: the answer was found for that.
    return min(there, key=lambda j: coats[j].get("off") is True)


def _end(lines: list[str], where: dict[Address, int], block: Address) -> int:
    """Return the index behind a block's last line, remarks on what follows left out."""
    start = where[block]
    heads = [
        number
        for address, number in where.items()
        if number > start and lines[number - 1].lstrip().startswith("[") and address[: len(block)] != block
    ]
    end = min(heads) - 1 if heads else len(lines)
    while end > start and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    return end


def _place_after(
    lines: list[str], where: dict[Address, int], i: int, coats: list[dict[str, Any]], after: str, area: str
) -> int:
    if slug(after) not in ("preshade", "ground", "primer"):
        return _end(lines, where, ("area", i, "coat", _index(coats, after, area)))
    if ("area", i, "coat", 0) in where:
        # Before the first coat, and before the remarks that belong to it.
        at = where["area", i, "coat", 0] - 1
        while at > 0 and lines[at - 1].lstrip().startswith("#"):
            at -= 1
        while at > 0 and not lines[at - 1].strip():
            at -= 1
        return at
    return _end(lines, where, ("area", i))


def _replaced(
    lines: list[str], where: dict[Address, int], block: Address, coat: Coat
) -> list[tuple[int, list[str]]]:
    """Turn the old recipe into remarks, in place; return where the new one goes."""
    for key in _RECIPE_KEYS:
        number = where.get((*block, key))
        if number is None:
            continue
        if lines[number - 1].lstrip().startswith("[") or any(
            number == where[address] and address[: len(block)] != block for address in where
        ):
            raise LayersimError(
                f"line {number}: the old {key} stands in a way that cannot be replaced line by line; "
                "put the answer in by hand"
            )
        lines[number - 1] = f"# before: {lines[number - 1].strip()}"
    start = where[block]
    name = where.get((*block, "name"))
    return [(name if name is not None and name > start else start, _recipe(coat))]


def _recipe(coat: Coat) -> list[str]:
    mix = coat.mix
    if len(mix.ingredients) == 1:
        rows = [f"paint = {toml(mix.ingredients[0][0].name)}"]
    else:
        rows = [f"mix = {toml({paint.name: drops for paint, drops in mix.ingredients})}   # drops"]
    rows += [f"thinning = {mix.thinning:g}", f"coats = {coat.coats}"]
    if coat.film_from != "own":
        rows.append(f"wet_film_um = {coat.dry_film_um / mix.volume_solids:.6g}")
    return rows


def _preshade(
    lines: list[str], where: dict[Address, int], i: int, answer: Answer | Written
) -> list[tuple[int, list[str]]]:
    preshade = answer.preshade
    if preshade is None:
        return []
    if isinstance(preshade, GreysSprayed):
        new = {"passes": str(preshade.passes)}
    else:
        new = {"greys": f"[{preshade.darkest:g}, {preshade.lightest:g}]"}
    added = []
    for key, value in new.items():
        number = where.get(("area", i, "preshade", key))
        if number is None:
            raise LayersimError(
                f"the preshade's {key} stands in no line of its own; change it by hand to {value}"
            )
        old = re.sub(r"#.*$", "", lines[number - 1]).split("=", 1)[1].strip()
        if old.replace(" ", "") != value.replace(" ", ""):
            lines[number - 1] = f"# before: {lines[number - 1].strip()}"
            added.append((number, [f"{key} = {value}"]))
    return added


def _preshade_key(preshade: GreysGiven | GreysSprayed | None) -> tuple[object, ...]:
    if isinstance(preshade, GreysSprayed):
        return (preshade.mix.words(), preshade.passes, round(preshade.total_film_um, 6), preshade.reach)
    return () if preshade is None else (preshade.darkest, preshade.lightest)


def _sound(path: Path, folders: tuple[Path, ...]) -> str:
    """Return a scheme's text; raises SchemeError where it has become one that cannot be read."""
    text = read_text(path, what="scheme", error=SchemeError)
    load_scheme(path, folders=folders, text=text)
    return text


def _read_back(path: Path, text: str, folders: tuple[Path, ...]) -> Scheme:
    """Return the scheme that a text would be; raises LayersimError where it would be none."""
    try:
        return load_scheme(path, folders=folders, text=text)
    except LayersimError as fault:
        raise LayersimError(
            f"{path}: left as it was, since with this written into it, it would not read back: {fault}"
        ) from None


def _check(path: Path, text: str, answer: Answer, area: str, folders: tuple[Path, ...]) -> None:
    """Raise unless the new text reads back as the answer."""
    scheme = _read_back(path, text, folders)
    found = next(one for one in scheme.areas if slug(one.name) == slug(area))
    wanted = [(c.mix.words(), c.coats, round(c.total_film_um, 6)) for c in (answer.coat, *answer.extra)]
    there = [(c.mix.words(), c.coats, round(c.total_film_um, 6)) for c in found.coats]
    as_wanted = _preshade_key(found.preshade) == _preshade_key(answer.area.preshade)
    if any(w not in there for w in wanted) or (answer.preshade is not None and not as_wanted):
        raise LayersimError(f"{path}: left as it was, since the answer would not read back as it was found")


# --- targets --------------------------------------------------------------------------------------

_READ: Final = "# read from "
"""How the remark begins beside a target that was read from a picture: such a line is written anew."""
_LONGEST_SOURCE: Final = 80


def write_targets(
    path: Path,
    targets: Mapping[str, Target],
    *,
    area: str,
    sources: Mapping[str, str] | None = None,
    folders: tuple[Path, ...] = (),
) -> None:
    """Write targets of an area into a scheme file; arguments as of :func:`with_targets`.

    The file is written whole or not at all, and only if the targets then read back. Raises LayersimError.
    """
    text = _sound(path, folders)
    try:
        new = with_targets(text, targets, area=area, sources=sources)
    except LayersimError as fault:
        raise LayersimError(f"{path}: {fault}") from None
    scheme = _read_back(path, new, folders)
    found = next(one for one in scheme.areas if slug(one.name) == slug(area)).targets
    if not _are(found, targets_of(**targets)):
        raise LayersimError(f"{path}: left as it was, since the targets would not read back as found")
    write_whole(path, new)


def _are(found: Targets, wanted: Targets) -> bool:
    """Return whether targets were read back, but for what a file rounds."""
    return all(
        place in found.given
        and np.abs(found.given[place] - lab).max() < 1.0
        and abs(found.doubt(place) - wanted.doubt(place)) < 0.1
        for place, lab in wanted.given.items()
    )


def with_targets(
    text: str, targets: Mapping[str, Target], *, area: str, sources: Mapping[str, str] | None = None
) -> str:
    """Return a scheme's text with some of an area's targets in it, every remark left where it was.

    `targets` go by place: "shadow", "mid", "light"; others stay as they are. `sources` says where each was
    read from, for a remark beside it: "cover.png at 40,25". The old line of a target that was written by hand
    stays as a remark. Raises LayersimError where the area is not there, or a target stands in a way that
    cannot be replaced line by line.
    """
    ending, lines, where, i, values = _place_of(text, area)
    block: Address = ("area", i, "targets")
    added: list[str] = []
    for line in target_lines(targets, sources):
        place, _, value = line.partition(" = ")
        number = where.get((*block, place))
        if number is None:
            if place in values.get("targets", {}):
                raise _by_hand(where.get(block), place)
            added.append(line)
            continue
        old = lines[number - 1]
        if old.lstrip().startswith("[") or is_open(old):
            raise _by_hand(number, place)
        key = old.partition("=")[0].rstrip()
        lines[number - 1] = f"{key} = {value}"
        if _READ not in old:
            lines[number - 1] = f"# before: {old.strip()}\n{lines[number - 1]}"
    if added:
        _put_in(lines, where, block, added)
    return ending.join("\n".join(lines).split("\n"))


def _put_in(lines: list[str], where: dict[Address, int], block: Address, added: list[str]) -> None:
    """Put lines under the heading of a block, or under a new one behind its area's last line."""
    number = where.get(block)
    if number is None:
        last = _end(lines, where, block[:2]) if len(block) > 1 else _before_headings(lines, where)
        lines[last:last] = ["", f"[{'.'.join(map(str, block[::2]))}]", *added]
    elif lines[number - 1].lstrip().startswith("["):
        last = _end(lines, where, block)
        lines[last:last] = added
    elif lines[number - 1].partition("=")[0].strip().endswith(str(block[-1])):
        raise _by_hand(number, str(block[-1]))
    else:
        lines[number:number] = [f"{block[-1]}.{line}" for line in added]


def _before_headings(lines: list[str], where: dict[Address, int]) -> int:
    """Return the index behind a scheme's own keys, before the remarks on its first heading."""
    first = min(number for number in where.values() if lines[number - 1].lstrip().startswith("[")) - 1
    while first > 0 and (not lines[first - 1].strip() or lines[first - 1].lstrip().startswith("#")):
        first -= 1
    return first


def _by_hand(number: int | None, what: str) -> LayersimError:
    place = "" if number is None else f"line {number}: "
    return LayersimError(
        f"{place}{quoted(what)} stands in a way that cannot be replaced line by line; write it in by hand"
    )


def target_lines(targets: Mapping[str, Target], sources: Mapping[str, str] | None = None) -> list[str]:
    """Return targets as a scheme writes them, a line each, with a remark where each was read."""
    rows = []
    for place in (place for place in PLACES if place in targets):
        source = harmless(one_line((sources or {}).get(place, "")), most=_LONGEST_SOURCE)
        rows.append(f"{place} = {target_words(targets[place])}" + (f"   {_READ}{source}" if source else ""))
    return rows


def target_words(target: Target) -> str:
    """Return a target as a scheme writes it."""
    usual = PICKED_DOUBT if target.on_screen else MEASURED_DOUBT
    if target.on_screen:
        shown = toml(colour.hex_of(colour.lab_on_screen(target.lab, colour.Viewing()).rgb))
    else:
        shown = toml([round(float(value), 1) + 0.0 for value in target.lab])
    if target.doubt is None or abs(target.doubt - usual) < 0.05:
        return shown
    return f"{{ colour = {shown}, doubt = {round(target.doubt, 1):g} }}"


# --- what a model shows ---------------------------------------------------------------------------

_OF_GREYS: Final = ("greys", "sheen", "spotted")
"""Keys of a preshade whose greys are given; the others are of one that is sprayed."""


def write_greys(
    path: Path,
    greys: Mapping[str, tuple[float, float]],
    *,
    error: float,
    source: str,
    folders: tuple[Path, ...] = (),
) -> None:
    """Write the greys of some areas' preshades into a scheme file, and their common error into [hand].

    What was there stays as a remark, of a preshade that was to be sprayed all of it. `source` says in a
    remark where they are from. The file is written whole or not at all, and only if they then read back.
    Raises LayersimError.
    """

    def written(text: str) -> str:
        for area, (dark, light) in greys.items():
            ending, lines, where, i, values = _place_of(text, area)
            block: Address = ("area", i, "preshade")
            there = values.get("preshade", {})
            for key in set(there) - set(_OF_GREYS):
                number = _own_line(lines, where, block, key)
                lines[number - 1] = f"# before: {lines[number - 1].strip()}"
            row = f"greys = {toml([round(dark), round(light)])}"
            _put_key(
                lines,
                where,
                block,
                there,
                row,
                f"   {_READ}{harmless(one_line(source), most=_LONGEST_SOURCE)}",
            )
            text = ending.join("\n".join(lines).split("\n"))
        return _with_error(text, error)

    def are_there(scheme: Scheme) -> bool:
        found = {area.name: area.preshade for area in scheme.areas}
        return scheme.hand.greys == round(error, 1) and all(
            isinstance(there := found.get(area), GreysGiven)
            and (there.darkest, there.lightest) == (round(ends[0]), round(ends[1]))
            for area, ends in greys.items()
        )

    _write(path, written, are_there, folders)


def write_shares(path: Path, shares: Mapping[str, float], *, folders: tuple[Path, ...] = ()) -> None:
    """Write areas' shares of the model's surface into a scheme file; as :func:`write_greys`."""
    rounded = {area: float(f"{share:.2g}") for area, share in shares.items()}

    def written(text: str) -> str:
        for area, share in rounded.items():
            ending, lines, where, i, values = _place_of(text, area)
            block: Address = ("area", i)
            if "surface_cm2" in values:
                number = _own_line(lines, where, block, "surface_cm2")
                lines[number - 1] = f"# before: {lines[number - 1].strip()}"
            row = f"share = {share:g}"
            if "share" in values:
                _put_key(lines, where, block, values, row)
            else:
                lines.insert(where.get((*block, "name"), where[block]), row)
            text = ending.join("\n".join(lines).split("\n"))
        return text

    def are_there(scheme: Scheme) -> bool:
        return all(scheme[area].extent.share == share for area, share in rounded.items())

    _write(path, written, are_there, folders)


def _write(
    path: Path,
    written: Callable[[str], str],
    are_there: Callable[[Scheme], bool],
    folders: tuple[Path, ...],
) -> None:
    text = _sound(path, folders)
    try:
        new = written(text)
    except LayersimError as fault:
        raise LayersimError(f"{path}: {fault}") from None
    if not are_there(_read_back(path, new, folders)):
        raise LayersimError(f"{path}: left as it was, since this would not read back as it was found")
    write_whole(path, new)


def _own_line(lines: list[str], where: dict[Address, int], block: Address, key: str) -> int:
    """Return the number of the line that a key has for itself; raises LayersimError where it has none."""
    number = where.get((*block, key))
    if number is None or lines[number - 1].lstrip().startswith("[") or is_open(lines[number - 1]):
        raise _by_hand(number or where.get(block), key)
    return number


def _put_key(
    lines: list[str],
    where: dict[Address, int],
    block: Address,
    there: Mapping[str, Any],
    row: str,
    remark: str = "",
) -> None:
    """Set one key of a block, a line long; its old value stays as a remark if it is another."""
    key, _, value = row.partition(" = ")
    if key not in there:
        return _put_in(lines, where, block, [row + remark])
    number = _own_line(lines, where, block, key)
    if there[key] != tomllib.loads(row)[key]:
        old = lines[number - 1]
        before = old.partition("=")[0].rstrip()
        lines[number - 1] = f"# before: {old.strip()}\n{before} = {value}{remark}"
    return None


def _with_error(text: str, error: float) -> str:
    """Return a scheme's text with the error of its greys in it."""
    ending = "\r\n" if "\r\n" in text else "\n"
    lines = text.replace("\r\n", "\n").split("\n")
    values, where = tomllib.loads("\n".join(lines)), lines_of("\n".join(lines))
    _put_key(lines, where, ("hand",), values.get("hand", {}), f"greys = {round(error, 1):g}")
    return ending.join("\n".join(lines).split("\n"))
