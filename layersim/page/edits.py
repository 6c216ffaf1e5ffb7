"""Small changes of a scheme's text, its remarks left where they are.

A change is first told as steps on the tables that the text holds (:func:`changed_values`), and then made in
the text (:func:`changed_text`), which must read back as those tables: else nothing is changed. Keys are set
by tomlkit within the lines below one heading; coats and areas are moved as lines, with the remarks right
above their heading.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

import tomlkit

from layersim.documents.recipes import mix_of, name_of_step
from layersim.documents.syntax import Address, headings_in
from layersim.documents.writing import one_line, toml
from layersim.errors import LayersimError
from layersim.names import LONGEST_NAME
from layersim.scheme.reading import ONCE
from layersim.scheme.targets import PLACES

MOST_EDITS: Final = 50
"""Changes made at once."""
# Of two keys that exclude each other, setting one takes out the other.
_INSTEAD: Final = {
    "paint": "mix",
    "mix": "paint",
    "dry_film_um": "wet_film_um",
    "wet_film_um": "dry_film_um",
}
_ONCE: Final = {now: old for old, now in ONCE.items()}
"""What keys were once called: whatever is done to one, the older one goes."""
_BROKEN: Final = "the page sent a change that it does not know; load it again"
_BY_HAND: Final = "this stands in the file in a way that the page cannot change; change it in the text"

Values: TypeAlias = dict[str, Any]
Edit: TypeAlias = dict[str, Any]


class GoneError(LayersimError):
    """What was to be changed is not there any more: another page, or another program, was quicker."""

    status = 409


@dataclass(frozen=True)
class Put:
    """Set a key; None takes it out."""

    at: Address
    value: Any


@dataclass(frozen=True)
class Insert:
    """Put a new row in, or a copy of one that is there; rows are coats of an area, or areas."""

    at: Address
    value: Values | None
    copy_of: int | None = None


@dataclass(frozen=True)
class Remove:
    """Take a row out."""

    at: Address


@dataclass(frozen=True)
class Move:
    """Put a row elsewhere among its own."""

    at: Address
    to: int


Step: TypeAlias = Put | Insert | Remove | Move


def changed_values(values: Values, edits: Sequence[Edit]) -> Values:
    """Return the tables of a scheme with some changes made; raises GoneError, LayersimError for no change."""
    return _worked_out(values, edits)[0]


def changed_text(text: str, edits: Sequence[Edit]) -> str:
    """Return a scheme's text with some changes made; raises as :func:`changed_values`."""
    wanted, steps = _worked_out(tomllib.loads(text), edits)
    lines = text.split("\n")
    for step in steps:
        try:
            lines = _made(lines, step)
        except (tomlkit.exceptions.TOMLKitError, LookupError, TypeError, ValueError):
            raise LayersimError(_BY_HAND) from None
    new = "\n".join(lines)
    try:
        found = tomllib.loads(new)
    except tomllib.TOMLDecodeError:
        found = {}
    if found != wanted:
        raise LayersimError(_BY_HAND)
    return new


def moves_rows(edits: Sequence[Edit]) -> bool:
    """Return whether changes put rows in, out or elsewhere, so that addresses mean other rows after."""
    return any(edit.get("do") not in ("set", "set_targets") for edit in edits)


# --- what is meant -------------------------------------------------------------------------------


def _worked_out(values: Values, edits: Sequence[Edit]) -> tuple[Values, list[Step]]:
    values = copy.deepcopy(values)
    if len(edits) > MOST_EDITS:
        raise LayersimError(f"found {len(edits)} changes at once; expected at most {MOST_EDITS}")
    made: list[Step] = []
    for edit in edits:
        if not isinstance(edit, dict):
            raise LayersimError(_BROKEN)
        for step in _steps(values, edit):
            _apply(values, step)
            made.append(step)
    return values, made


