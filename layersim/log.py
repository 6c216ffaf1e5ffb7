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
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, Final

from layersim.colour import LIGHTS, OBSERVERS
from layersim.documents.document import Document
from layersim.documents.keys import Key, keys_of, read_keys
from layersim.documents.kinds import Kind, number, special, text, whole, word
from layersim.documents.table import Table, shown
from layersim.errors import LogFileError, OutputError, Problem, quoted
from layersim.spectra import BANDS

FORMAT: Final = 1
ENDING: Final = ".log.jsonl"
TONES: Final = ("shadow", "mid", "light")
MOST_SCHEME_LETTERS: Final = 1_000_000
MOST_CHIPS: Final = 100
"""In one entry."""
MOST_BAR: Final = 8.0
"""More than an airbrush is given: who types more has another unit in mind."""
MOST_LOG_BYTES: Final = 64 * 2**20
"""A log of a thousand entries has about five million."""
_MARK: Final = "layersim log"
_BACK: Final = "takes_back"
# Opening a pipe must not wait for whoever writes into it.
_AT_ONCE: Final = getattr(os, "O_NONBLOCK", 0)


SCREEN_DOUBT: Final = 10.0
"""By how much each of L*, a* and b* of a colour off a screen may be off, nine times in ten.

Nothing in the picture tells its colours: exposure and white balance are a camera's guesses (estimated).
"""


def _tone(table: Table, key: str) -> str | float:
    if isinstance(table.values.get(key), str):
        return table.choice(key, TONES)
    return table.number(key, low=0.0, high=100.0, expected=f"{', '.join(TONES)}, or L* of its bare preshade")


def _some(count: int, low: float, high: float) -> Kind:
    """Return the kind of a list of as many numbers."""

    def read(table: Table, key: str) -> tuple[float, ...]:
        values = table.numbers(key, low=low, high=high)
        if len(values) != count:
            raise table.fault(key, shown(values), f"{count} numbers")
        return tuple(values)

    return special(read, f"{count} numbers")


def _date(table: Table, key: str) -> datetime:
    try:
        return datetime.fromisoformat(table.text(key))
    except ValueError:
        raise table.fault(key, shown(table.values[key]), "a date such as 2026-05-01T18:30") from None


def _drops(table: Table, key: str) -> Mapping[str, float]:
    drops = table.table(key) if isinstance(table.values[key], dict) else None
    if drops is None:
        raise table.fault(key, shown(table.values[key]), "drops by the names of paints")
    counts = {" ".join(name.split()): drops.number(name, low=0.0, high=1e6) for name in drops.values}
    return MappingProxyType(counts)


def _scheme(table: Table, key: str) -> str:
    """Return a scheme's text, its lines as they are."""
    value = table.values[key]
    if not isinstance(value, str):
        raise table.fault(key, shown(value), "the text of a scheme")
    if len(value) > MOST_SCHEME_LETTERS:
        raise table.fault(key, f"{len(value)} letters", f"at most {MOST_SCHEME_LETTERS}")
    return value


@dataclass(frozen=True)
class Chip:
    """One colour that was measured on a model or on a chip sprayed beside it, after a step had dried."""

    tone: Annotated[str | float, Key(special(_tone, ", ".join(TONES)))]
    """One of :data:`TONES`, or the lightness L* that the bare preshade has there."""
    lab: Annotated[tuple[float, ...] | None, Key(_some(3, -200.0, 200.0))] = None
    """L*a*b* as measured, relative to the light's white."""
    reflectance: Annotated[tuple[float, ...] | None, Key(_some(BANDS, -0.1, 2.0))] = None
    """31 bands instead."""
    light: Annotated[str, Key(word(tuple(LIGHTS)))] = "D65"
    """That `lab` stands for, as `observer` is."""
    observer: Annotated[str, Key(word(OBSERVERS))] = "2"
    doubt: Annotated[float | None, Key(number(0.0, 100.0))] = None
    """By how much each of L*, a* and b* may be off, nine times in ten; None for a measured chip."""


