"""Writing an answer into a scheme file, with every remark left where it was."""

from __future__ import annotations

import os
import re
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

from layersim.decide.answer import Answer
from layersim.documents.recipes import name_of_step
from layersim.documents.syntax import Address, lines_of
from layersim.documents.writing import toml
from layersim.errors import LayersimError, SchemeError, quoted
from layersim.files import read_text, write_whole
from layersim.names import slug
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Coat, GreysGiven, GreysSprayed, Preshade

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
    text = read_text(path, what="scheme", error=SchemeError)
    new = with_answer(text, answer, area=area, coat=coat, after=after)
    _check(path, new, answer, area, folders)
    write_whole(path, new)


def with_answer(
    text: str, answer: Answer | Written, *, area: str, coat: str | None = None, after: str | None = None
) -> str:
    """Return a scheme's text with an answer in it; as :func:`write_answer`."""
    ending = "\r\n" if "\r\n" in text else "\n"
    lines = text.replace("\r\n", "\n").split("\n")
    values = tomllib.loads("\n".join(lines))
    names = [slug(str(one.get("name", ""))) for one in values.get("area", [])]
    if slug(area) not in names:
        raise LayersimError(f"the scheme no longer has an area {quoted(area)}")
    i = names.index(slug(area))
    coats = [name_of_step(one) for one in values["area"][i].get("coat", [])]
    where = lines_of("\n".join(lines))
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


def _index(coats: list[str], name: str, area: str) -> int:
    keys = [slug(one) for one in coats]
    if slug(name) not in keys:
        raise LayersimError(f"the scheme no longer has a coat {quoted(name)} in {quoted(area)}")
    return keys.index(slug(name))


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
    lines: list[str], where: dict[Address, int], i: int, coats: list[str], after: str, area: str
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
                f"the pre-shade's {key} stands in no line of its own; change it by hand to {value}"
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


def _check(path: Path, text: str, answer: Answer, area: str, folders: tuple[Path, ...]) -> None:
    """Raise unless the new text reads back as the answer; the file itself is not touched."""
    # Beside the scheme, since paints may be looked for there.
    handle, name = tempfile.mkstemp(suffix=".toml", prefix=".layersim-", dir=path.resolve().parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as trial:
            trial.write(text)
        scheme = load_scheme(Path(name), folders=folders)
    except LayersimError as fault:
        raise LayersimError(
            f"{path}: left as it was, since with the answer it would not read back: {fault}"
        ) from None
    finally:
        Path(name).unlink(missing_ok=True)
    found = next(one for one in scheme.areas if slug(one.name) == slug(area))
    wanted = [(c.mix.words(), c.coats, round(c.total_film_um, 6)) for c in (answer.coat, *answer.extra)]
    there = [(c.mix.words(), c.coats, round(c.total_film_um, 6)) for c in found.coats]
    as_wanted = _preshade_key(found.preshade) == _preshade_key(answer.area.preshade)
    if any(w not in there for w in wanted) or (answer.preshade is not None and not as_wanted):
        raise LayersimError(f"{path}: left as it was, since the answer would not read back as it was found")
