"""The log of what was really sprayed: a text file beside the scheme that is only ever added to.

One entry is one line of JSON. A line is whole or it is not: an entry is added with one write that ends in a
line break and is on the disk before :func:`add_entry` returns. So a writer that is stopped at any moment
leaves every finished entry whole, and at most one torn line at the end. TOML, whose tables run over lines,
could be torn between two keys and still be read as if it were whole. A write that fails, as on a full disk,
is cut off again. A torn or damaged line is set aside, told and kept. What was entered wrongly is taken back
by a further line, and entered anew. That line names the entry's line by a digest of it, not by a number, so
that it means the same entry whatever somebody deletes by hand.

An entry keeps the text of the scheme as it stood when it was made, and the film factor of the sprayer that it
named, so that a scheme edited since does not change what was planned then. Each entry has the whole text, and
no line leans on another that may be torn.

Letters beyond ASCII are written as escapes, so that no letter can be torn in two.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import stat
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from layersim.colour import LIGHTS, OBSERVERS
from layersim.errors import LogFileError, OutputError, nearest_hint, quoted
from layersim.spectra import BANDS

FORMAT: Final = 1
ENDING: Final = ".log.jsonl"
TONES: Final = ("shadow", "mid", "light")
MOST_LETTERS: Final = 5000
MOST_SCHEME_LETTERS: Final = 1_000_000
MOST_CHIPS: Final = 100
"""In one entry."""
MOST_BAR: Final = 8.0
"""More than an airbrush is given: who types more has another unit in mind."""
MOST_LOG_BYTES: Final = 64 * 2**20
"""A log of a thousand entries has about five million."""
_MARK: Final = "layersim log"
_LARGEST: Final = sys.float_info.max
_BACK: Final = "takes_back"
# Opening a pipe must not wait for whoever writes into it.
_AT_ONCE: Final = getattr(os, "O_NONBLOCK", 0)


SCREEN_DOUBT: Final = 10.0
"""By how much each of L*, a* and b* of a colour off a screen may be off, nine times in ten.

Nothing in the picture tells its colours: exposure and white balance are a camera's guesses (estimated).
"""


@dataclass(frozen=True)
class Chip:
    """One colour that was measured on a model or on a chip sprayed beside it, after a step had dried."""

    tone: str | float
    """One of :data:`TONES`, or the lightness L* that the bare preshade has there."""
    lab: tuple[float, float, float] | None = None
    """L*a*b* as measured, relative to the light's white."""
    reflectance: tuple[float, ...] | None = None
    """31 bands instead."""
    light: str = "D65"
    """That `lab` stands for, as `observer` is."""
    observer: str = "2"
    doubt: float | None = None
    """By how much each of L*, a* and b* may be off, nine times in ten; None for a measured chip."""


@dataclass(frozen=True)
class Entry:
    """What was sprayed in one step on one area, and what came of it. What was not noted is None or empty."""

    at: datetime
    area: str
    step: str
    coats: int | None = None
    """Laid this time; several entries for one step add up."""
    drops: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    """By paint, and "thinner"."""
    pressure_bar: float | None = None
    cup_loss_g: float | None = None
    card_gain_g: float | None = None
    sprayer: str = ""
    photograph: str = ""
    """Name of a file beside the scheme."""
    chips: tuple[Chip, ...] = ()
    note: str = ""
    film_factor: float | None = None
    """Of the sprayer that the scheme named then."""
    scheme: str = ""
    """The text of the scheme file as it stood then; empty in entries that were made without."""


@dataclass(frozen=True)
class Aside:
    """A line of the log that could not be used, and why."""

    line: int
    """From 1."""
    text: str
    """As it stands there, shortened."""
    why: str


@dataclass(frozen=True)
class Log:
    """What a log says."""

    path: Path
    entries: tuple[Entry, ...]
    """In the order in which they were added, those taken back left out."""
    aside: tuple[Aside, ...]
    lines: tuple[int, ...] = field(default=(), compare=False)
    """The line of each entry in the file, from 1; empty for a log that was read from no file."""