def _steps(values: Values, edit: Edit) -> list[Step]:
    do = edit.get("do")
    if do == "set":
        return _set(values, _address(edit.get("at")), _plain(edit.get("value")))
    if do == "add_area":
        return _added_area(values, edit)
    area = _whole(edit, "area")
    _row(values, ("area", area))
    if do == "remove_area":
        return [Remove(("area", area))]
    if do == "set_targets":
        wanted = edit.get("value")
        if not isinstance(wanted, dict) or not set(wanted) <= set(PLACES):
            raise LayersimError(_BROKEN)
        return [Put(("area", area, "targets", key), _plain(value)) for key, value in wanted.items()]
    coats: Address = ("area", area, "coat")
    many = len(values["area"][area].get("coat", []))
    if do == "add_coat":
        after, value = _whole(edit, "after", low=-1), _plain(edit.get("value"))
        if not isinstance(value, dict):
            raise LayersimError(_BROKEN)
        if after >= many:
            raise GoneError("the coat after which this was to come is not there any more")
        return [Insert((*coats, after + 1), value)]
    coat = (*coats, _whole(edit, "coat"))
    found = _row(values, coat)
    if do == "remove_coat":
        return [Remove(coat)]
    if do == "move_coat":
        to = min(_whole(edit, "to"), many - 1)
        return [Move(coat, to)] if to != coat[-1] else []
    if do == "copy_coat":
        at = (*coats, int(coat[-1]) + 1)
        name = _new_name(name_of_step(found), [name_of_step(one) for one in values["area"][area]["coat"]])
        return [Insert(at, None, copy_of=int(coat[-1])), *([Put((*at, "name"), name)] if name else [])]
    raise LayersimError(_BROKEN)


def _set(values: Values, at: Address, value: Any) -> list[Step]:
    """Return the steps that set one key, and what has to change with it."""
    if at[0] == "area":
        if len(at) < 3 or not isinstance(at[1], int):
            raise LayersimError(_BROKEN)
        _row(values, at[:2])
        if at[2] == "coat":
            if len(at) < 5 or not isinstance(at[3], int):
                raise LayersimError(_BROKEN)
            return _set_of_coat(_row(values, at[:4]), at, value)
    if any(isinstance(part, int) for part in (at[0], *at[2 if at[0] == "area" else 1 :])):
        raise LayersimError(_BROKEN)
    other = _INSTEAD.get(str(at[-1]))
    table: Any = values
    for part in at[:-1]:
        if isinstance(table, list):
            table = table[int(part)]
        else:
            table = table.get(part, {}) if isinstance(table, dict) else None
    if not isinstance(table, dict):
        raise LayersimError(_BY_HAND)
    gone = [key for key in (other if value is not None else None, _ONCE.get(str(at[-1]))) if key in table]
    return [*(Put((*at[:-1], key), None) for key in gone if key), Put(at, value)]


def _set_of_coat(coat: Values, at: Address, value: Any) -> list[Step]:
    place, keys = at[:4], at[4:]
    if any(isinstance(part, int) for part in keys):
        raise LayersimError(_BROKEN)
    key = str(keys[0])
    steps: list[Step] = []
    mix = coat.get("mix")
    parts, said = (mix_of(mix) if isinstance(mix, str) else None) or (None, {})
    # What a recipe says of coats and place gets keys of its own once it is changed.
    own = [Put((*place, other), said.pop(other)) for other in ("coats", "where") if other in said]
    if own and parts is not None:
        steps = [Put((*place, "mix"), _mix_text(parts, said.get("thinning"))), *own]
    if key == "mix" and len(keys) == 2:
        if parts is not None:
            new = _mix_text(_with(parts, str(keys[1]), value), said.get("thinning"))
            return [*steps, Put((*place, "mix"), new)]
        if "paint" in coat and mix is None:
            mix = {coat["paint"]: 1}
        whole = _with(mix if isinstance(mix, dict) else {}, str(keys[1]), value)
        at, value = (*place, "mix"), whole
    elif key == "thinning" and parts is not None and key in said:
        if isinstance(value, int | float):
            return [*steps, Put((*place, "mix"), _mix_text(parts, float(value)))]
        return [*steps, Put((*place, "mix"), _mix_text(parts, None)), Put(at, value)]
    elif len(keys) > 1:
        inner = coat.get(key, {})
        if not isinstance(inner, dict) or len(keys) > 2:
            raise LayersimError(_BY_HAND)
        at, value = (*place, key), _with(inner, str(keys[1]), value) or None
    other = _INSTEAD.get(key)
    if value is not None and other and other in coat:
        steps.append(Put((*place, other), None))
    return [*steps, Put(at, value)]