_CHIP_KEYS: Final = keys_of(Chip)


def _chip(row: Table) -> Chip:
    row.values = {key: value for key, value in row.values.items() if value is not None}
    before = len(row.document.problems)
    values = read_keys(row, _CHIP_KEYS)
    lab = values["lab"]
    if len(row.document.problems) == before and (lab is None) == (values["reflectance"] is None):
        raise row.fault(None, "both or neither of lab and reflectance", "one of them")
    if lab is not None and not 0.0 <= lab[0] <= 100.0:
        raise row.fault("lab", f"a lightness L of {lab[0]:g}", "one from 0 to 100")
    return Chip(**values)


def _chips(table: Table, key: str) -> tuple[Chip, ...]:
    if not isinstance(table.values[key], list):
        raise table.fault(key, shown(table.values[key]), f"a list of at most {MOST_CHIPS} chips")
    return tuple(map(_chip, table.tables(key, most=MOST_CHIPS)))


@dataclass(frozen=True)
class Entry:
    """What was sprayed in one step on one area, and what came of it. What was not noted is None or empty."""

    at: Annotated[datetime, Key(special(_date, "a date"))]
    area: Annotated[str, Key(text())]
    step: Annotated[str, Key(text())]
    coats: Annotated[int | None, Key(whole(1, 100))] = None
    """Laid this time; several entries for one step add up."""
    drops: Annotated[Mapping[str, float], Key(special(_drops, "drops by paint"))] = field(
        default_factory=lambda: MappingProxyType({})
    )
    """By paint, and "thinner"."""
    pressure_bar: Annotated[float | None, Key(number(above=0, high=20))] = None
    cup_loss_g: Annotated[float | None, Key(number(above=0, high=10_000))] = None
    card_gain_g: Annotated[float | None, Key(number(above=0, high=10_000))] = None
    sprayer: Annotated[str, Key(text())] = ""
    photograph: Annotated[str, Key(text())] = ""
    """Name of a file beside the scheme."""
    chips: Annotated[tuple[Chip, ...], Key(special(_chips, "chips"))] = ()
    note: Annotated[str, Key(text())] = ""
    film_factor: Annotated[float | None, Key(number(above=0, high=100))] = None
    """Of the sprayer that the scheme named then."""
    scheme: Annotated[str, Key(special(_scheme, "the text of a scheme"))] = ""
    """The text of the scheme file as it stood then; empty in entries that were made without."""


_KEYS: Final = keys_of(Entry)


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
        super().__init__(str(Problem(key, found, expected, hint=hint)))


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
    values: dict[str, Any] = {_MARK: FORMAT, **{key: getattr(entry, key) for key in _KEYS}}
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
    for at, content in enumerate(lines, start=1):
        if not content.strip():
            continue
        try:
            values = _values(content, torn=at == len(lines))
            if _BACK in values:
                _leave_out(entries, values)
            else:
                entries.append(_Standing(at, _digest(content), entry_from(values)))
        except EntryError as fault:
            text = content[:60].decode("utf-8", "replace")
            aside.append(Aside(at, quoted(text), str(fault).rstrip(".")))
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
    raise EntryError(_BACK, shown(values[_BACK]), "an entry further up that stands")


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
    _check_version(values)
    said = {key: value for key, value in values.items() if key != _MARK and value is not None}
    document = Document(Path(), what="log", error=LogFileError, values=said)
    entry = read_keys(document.top, _KEYS)
    for one in document.problems:
        raise EntryError(one.where, one.found, one.expected, one.hint)
    return Entry(**entry)


def _check_version(values: Mapping[str, Any]) -> None:
    if (found := values.get(_MARK)) != FORMAT:
        said = "nothing" if found is None else shown(found)
        raise EntryError(quoted(_MARK), said, f"{FORMAT}, the version of this log")