class EntryError(ValueError):
    """Something in an entry that cannot be: its key, what was found, what was expected."""

    def __init__(self, key: str, found: str, expected: str, hint: str = "") -> None:
        super().__init__(f"{key}: found {found}; expected {expected}.{f' {hint}' if hint else ''}")


def log_path(scheme: Path) -> Path:
    """Return where the log of a scheme lies: beside it.

    >>> log_path(Path("tide.toml")).name
    'tide.log.jsonl'
    """
    return scheme.with_name(scheme.stem + ENDING)


def entry_line(entry: Entry) -> str:
    """Return an entry as its line, without the line break.

    >>> entry_line(Entry(datetime(2026, 5, 1, 18, 30), "cloth", "base", coats=3))
    '{"layersim log": 1, "at": "2026-05-01T18:30:00", "area": "cloth", "step": "base", "coats": 3}'
    """
    return json.dumps(_entry_values(entry), ensure_ascii=True, allow_nan=False)


def _entry_values(entry: Entry) -> dict[str, Any]:
    values: dict[str, Any] = {_MARK: FORMAT, **{key: getattr(entry, key) for key in _READ}}
    values["at"] = entry.at.isoformat(timespec="seconds")
    values["drops"] = dict(entry.drops)
    values["chips"] = [_chip_values(chip) for chip in entry.chips]
    return {key: value for key, value in values.items() if value not in (None, "", {}, [])}


def _chip_values(chip: Chip) -> dict[str, Any]:
    values: dict[str, Any] = {"tone": chip.tone}
    if chip.lab is not None:
        values |= {"lab": list(chip.lab), "light": chip.light, "observer": chip.observer}
        values |= {} if chip.doubt is None else {"doubt": chip.doubt}
    if chip.reflectance is not None:
        values["reflectance"] = list(chip.reflectance)
    return values


def add_entry(path: Path, entry: Entry) -> None:
    """Add an entry to a log; it is on the disk when this returns.

    Raises OutputError if the file cannot be written, and EntryError if the entry could not be read back. What
    stood in the file is then untouched.
    """
    entry_from(_entry_values(entry))
    _add_line(path, lambda _: entry_line(entry))


def take_back(path: Path, *, at: datetime) -> Entry | None:
    """Take the last entry of a log back, by a line that says so; it is on the disk when this returns.

    `at` is when it is taken back. Returns what was taken back; None where there is no entry, and nothing is
    written. Raises LogFileError or OutputError if the file cannot be read or written, or if a line after
    the last entry cannot be used: whoever takes back may mean that one. What stood in the file is then
    untouched.
    """
    taken: list[Entry] = []

    def line(handle: int) -> str | None:
        entries, aside = _lines_read(_content(path, handle))
        if aside and (not entries or entries[-1].line < aside[-1].line):
            raise LogFileError(path, _nothing_taken_words(aside[-1], before=bool(entries)))
        if not entries:
            return None
        taken.append(entries[-1].entry)
        values = {_MARK: FORMAT, "at": at.isoformat(timespec="seconds"), _BACK: entries[-1].digest}
        return json.dumps(values)

    log = read_log(path)
    if log.entries or log.aside:
        _add_line(path, line)
    return taken[0] if taken else None


def _nothing_taken_words(aside: Aside, *, before: bool) -> str:
    told = f"nothing was taken back: line {aside.line}, {aside.text}, does not count as it is ({aside.why})"
    if not before:
        return told
    return (
        f"{told}. To take back the entry before it, delete line {aside.line} in a text editor first (unless "
        "a newer layersim wrote it: take it back with that), then take back again"
    )


