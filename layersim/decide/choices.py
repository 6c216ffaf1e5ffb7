"""Choices to compare: small changes to one scheme, written in a line each.

A change names a coat and what should be otherwise::

    filter.coats = 2                       the coat "filter" twice
    highlight = 4 bone : 1 sky blue        another mix; one paint by itself: highlight = bone
    base.where = from 60 up                where it lands
    preshade.passes = 20                   the preshade
    lamp = LED-B3                          the light it is judged under
    without filter                         a coat left out
    straps/base.coats = 4                  the area first, where several have such a coat

The changes are made to what the scheme file says, before it is read, so that a changed scheme is
checked exactly as a file is. Names are told apart by letters and digits alone, as paints are.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from layersim.documents import kinds
from layersim.documents.document import Document
from layersim.documents.keys import Key, read_keys, rows
from layersim.documents.kinds import special
from layersim.documents.recipes import coats_of, looks_like_mix, mix_of, name_of_step, place_of
from layersim.documents.table import LONGEST_TEXT, Table
from layersim.errors import (
    ChoicesFileError,
    LayersimError,
    Problem,
    SchemeError,
    nearest_hint,
    quoted,
)
from layersim.names import named, slug
from layersim.scheme.reading import ONCE, load_scheme
from layersim.scheme.records import Area, Scheme

FORMAT: Final = 1
AS_WRITTEN: Final = "as written"
"""Name of the scheme without changes."""
MOST_CHOICES: Final = 8
MOST_CHANGES: Final = 50
"""Changes of one choice."""
_OF_THE_SCHEME: Final = ("lamp", "observer")
_OF_AN_AREA: Final = ("primer",)
_TABLES: Final = ("preshade", "targets")
_PLACES: Final = '"from 60 up", "up to 40", "from 30 to 60 edge 10" or "everywhere"'
_EXAMPLE: Final = "a change such as filter.coats = 2, highlight = bone, or without filter"


@dataclass(frozen=True)
class Choice:
    """One of the things to choose between."""

    name: str
    scheme: Scheme
    """With the changes made."""
    changes: tuple[str, ...] = ()
    """As written; empty for a scheme as it stands."""


@dataclass(frozen=True)
class Asked:
    """A choice as the user wrote it."""

    name: str
    changes: tuple[str, ...]
    origin: str
    """Where it stands, for messages."""


def asked_in_words(text: str) -> Asked:
    """Return the choice written as ``NAME: CHANGE; CHANGE``; the name may be left out.

    Raises SchemeError if it holds no change.

    >>> asked_in_words("two passes: filter.coats = 2").name
    'two passes'
    >>> asked_in_words("highlight = 4 bone : 1 sky blue").changes
    ('highlight = 4 bone : 1 sky blue',)
    """
    head, colon, rest = text.partition(":")
    if not colon or "=" in head:  # a colon after the first "=" belongs to a mix
        head, rest = "", text
    changes = tuple(" ".join(part.split()) for part in re.split(r"[;\n]", rest) if part.strip())
    name = " ".join(head.split()) or "; ".join(changes)
    origin = f"choice {quoted(name or text)}"
    if not changes:
        raise SchemeError(origin, [Problem("the choice", "no change", _EXAMPLE)])
    return Asked(name, changes, origin)


def _changes(row: Table, key: str) -> tuple[str, ...]:
    lines = row.values[key]
    lines = [lines] if isinstance(lines, str) else lines
    if not isinstance(lines, list) or not all(isinstance(line, str) and line.strip() for line in lines):
        raise row.fault(key, "something else", f"a text in quotes, or a list of them: {_EXAMPLE}")
    if any(len(line) > LONGEST_TEXT for line in lines):
        raise row.fault(key, "a very long text", f"at most {LONGEST_TEXT} letters")
    changes = tuple(" ".join(part.split()) for line in lines for part in line.split(";") if part.strip())
    if len(changes) > MOST_CHANGES:
        raise row.fault(key, f"{len(changes)} changes", f"at most {MOST_CHANGES}")
    return changes


CHOICES_KEYS: Final = {
    "choice": Key(
        rows(
            {
                "name": Key(kinds.name(), "of the choice"),
                "change": Key(
                    special(_changes, f"a text or a list of them, {MOST_CHANGES} changes at most"),
                    "what is otherwise, such as filter.coats = 2",
                    (),
                ),
            },
            most=MOST_CHOICES,
            least=1,
        ),
        "something to choose",
    )
}


def asked_in_file(path: Path) -> list[Asked]:
    """Return the choices in a file; raises ChoicesFileError with everything that is wrong in it."""
    document = Document(path, what="choices", error=ChoicesFileError, keys=CHOICES_KEYS)
    with document.gather():
        document.check_format(FORMAT)
    found = read_keys(document.top, CHOICES_KEYS)["choice"]
    rows_read = [read_keys(row, CHOICES_KEYS["choice"].kind.keys or {}) for row in found]
    document.finish()
    return [Asked(row["name"], row["change"], f"{path}, choice {quoted(row['name'])}") for row in rows_read]


def choices(
    path: str | Path, *texts: str, areas: Sequence[str] = (), folders: Sequence[Path] = ()
) -> tuple[Choice, ...]:
    """Return a scheme as it stands, and changed in each of the ways that are written.

    `texts` are choices as on the command line, such as ``"two coats: filter.coats = 2"``. Changes that
    name no area are for `areas`; `folders` of paints are searched first. Raises SchemeError if the
    scheme, or a choice, can't be used.

    >>> from layersim.resources import demo_scheme
    >>> [choice.name for choice in choices(demo_scheme(), "bare: without glow")]
    ['as written', 'bare']
    """
    return choices_of(Path(path), [asked_in_words(text) for text in texts], areas=areas, folders=folders)


def choices_of(
    path: Path,
    asked: Sequence[Asked],
    *,
    areas: Sequence[str] = (),
    folders: Sequence[Path] = (),
    text: str | None = None,
) -> tuple[Choice, ...]:
    """Return a scheme as it stands, first, and every choice, changed and checked; as :func:`choices`.

    `text` is read in place of the file's own.
    """
    plain = load_scheme(path, folders=folders, text=text)
    chosen = [Choice(AS_WRITTEN, plain)]
    for one in asked:
        chosen.append(Choice(one.name, _changed(path, one, plain, areas, folders, text), one.changes))
    return tuple(chosen)


def checked_choices(choices: Sequence[Choice]) -> tuple[Choice, ...]:
    """Return the choices if they can be compared.

    Raises LayersimError if there are fewer than two, too many, or two of one name.
    """
    if len(choices) < 2:
        raise LayersimError(
            "to compare: found one choice; expected two or more. Add a choice such as "
            '--choice "two passes: filter.coats = 2", or a second scheme file.'
        )
    if len(choices) > MOST_CHOICES:
        raise LayersimError(f"to compare: found {len(choices)} choices; expected at most {MOST_CHOICES}.")
    seen: dict[str, str] = {}
    for choice in choices:
        key = slug(choice.name) or choice.name
        if key in seen:
            raise LayersimError(
                f"to compare: found two choices named {quoted(choice.name)}; expected names that differ."
            )
        seen[key] = choice.name
    return tuple(choices)


def _changed(
    path: Path,
    asked: Asked,
    plain: Scheme,
    areas: Sequence[str],
    folders: Sequence[Path],
    text: str | None,
) -> Scheme:
    notices: list[str] = []

    def edit(values: dict[str, Any]) -> None:
        for text in asked.changes:
            try:
                _Edit(values, plain, areas, text, notices).make()
            except _ChangeFault as fault:
                raise SchemeError(asked.origin, [fault.problem]) from None

    try:
        scheme = load_scheme(path, folders=folders, edit=edit, text=text)
    except SchemeError as fault:
        if str(fault.path) == asked.origin:
            raise
        # The scheme itself has been read without fault, so this one is the choice's, on no line of the file.
        if fault.problems:
            raise SchemeError(asked.origin, [replace(p, line=None) for p in fault.problems]) from None
        raise
    return replace(scheme, notices=(*scheme.notices, *(f"{asked.name}: {notice}" for notice in notices)))


class _ChangeFault(Exception):  # noqa: N818 - carries a problem to _changed()
    def __init__(self, where: str, found: str, expected: str, hint: str = "") -> None:
        self.problem = Problem(quoted(where, most=100), found, expected, None, hint)
        super().__init__(str(self.problem))


class _Edit:
    """One change, made to the tables of a scheme file."""

    def __init__(
        self, values: dict[str, Any], plain: Scheme, areas: Sequence[str], text: str, notices: list[str]
    ) -> None:
        self.values, self.plain, self.usual, self.text, self.notices = values, plain, areas, text, notices
        self.tables: list[dict[str, Any]] = values["area"]

    def fault(self, found: str, expected: str, hint: str = "") -> _ChangeFault:
        return _ChangeFault(self.text, found, expected, hint)

    def make(self) -> None:
        """Make the change."""
        left_out = re.fullmatch(r"(.+/\s*)?(?:without|leave out|no)\s+(.+)", self.text, re.IGNORECASE)
        if left_out and "=" not in self.text:
            where, name = self._split_area((left_out[1] or "") + left_out[2])
            for area in self._areas_with(where, name, lambda a: self._steps(a, name)):
                del self._coats(area)[self._step(area, name)]
            return
        target, equals, value = (part.strip() for part in self.text.partition("="))
        if not equals or not target or not value:
            raise self.fault(quoted(self.text), _EXAMPLE)
        where, target = self._split_area(target)
        head, dot, key = (part.strip() for part in target.rpartition("."))
        self._set(where, target, head if dot else "", key, value)

    def _set(self, where: str | None, target: str, head: str, key: str, value: str) -> None:
        key = re.sub(r"[\s-]+", "_", key.lower()) if head else key
        if not head and slug(target) in ONCE:
            old, target = slug(target), ONCE[slug(target)]
            self.notices.append(f'"{old}" is now called "{target}"; it is read as before')
        if not head and slug(target) in _OF_THE_SCHEME and where is None:
            _without_old_name(self.values, slug(target))
            self.values[slug(target)] = value if slug(target) == "observer" else _plain_value(value)
            return
        if slug(head) == "hand" and where is None:
            self.values.setdefault("hand", {})[key] = _plain_value(value)
            return
        if not head and slug(target) in _OF_AN_AREA:
            for area in self._areas_with(where, target, lambda _: True):
                _without_old_name(self.tables[area], slug(target))
                self.tables[area][slug(target)] = value.strip("\"'")
            return
        if re.sub("[ -]", "", head.lower()) in _TABLES:
            self._set_table(where, re.sub("[ -]", "", head.lower()), key, value)
            return
        if not head or self._found_anywhere(target):
            in_words = "coats" if coats_of(value) is not None else "paint"
            head, key = target, "mix" if in_words == "paint" and looks_like_mix(value) else in_words
        for area in self._areas_with(where, head, lambda a: self._steps(a, head)):
            self._set_step(area, self._step(area, head), key, value)

    def _set_table(self, where: str | None, name: str, key: str, value: str) -> None:
        def can(area: int) -> bool:
            # Greys that were given have no passes; a new white, or new greys, suits every area. Where the
            # area was named, the reader of the scheme says what does not suit it.
            table = self.tables[area].get(name, {})
            whole = name == "targets" or key in ("white", "greys")
            suits = whole or key == "sheen" or "white" in table or where is not None
            return bool(table) and suits

        for area in self._areas_with(where, f"{name}.{key}", can):
            table = self.tables[area].setdefault(name, {})
            if key == "greys":
                table.clear()
            elif key == "white":
                table.pop("greys", None)
                table.pop("sheen", None)
            _set_key(table, key, value)

    def _set_step(self, area: int, index: int, key: str, value: str) -> None:
        coat = self._coats(area)[index]
        if isinstance(mix := coat.get("mix"), str) and (recipe := mix_of(mix)):
            # What a printed recipe says beside its parts stays as it is, unless it is what is changed.
            coat["mix"] = recipe[0]
            coat.update(recipe[1])
        if key in ("paint", "mix"):
            # The step keeps its name, or it would not stand beside the other choices' same step.
            coat.setdefault("name", self.plain.areas[area].coats[self._original(area, index)].name)
            coat.pop("mix" if key == "paint" else "paint", None)
        if key == "thinning" and "dry_film_um" in coat:
            self.notices.append(
                f"{quoted(self.text)} changes the recipe only: the scheme gives this coat's dry film. "
                "Thinner paint leaves less: change dry_film_um, too"
            )
        _set_key(coat, key, value)
        # A table is for the reader to check; any other words than these are no place, here or in a file.
        if key == "where" and coat[key] != "everywhere" and not isinstance(coat[key], dict):
            raise self.fault(quoted(value), _PLACES)

    # -- finding areas and steps

    def _coats(self, area: int) -> list[dict[str, Any]]:
        coats: list[dict[str, Any]] = self.tables[area].setdefault("coat", [])
        return coats

    def _original(self, area: int, index: int) -> int:
        """Return a step's index in the scheme as written: steps may have been left out."""
        # Names come from the file; a coat without one is found by what it is made of.
        coat = self._coats(area)[index]
        return next(
            i
            for i, name in enumerate(_names(self.plain.areas[area]))
            if slug(name) == slug(name_of_step(coat))
        )

    def _steps(self, area: int, name: str) -> list[int]:
        """Return the indices of an area's steps of a name; ``name#2`` is the second of them."""
        plain, mark, number = name.rpartition("#")
        if mark and number.strip().isdigit():
            found = self._steps(area, plain)
            nth = int(number) - 1
            return found[nth : nth + 1] if nth >= 0 else []
        return [i for i, coat in enumerate(self._coats(area)) if slug(name_of_step(coat)) == slug(name)]

    def _step(self, area: int, name: str) -> int:
        found = self._steps(area, name)
        if len(found) > 1:
            raise self.fault(
                f"{len(found)} coats named {quoted(name)}", f"which one: {name}#1 is the first of them"
            )
        return found[0]

    def _found_anywhere(self, name: str) -> bool:
        return any(self._steps(area, name) for area in range(len(self.tables)))

    def _split_area(self, target: str) -> tuple[str | None, str]:
        where, slash, rest = target.partition("/")
        return (where.strip(), rest.strip()) if slash else (None, target.strip())

    def _areas_with(self, where: str | None, what: str, has: Callable[[int], object]) -> list[int]:
        names = [area.name for area in self.plain.areas]
        everywhere = list(range(len(names)))
        if where is not None:
            asked = [i for i in everywhere if slug(names[i]) == slug(where)]
            if not asked and slug(where) == "all":
                asked = everywhere
            elif not asked:
                raise self.fault(
                    f"the area {quoted(where)}",
                    "an area of the scheme",
                    nearest_hint(where, names, kind="areas"),
                )
        else:
            usual = {slug(name) for name in self.usual}
            asked = [i for i in everywhere if not usual or slug(names[i]) in usual]
        found = [i for i in asked if has(i)]
        if not found:
            known = [name_of_step(coat) for i in asked for coat in self._coats(i)] + ["preshade", "primer"]
            if what.startswith(_TABLES):
                raise self.fault(quoted(what), "a key of a preshade or targets that some area here has")
            raise self.fault(
                f"the coat {quoted(what)}",
                "a coat of the scheme" if where is None else f"a coat of {quoted(where)}",
                nearest_hint(what, known, kind="coats"),
            )
        if len(found) > 1 and where is None and not self.usual:
            rows = ", ".join(quoted(names[i]) for i in found)
            raise self.fault(
                f"{quoted(what)} in {len(found)} areas ({rows})",
                f"the area first, such as {names[found[0]]}/{self.text}, or all/{self.text}",
            )
        return found