def _added_area(values: Values, edit: Edit) -> list[Step]:
    of, name = _whole(edit, "copy_of"), edit.get("name")
    found = _row(values, ("area", of))
    names = [str(one.get("name", "")) for one in values["area"]]
    if not isinstance(name, str) or not name.strip():
        name = _new_name(str(found.get("name", "area")), names)
    at: Address = ("area", len(values["area"]))
    # The other area's targets are not the new one's.
    wanted = [Put((*at, "targets", key), None) for key in found.get("targets", {})]
    return [Insert(at, None, copy_of=of), Put((*at, "name"), one_line(name)), *wanted]


def _new_name(name: str, others: Sequence[str]) -> str:
    number = 2
    while f"{name} {number}" in others:
        number += 1
    new = f"{name} {number}"
    return new if name and len(new) <= LONGEST_NAME else ""


def _mix_text(mix: Values, thinning: float | None) -> str:
    text = " : ".join(f"{parts:g} {name}" for name, parts in mix.items())
    return text if thinning is None else f"{text}, thinned {thinning:g}:1"


def _with(table: Values, key: str, value: Any) -> Values:
    new = {name: one for name, one in table.items() if name != key or value is not None}
    return new if value is None else {**new, key: value}


def _address(at: Any) -> Address:
    if not isinstance(at, list) or not 1 <= len(at) <= 8:
        raise LayersimError(_BROKEN)
    for part in at:
        if isinstance(part, bool) or not isinstance(part, str | int) or part == "" or part == -1:
            raise LayersimError(_BROKEN)
    return tuple(at)


def _whole(edit: Edit, key: str, *, low: int = 0) -> int:
    value = edit.get(key)
    if isinstance(value, bool) or not isinstance(value, int) or value < low:
        raise LayersimError(_BROKEN)
    return value


def _row(values: Values, at: Address) -> Values:
    """Return a row that a change is about; raises GoneError where there is none."""
    rows: Any = values
    for name, number in zip(at[::2], at[1::2], strict=True):
        rows = rows.get(name, [])
        if not isinstance(rows, list) or not isinstance(number, int) or not 0 <= number < len(rows):
            what = "coat" if name == "coat" else "area"
            raise GoneError(f"this {what} is not there any more; look at the scheme again")
        rows = rows[number]
    assert isinstance(rows, dict)
    return rows


def _plain(value: Any) -> Any:
    """Return a value as a scheme is written: whole numbers without a point, texts on one line."""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    if isinstance(value, str):
        return one_line(value)
    if isinstance(value, list):
        return [_plain(one) for one in value]
    if isinstance(value, dict):
        return {one_line(str(key)): _plain(one) for key, one in value.items() if one is not None}
    return value


def _apply(values: Values, step: Step) -> None:
    table: Any = values
    *above, last = step.at
    for part in above:
        if isinstance(table, list):
            table = table[int(part)]
        elif isinstance(step, Put) and step.value is None and part not in table:
            return
        else:
            table = table.setdefault(part, [] if part == "coat" else {})
    if isinstance(step, Put):
        if step.value is None:
            table.pop(last, None)
        else:
            table[last] = copy.deepcopy(step.value)
    elif isinstance(step, Insert):
        new = step.value if step.copy_of is None else table[step.copy_of]
        table.insert(last, copy.deepcopy(new))
    else:
        row = table.pop(last)
        if isinstance(step, Move):
            table.insert(step.to, row)
        elif not table:
            # TOML has no heading for no rows.
            owner: Any = values
            for part in above[:-1]:
                owner = owner[part]
            del owner[above[-1]]