def _add_line(path: Path, line_for: Callable[[int], str | None]) -> None:
    """Add the line for an open log, if there is one; no other writer comes in between."""
    try:
        # A folder cannot be opened to be written, which would be told in other words.
        if path.is_dir():
            raise OutputError(f"{path}: this is no ordinary file; expected a log, or nothing yet")
        new = not path.exists()
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | _AT_ONCE, 0o666)
        try:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                raise OutputError(f"{path}: this is no ordinary file; expected a log, or nothing yet")
            with _alone(handle):
                line = line_for(handle)
                if line is None:
                    return
                # What was torn off stays where it is, on a line of its own.
                size = os.fstat(handle).st_size
                torn = size > 0 and _last_byte(handle) != b"\n"
                _write_whole(handle, (("\n" if torn else "") + line + "\n").encode("ascii"), size=size)
        finally:
            os.close(handle)
        if new:
            _sync_folder(path.parent)
    except (OSError, ValueError) as fault:
        raise OutputError(f"{path}: this log cannot be written ({_reason(fault)})") from None


def _write_whole(handle: int, content: bytes, *, size: int) -> None:
    """Write at the end of a file of a size, or leave it as it was."""
    left = memoryview(content)
    try:
        while left:
            left = left[os.write(handle, left) :]
        os.fsync(handle)
    except BaseException:
        with contextlib.suppress(OSError):
            os.ftruncate(handle, size)
        raise


def _reason(fault: OSError | ValueError) -> str:
    return ((fault.strerror if isinstance(fault, OSError) else None) or str(fault)).lower()


def _last_byte(handle: int) -> bytes:
    os.lseek(handle, -1, os.SEEK_END)
    return os.read(handle, 1)


def _content(path: Path, handle: int) -> bytes:
    os.lseek(handle, 0, os.SEEK_SET)
    content = b""
    while piece := os.read(handle, 1 << 20):
        content += piece
        if len(content) > MOST_LOG_BYTES:
            most = f"{MOST_LOG_BYTES // 2**20} MB"
            raise LogFileError(path, f"this log is too large (more than {most}). Was another file meant?")
    return content


@contextlib.contextmanager
def _alone(handle: int) -> Iterator[None]:
    """Let no second writer in between looking at the end and writing, where the system can do that."""
    try:
        import fcntl
    except ImportError:  # a system without it: one write is still one line
        yield
        return
    fcntl.flock(handle, fcntl.LOCK_EX)
    try:
        yield
    finally:
        fcntl.flock(handle, fcntl.LOCK_UN)


def _sync_folder(folder: Path) -> None:
    """Make a new file's name safe, too, where folders can be opened."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def read_log(path: Path) -> Log:
    """Return what a log says; a log that is not there yet says nothing.

    Lines that cannot be used are set aside. Raises LogFileError if there is something that cannot be read
    as a log, or if there can be no log at that place.
    """
    try:
        if path.is_dir():
            raise LogFileError(path, "this is a folder; expected a log file")
        handle = os.open(path, os.O_RDONLY | _AT_ONCE)
    except FileNotFoundError:
        if path.parent.is_dir():
            return Log(path, (), ())
        raise LogFileError(path, f"there is no folder {path.parent}") from None
    except (OSError, ValueError) as fault:
        raise LogFileError(path, f"this log cannot be read ({_reason(fault)})") from None
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise LogFileError(path, "this is no ordinary file; expected a log file")
        raw = _content(path, handle)
    except OSError as fault:
        raise LogFileError(path, f"this log cannot be read ({_reason(fault)})") from None
    finally:
        os.close(handle)
    entries, aside = _lines_read(raw)
    return Log(path, tuple(one.entry for one in entries), tuple(aside), tuple(one.line for one in entries))


@dataclass(frozen=True)
class _Standing:
    """An entry that counts, its line's number and digest."""

    line: int
    digest: str
    entry: Entry