def _names(area: Area) -> list[str]:
    return [coat.name for coat in area.coats]


def _without_old_name(table: dict[str, Any], key: str) -> None:
    for old, now in ONCE.items():
        if now == key:
            table.pop(old, None)


def _set_key(table: dict[str, Any], key: str, value: str) -> None:
    key = {"film": "dry_film_um", "dry_film": "dry_film_um", "wet_film": "wet_film_um"}.get(key, key)
    if key in ("dry_film_um", "wet_film_um"):
        table.pop("wet_film_um" if key == "dry_film_um" else "dry_film_um", None)
    if key == "mix" and (recipe := mix_of(value)):
        table["mix"] = recipe[0]
        table.update(recipe[1])
        return
    place = place_of(value) if key == "where" else None
    table[key] = place or (_greys_value if key == "greys" else _plain_value)(value)


def _plain_value(text: str) -> Any:
    """Return a value: a number, a share in per cent, yes or no, TOML, or else the words themselves."""
    if re.fullmatch(r"-?\d+,\d+", text):
        return float(text.replace(",", "."))
    if share := re.fullmatch(r"(-?\d+(?:[.,]\d+)?)\s*%", text):
        return float(share[1].replace(",", ".")) / 100.0
    if text.lower() in ("yes", "no"):
        return text.lower() == "yes"
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (tomllib.TOMLDecodeError, RecursionError, ValueError, KeyError):
        return text


def _greys_value(text: str) -> Any:
    numbers = re.fullmatch(r"\[?\s*(-?[\d.]+)\s*(?:to|,|-|–)\s*(-?[\d.]+)\s*\]?", text)
    return [float(numbers[1]), float(numbers[2])] if numbers else _plain_value(text)


def known_areas(scheme: Scheme, wanted: Sequence[str]) -> tuple[Area, ...]:
    """Return the areas of some names, or all where none is named; raises UnknownNameError."""
    keys = {slug(named(scheme.areas, name, kind="areas").name) for name in wanted}
    return tuple(area for area in scheme.areas if not keys or slug(area.name) in keys)