# --- how it is written ---------------------------------------------------------------------------


@dataclass(frozen=True)
class _Section:
    """The lines of one heading: its remarks, itself, and what stands below it; line numbers from 0."""

    at: Address
    lead: int
    head: int
    end: int
    """Behind its last line that says something, and the remarks right below that."""


def _sections(lines: list[str]) -> list[_Section]:
    heads: list[tuple[int, Address]] = [(-1, ())] if lines else []
    heads += [(line - 1, at) for line, at in headings_in("\n".join(lines))]
    found: list[_Section] = []
    for number, (head, at) in enumerate(heads):
        until = heads[number + 1][0] if number + 1 < len(heads) else len(lines)
        behind = _said_until(lines, head, until)
        lead = head
        while lead > (found[-1].end if found else 0) and _is_remark(lines[lead - 1]):
            lead -= 1
        end = behind
        while end < until and _is_remark(lines[end]):
            end += 1
        # Remarks that touch the next heading belong to that.
        if end == until and number + 1 < len(heads):
            end = behind
        found.append(_Section(at, max(lead, 0), max(head, 0), max(end, 0)))
    return found


def _said_until(lines: list[str], head: int, until: int) -> int:
    while until > head + 1 and (not lines[until - 1].strip() or _is_remark(lines[until - 1])):
        until -= 1
    return until


def _is_remark(line: str) -> bool:
    return line.lstrip().startswith("#")


def _made(lines: list[str], step: Step) -> list[str]:
    if isinstance(step, Put):
        return _put(lines, step)
    *above, last = step.at
    rows = tuple(above)
    assert isinstance(last, int)
    if isinstance(step, Insert):
        if step.copy_of is None:
            block = [f"[[{'.'.join(p for p in rows if isinstance(p, str))}]]"]
            block += [f"{_key(key)} = {_toml(value)}" for key, value in (step.value or {}).items()]
        else:
            lead, end = _group(lines, (*rows, step.copy_of))
            block = lines[lead:end]
        return _inserted(lines, rows, last, _ended(block, lines))
    lead, end = _group(lines, step.at)
    block = lines[lead:end]
    while lead > 0 and not lines[lead - 1].strip():
        lead -= 1
    if lead == 0:
        while end < len(lines) and not lines[end].strip():
            end += 1
    # What is left at the file's end keeps its own last line.
    left = [*lines[:lead], *lines[end:]]
    return _inserted(left, rows, step.to, _ended(block, lines)) if isinstance(step, Move) else left


def _group(lines: list[str], at: Address) -> tuple[int, int]:
    """Return the lines of a row and all below it: the first, and the one behind the last."""
    own = [one for one in _sections(lines) if one.at[: len(at)] == at]
    if not own or own[0].at != at:
        raise LayersimError(_BY_HAND)
    return own[0].lead, own[-1].end


def _inserted(lines: list[str], rows: Address, index: int, block: list[str]) -> list[str]:
    """Return the lines with a row's lines put in, so that it is number `index` of its own."""
    blank = _ended([""], lines)
    sections = _sections(lines)
    if index and any(one.at == (*rows, index - 1) for one in sections):
        _, at = _group(lines, (*rows, index - 1))
    elif not index and any(one.at == (*rows, 0) for one in sections):
        at, _ = _group(lines, (*rows, 0))
        return [*lines[:at], *block, *blank, *lines[at:]]
    elif index:
        raise LayersimError(_BY_HAND)
    else:
        owner = rows[:-1]
        before = [one for one in sections if one.at in (owner, (*owner, "preshade"))]
        if not before or not owner:
            raise LayersimError(_BY_HAND)
        at = before[-1].end
    tail = lines[at:] or [""]
    return [*_closed(lines[:at], lines), *blank, *block, *tail]


def _closed(head: list[str], lines: list[str]) -> list[str]:
    """Return lines of which the last one is ended as the others are, where it was the file's last."""
    if len(head) == len(lines) and head and _crlf(lines) and not head[-1].endswith("\r"):
        return [*head[:-1], head[-1] + "\r"]
    return head