def _lines_read(raw: bytes) -> tuple[list[_Standing], list[Aside]]:
    """Return a log's entries that count, and the lines that cannot be used."""
    entries: list[_Standing] = []
    aside = []
    lines = raw.split(b"\n")
    for number, content in enumerate(lines, start=1):
        if not content.strip():
            continue
        try:
            values = _values(content, torn=number == len(lines))
            if _BACK in values:
                _leave_out(entries, values)
            else:
                entries.append(_Standing(number, _digest(content), entry_from(values)))
        except EntryError as fault:
            text = content[:60].decode("utf-8", "replace")
            aside.append(Aside(number, quoted(text), str(fault).rstrip(".")))
    return entries, aside


def _digest(line: bytes) -> str:
    return hashlib.sha256(line.strip()).hexdigest()[:16]


def _leave_out(entries: list[_Standing], values: Mapping[str, Any]) -> None:
    """Leave out the entry that a line takes back; of two that are alike, the later."""
    _check_version(values)
    for index in reversed(range(len(entries))):
        if entries[index].digest == values[_BACK]:
            del entries[index]
            return
    raise EntryError(_BACK, _shown(values[_BACK]), "an entry further up that stands")


def _values(content: bytes, *, torn: bool) -> dict[str, Any]:
    try:
        values = json.loads(content.decode("utf-8"))
    except (ValueError, RecursionError):
        found = "the beginning of an entry that was never finished" if torn else "no entry, or a damaged one"
        raise EntryError("the line", found, "one line of JSON") from None
    if not isinstance(values, dict):
        raise EntryError("the line", "JSON of another kind", "an entry in braces")
    return values


# ---------------------------------------------------------------- what an entry may say


def entry_from(values: Mapping[str, Any]) -> Entry:
    """Return the entry that JSON's values say; raises EntryError for the first thing that cannot be."""
    for key in values:
        if key != _MARK and key not in _READ:
            hint = nearest_hint(key, (_MARK, *_READ), listed=False)
            raise EntryError(quoted(key), "a key that is not known", "a key of an entry", hint)
    _check_version(values)
    asked = [key for key in _READ if key in values or key in _NEEDED]
    return Entry(**{key: _READ[key](key, values.get(key)) for key in asked})


def _check_version(values: Mapping[str, Any]) -> None:
    if values.get(_MARK) != FORMAT:
        raise EntryError(quoted(_MARK), _shown(values.get(_MARK)), f"{FORMAT}, the version of this log")


def _date(key: str, value: object) -> datetime:
    try:
        return datetime.fromisoformat(value if isinstance(value, str) else "")
    except ValueError:
        raise EntryError(key, _shown(value), "a date such as 2026-05-01T18:30") from None


def _text(key: str, value: object) -> str:
    if not isinstance(value, str) or (key in _NEEDED and not value.strip()):
        raise EntryError(key, _shown(value), "a text")
    if len(value) > MOST_LETTERS or any(ord(c) < 32 and not c.isspace() for c in value):
        raise EntryError(key, quoted(value), f"at most {MOST_LETTERS} letters, without control characters")
    return " ".join(value.split())


def _scheme(key: str, value: object) -> str:
    """Return a scheme's text, its lines as they are."""
    if not isinstance(value, str):
        raise EntryError(key, _shown(value), "the text of a scheme")
    if len(value) > MOST_SCHEME_LETTERS:
        raise EntryError(key, f"{len(value)} letters", f"at most {MOST_SCHEME_LETTERS}")
    return value


def _coats(key: str, value: object) -> int | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 100:
        raise EntryError(key, _shown(value), "a whole number from 1 to 100")
    return value


def _drops(key: str, value: object) -> Mapping[str, float]:
    if not isinstance(value, dict):
        raise EntryError(key, _shown(value), "drops by the names of paints")
    for name, count in value.items():
        if not _is_number(count) or not 0.0 <= count <= 1e6:
            raise EntryError(f"drops of {quoted(name)}", _shown(count), "a number from 0 to 1000000")
    return MappingProxyType({" ".join(name.split()): float(count) for name, count in value.items()})