def _crlf(lines: list[str]) -> bool:
    return bool(lines) and lines[0].endswith("\r")


def _ended(block: list[str], lines: list[str]) -> list[str]:
    """Return lines to put in, ended as the others are."""
    return [line if line.endswith("\r") or not _crlf(lines) else line + "\r" for line in block]


def _put(lines: list[str], step: Put) -> list[str]:
    *above, key = step.at
    assert isinstance(key, str)
    if any(one.at == step.at for one in _sections(lines)):
        # It has a heading of its own, which what comes now will not have.
        lead, end = _group(lines, step.at)
        while lead > 0 and not lines[lead - 1].strip():
            lead -= 1
        lines = [*lines[:lead], *lines[end:]]
        if step.value is None:
            return lines
    owner = tuple(above)
    section = next((one for one in _sections(lines) if one.at == owner), None)
    inner: Address = ()
    while section is None and owner:
        owner, inner = owner[:-1], (owner[-1], *inner)
        section = next((one for one in _sections(lines) if one.at == owner), None)
    if section is None:
        raise LayersimError(_BY_HAND)
    block = lines[section.head : section.end]
    parsed: Any = tomlkit.parse("\n".join(block) + "\n")
    table: Any = parsed
    for part in owner:
        if not isinstance(part, int):
            table = table[part]
            table = table[0] if isinstance(table, tomlkit.items.AoT) else table
    if inner and inner[0] not in table:
        if step.value is None:
            return lines
        return _with_heading(lines, (*owner, *inner), key, step.value)
    if inner:
        whole = table[inner[0]].unwrap()
        below: Any = whole
        for part in inner[1:]:
            below = below[part]
        if step.value is None:
            below.pop(key, None)
        else:
            below[key] = step.value
        key, value = str(inner[0]), whole
    else:
        value = step.value
    if value is None:
        if key not in table:
            return lines
        del table[key]
    else:
        if key in table and isinstance(table[key], tomlkit.items.Table):
            del table[key]  # joined by dots
        table[key] = tomlkit.parse(f"x = {_toml(value)}\n")["x"]
    new = tomlkit.dumps(parsed).split("\n")[:-1]
    old = set(block)
    new = [line if line in old else _ended([line.rstrip("\r")], lines)[0] for line in new]
    if section.end == len(lines) and new and lines[-1:] == block[-1:] and not lines[-1].endswith("\r"):
        new[-1] = new[-1].rstrip("\r")  # the file's last line has no end
    return [*lines[: section.head], *new, *lines[section.end :]]


def _with_heading(lines: list[str], table: Address, key: str, value: Any) -> list[str]:
    """Return the lines with a new heading and one key below it."""
    name = ".".join(_key(part) for part in table if isinstance(part, str))
    block = [f"[{name}]", f"{_key(key)} = {_toml(value)}"]
    sections = _sections(lines)
    owner = table[:-1]
    if table[-1] == "preshade":
        at = next(one.end for one in sections if one.at == owner)
    elif owner:
        _, at = _group(lines, owner)
    else:
        at = sections[0].end
    tail = lines[at:] or [""]
    return [*_closed(lines[:at], lines), *_ended(["", *block], lines), *tail]


def _key(name: str) -> str:
    bare = name and all(c.isascii() and (c.isalnum() or c in "-_") for c in name)
    return name if bare else toml(name)


def _toml(value: Any) -> str:
    """Return a value as TOML has it, its numbers to all their digits."""
    if isinstance(value, bool) or not isinstance(value, float | dict | list):
        return toml(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    inside = ", ".join(f"{_key(key)} = {_toml(one)}" for key, one in value.items())
    return f"{{ {inside} }}" if inside else "{}"


def about(edits: Sequence[Edit]) -> str:
    """Return words for a change that came without any."""
    return {"remove_coat": "a coat taken out", "move_coat": "a coat moved", "copy_coat": "a coat copied"}.get(
        str(edits[0].get("do")) if edits and isinstance(edits[0], dict) else "", "a change"
    )