def _number_to(high: float) -> Callable[[str, Any], float | None]:
    def read(key: str, value: Any) -> float | None:
        if value is None:
            return None
        if not _is_number(value) or not 0.0 < value <= high:
            raise EntryError(key, _shown(value), f"a number above 0, at most {high:g}")
        return float(value)

    return read


def _chips(key: str, value: object) -> tuple[Chip, ...]:
    if not isinstance(value, list) or len(value) > MOST_CHIPS:
        raise EntryError(key, _shown(value), f"a list of at most {MOST_CHIPS} chips")
    return tuple(_chip(one) for one in value)


def _chip(value: object) -> Chip:
    if not isinstance(value, dict):
        raise EntryError("chips", _shown(value), "a chip with its tone and colour")
    tone: Any = value.get("tone")
    if not (tone in TONES or (_is_number(tone) and 0.0 <= tone <= 100.0)):
        hint = nearest_hint(tone, TONES, listed=False) if isinstance(tone, str) else ""
        raise EntryError(
            "tone of a chip", _shown(tone), f"{', '.join(TONES)}, or L* of its bare preshade", hint
        )
    lab, bands = value.get("lab"), value.get("reflectance")
    if (lab is None) == (bands is None):
        raise EntryError("a chip", "both or neither of lab and reflectance", "one of them")
    light, observer = value.get("light", "D65"), value.get("observer", "2")
    if not isinstance(light, str) or light not in LIGHTS:
        hint = nearest_hint(light, LIGHTS, kind="lights") if isinstance(light, str) else ""
        raise EntryError("light of a chip", _shown(light), "one known here", hint)
    if not isinstance(observer, str) or observer not in OBSERVERS:
        raise EntryError("observer of a chip", _shown(observer), " or ".join(OBSERVERS))
    if lab is not None:
        three = _numbers(lab, "lab of a chip", 3, -200.0, 200.0)
        if not 0.0 <= three[0] <= 100.0:
            raise EntryError("lab of a chip", f"a lightness L of {three[0]:g}", "one from 0 to 100")
        doubt = value.get("doubt")
        if doubt is not None:
            doubt = _numbers([doubt], "doubt of a chip", 1, 0.0, 100.0)[0]
        return Chip(tone, lab=(three[0], three[1], three[2]), light=light, observer=observer, doubt=doubt)
    reflectance = tuple(_numbers(bands, "reflectance of a chip", BANDS, -0.1, 2.0))
    return Chip(tone, reflectance=reflectance, light=light, observer=observer)


def _numbers(values: object, key: str, count: int, low: float, high: float) -> list[float]:
    if not isinstance(values, list) or len(values) != count:
        raise EntryError(key, _shown(values), f"{count} numbers")
    for value in values:
        if not _is_number(value) or not low <= value <= high:
            raise EntryError(key, _shown(value), f"numbers from {low:g} to {high:g}")
    return [float(value) for value in values]


_NEEDED: Final = ("at", "area", "step")
_READ: Final[dict[str, Callable[[str, Any], Any]]] = {
    "at": _date,
    "area": _text,
    "step": _text,
    "coats": _coats,
    "drops": _drops,
    "pressure_bar": _number_to(20.0),
    "cup_loss_g": _number_to(10_000.0),
    "card_gain_g": _number_to(10_000.0),
    "sprayer": _text,
    "photograph": _text,
    "chips": _chips,
    "note": _text,
    "film_factor": _number_to(100.0),
    "scheme": _scheme,
}
"""How each key of an entry is read, in the order in which they are written."""


def _is_number(value: object) -> bool:
    # A whole number may be too large for math.isfinite.
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) <= _LARGEST


def _shown(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, dict):
        return "values in braces"
    if isinstance(value, float):
        return f"{value:g}"
    return quoted(value) if isinstance(value, str) else quoted(str(value)).strip('"')
