"""The desk: the scheme that is open, as a text with its history, and the file it is kept in.

Every change goes through :class:`Desk`, one at a time, whichever page it comes from. A text that the scheme
reader refuses never gets onto the desk. The file is written whole at each change, and never over what
somebody else wrote meanwhile unless that was asked for; what was there then is one step back in the history.
"""

from __future__ import annotations

import contextlib
import copy
import hashlib
import threading
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from layersim.errors import InputFileError, LayersimError, Problem, SchemeError
from layersim.files import LARGEST_TEXT_BYTES, is_file, read_bytes, read_text, write_whole
from layersim.page.asked import Asked, text_of, with_json, yes_or_no
from layersim.page.cards import TERMS, area_cards, text_only
from layersim.page.edits import Edit, GoneError, Values, about, changed_text, moves_rows
from layersim.resources import data_folder, demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme
from layersim.shelf import Shelf

MOST_STEPS_BACK: Final = 500
WATCH_SECONDS: Final = 1.0
NEW: Final[dict[str, Callable[[], Path]]] = {
    "demo": demo_scheme,
    "starter": lambda: data_folder() / "schemes" / "starter.toml",
}
"""What a new scheme may begin with."""
_MARK: Final = b"\xef\xbb\xbf"
"""What some editors put before UTF-8."""


class BusyError(LayersimError):
    """The file was changed by somebody else, or is there already: it takes a word to write over it."""

    status = 409


@dataclass(frozen=True)
class Was:
    """A step of the history: the text before or after a change, and the change in words."""

    text: str
    what: str


class Desk:
    """The open scheme. Whatever is asked of it may be asked from any thread."""

    def __init__(self, folder: Path, tell: Callable[[dict[str, Any]], None] | None = None) -> None:
        self.folder = folder
        self.tell = tell or (lambda _: None)
        self.lock = threading.RLock()
        self.revision = 0
        self.changed_outside = False
        self.said: list[str] = []
        """What happened that the painter should know, beside the scheme's own notices."""
        self._file: Path | None = None
        self._path = demo_scheme()
        self._mark = self._unwritten = False
        self._seen: str | None = None
        self._text = ""
        self._back: list[Was] = []
        self._forth: list[Was] = []
        self._rows_since = 0
        self._shelves = _Shelves()
        self._open(self._path, kept=False)

    # What is open.

    @property
    def text(self) -> str:
        """The scheme's text."""
        return self._text

    @property
    def values(self) -> Values:
        """The tables of the text; not to be changed."""
        return self._values

    @property
    def file(self) -> Path | None:
        """The file it is kept in; None for one that has none yet."""
        return self._file

    @property
    def path(self) -> Path:
        """Where it was read from, beside which the paints that it names lie; it is kept in :attr:`file`."""
        return self._path

    @property
    def folders(self) -> tuple[Path, ...]:
        """The folder of paints that the scheme itself names, if any."""
        named = self._values.get("paints")
        return (self._path.parent / named,) if isinstance(named, str) else ()

    @property
    def shelf_sign(self) -> Any:
        """What differs whenever a file of paints or sprayers does."""
        return self._shelves.sign(self.folders)

    @property
    def unsaved(self) -> bool:
        """Whether changes are in no file."""
        return self._unwritten

    def scheme(self) -> Scheme:
        """Return the open scheme, read."""
        with self.lock:
            return self.read(self._text)

    def read(self, text: str, edit: Callable[[Values], None] | None = None) -> Scheme:
        """Return a text read as this scheme; raises LayersimError with what is wrong, without its lines."""
        try:
            return load_scheme(self._path, text=text, usual=self._shelves.usual, edit=edit)
        except SchemeError as fault:
            raise _shorter(fault) from None

    def state(self) -> dict[str, Any]:
        """Return all that the page shows of the scheme."""
        with self.lock:
            scheme = self.read(self._text)
            whole = self.read(self._text, edit=all_on) if some_off(self._values) else scheme
            return {
                "revision": self.revision,
                "name": scheme.name,
                "file": None if self._file is None else self._file.name,
                "unsaved": self.unsaved,
                "undo": self._back[-1].what if self._back else None,
                "redo": self._forth[-1].what if self._forth else None,
                "changed_outside": self.changed_outside,
                "lamp": scheme.viewing.light,
                "areas": area_cards(whole, self._values),
                "notices": [*self.said, *scheme.notices],
                "text_only": text_only(self._values),
            }

    # Changes.

    def edit(self, edits: Sequence[Edit], what: str = "", *, revision: int | None = None) -> None:
        """Make changes as one step; raises LayersimError, and nothing is changed, where one can't be made."""
        with self.lock:
            self.check_rows(edits, revision)
            new = changed_text(self._text, edits)
            self.read(new)
            if new != self._text:
                self._step(new, what or about(edits), rows=moves_rows(edits))

    def check_rows(self, edits: Sequence[Edit], revision: int | None) -> None:
        """Raise GoneError where changes speak of rows by numbers that meant others when they were made."""
        names_rows = any(edit.get("at", ["area"])[:1] == ["area"] for edit in edits if isinstance(edit, dict))
        if revision is not None and revision < self._rows_since and names_rows:
            raise GoneError("coats or areas were moved meanwhile, on another page; look at the scheme again")

    def put_text(self, text: str, what: str) -> None:
        """Put another text of this scheme in place of what is open, as one step."""
        with self.lock:
            self.read(text)
            if text != self._text:
                self._step(text, what, rows=True)

    def undo(self) -> None:
        """Go a step back."""
        self._turn(self._back, self._forth)

    def redo(self) -> None:
        """Go a step forth again."""
        self._turn(self._forth, self._back)

    # Files.

    def files(self) -> list[str]:
        """Return the names of the files in the folder that may be schemes."""
        try:
            here = [one.name for one in self.folder.iterdir() if _may_be_scheme(one)]
        except OSError:
            return []
        return sorted(here)

    def open(self, name: str) -> None:
        """Open a scheme of the folder."""
        with self.lock:
            self._open(self._place(name), kept=True)

    def open_named(self, path: Path) -> None:
        """Open a scheme that was named on the command line."""
        with self.lock:
            self._open(path, kept=True)

    def new(self, like: str) -> None:
        """Begin a new scheme, which has no file yet."""
        if like not in NEW:
            raise LayersimError(f"a new scheme is like one of: {', '.join(NEW)}")
        with self.lock:
            self._open(NEW[like](), kept=False)

    def save(self, name: str | None = None, *, over: bool = False) -> None:
        """Write the scheme into its file, or into another of the folder, which it then is kept in."""
        with self.lock:
            path = self._file if name is None else self._place(name)
            if path is None:
                raise LayersimError("this scheme has no file yet; save it under a name")
            if path != self._file:
                if path.exists() and not over:
                    raise BusyError(f"{path.name} is there already; save it under another name, or over that")
                # Paints and meshes are looked for beside the file.
                load_scheme(path, text=self._text, usual=self._shelves.usual)
                before = self._file, self._path, self._text
                if self._file is None and path.name.isprintable():
                    # The starter's remarks name the file that its commands are for.
                    self._text = self._text.replace(" starter.toml", f" {path.name}")
                self._file = self._path = path
                try:
                    self._write(check=False)
                except LayersimError:
                    self._file, self._path, self._text = before
                    raise
            else:
                if self._outside() and not over:
                    raise BusyError(f"{path.name} was changed outside; read it again, or save over it")
                self._keep_outside()
                self._write(check=False)
            self._told()

    def reload(self) -> None:
        """Read the file again; what was open is one step back."""
        with self.lock:
            if self._file is None:
                raise LayersimError("this scheme has no file that could be read again")
            text, seen, mark = _read(self._file)
            self.read(text)
            if text != self._text:
                self._back.append(Was(self._text, "reading the file again"))
                self._forth.clear()
            self._take(text, seen, mark)
            self._rows_since = self.revision

    def look_outside(self) -> None:
        """Look whether the file was changed by somebody else, and tell it once."""
        with self.lock:
            if not self.changed_outside and self._outside():
                self.changed_outside = True
                self.tell({"kind": "outside"})
            elif self.changed_outside and not self._outside():
                self.changed_outside = False
                self._told()

    # Inside.

    def _place(self, name: str) -> Path:
        """Return the file of a bare name in the folder."""
        bare = name.strip()
        if Path(bare).name != bare or bare.startswith(".") or any(c in bare for c in "\\/:\0") or not bare:
            raise LayersimError("expected the name of a file in the page's folder, such as my-scheme.toml")
        return self.folder / (bare if bare.lower().endswith(".toml") else f"{bare}.toml")

    def _open(self, path: Path, *, kept: bool) -> None:
        text, seen, mark = _read(path)
        try:
            load_scheme(path, text=text, usual=self._shelves.usual)
        except SchemeError as fault:
            raise _shorter(fault, lines=True) from None
        self._path, self._file = path, path if kept else None
        self._back.clear()
        self._forth.clear()
        self.said.clear()
        self._take(text, seen if kept else None, mark)
        self._rows_since = self.revision

    def _take(self, text: str, seen: str | None, mark: bool) -> None:
        """Have a text on the desk as it is in the file."""
        self._text, self._values = text, tomllib.loads(text)
        self._seen, self._mark, self.changed_outside, self._unwritten = seen, mark, False, False
        self.revision += 1
        self._told()

    def _step(self, text: str, what: str, *, rows: bool) -> None:
        self._back.append(Was(self._text, what))
        del self._back[:-MOST_STEPS_BACK]
        self._forth.clear()
        self._set(text, rows=rows)

    def _turn(self, steps: list[Was], others: list[Was]) -> None:
        with self.lock:
            if not steps:
                raise LayersimError("there is no such step")
            self.read(steps[-1].text)
            step = steps.pop()
            others.append(Was(self._text, step.what))
            self._set(step.text, rows=True)

    def _set(self, text: str, *, rows: bool) -> None:
        self._text, self._values = text, tomllib.loads(text)
        self.revision += 1
        if rows:
            self._rows_since = self.revision
        self.said.clear()
        self._unwritten = True
        if self._file is not None:
            try:
                self._write(check=True)
            except LayersimError as fault:
                self.said.append(f"not saved: {fault}")
        self._told()

    def _write(self, *, check: bool) -> None:
        assert self._file is not None
        if check and self._outside():
            if not self.changed_outside:
                self.changed_outside = True
                self.tell({"kind": "outside"})
            return
        raw = (_MARK if self._mark else b"") + self._text.encode()
        write_whole(self._file, raw)
        self._seen, self._unwritten, self.changed_outside = _sign(raw), False, False

    def _outside(self) -> bool:
        """Return whether the file holds something else than was read or written here; if gone, not."""
        if self._file is None or not is_file(self._file):
            return False
        try:
            return _sign(read_bytes(self._file, what="scheme")) != self._seen
        except InputFileError:
            return True

    def _keep_outside(self) -> None:
        """Have what somebody else wrote one step back, if it is a scheme."""
        if self._file is None or not self._outside():
            return
        with contextlib.suppress(LayersimError):
            text = _read(self._file)[0]
            self.read(text)
            self._back.append(Was(text, "saving over what was changed outside"))
            self._forth.clear()

    def _told(self) -> None:
        self.tell({"kind": "scheme", "revision": self.revision})


class _Shelves:
    """Shelves by their folders, each kept until a file in one of them changes."""

    def __init__(self) -> None:
        self._kept: dict[tuple[Path, ...], tuple[Any, Shelf]] = {}
        self._lock = threading.Lock()

    def usual(self, *first: Path) -> Shelf:
        sign = self.sign(first)
        with self._lock:
            kept = self._kept.get(first)
            if kept is None or kept[0] != sign:
                self._kept[first] = kept = (sign, _KeptShelf(Shelf.usual(*first).folders))
        return kept[1]

    def sign(self, first: Sequence[Path]) -> Any:
        found = []
        for folder in Shelf.usual(*first).folders:
            with contextlib.suppress(OSError):
                for one in folder.iterdir():
                    with contextlib.suppress(OSError):
                        stat = one.stat()
                        found.append((str(one), stat.st_mtime_ns, stat.st_size))
        return tuple(sorted(found))


class _KeptShelf(Shelf):
    """A shelf that reads no file twice."""

    def __init__(self, folders: Sequence[Path]) -> None:
        super().__init__(folders)
        self._placed: dict[str, Any] = {}

    def place(self, name: str) -> Any:
        """Return a paint and its file, as they were first found."""
        if name not in self._placed:
            self._placed[name] = super().place(name)
        return self._placed[name]


def some_off(values: Values) -> bool:
    """Return whether a coat of a scheme's tables is switched off."""
    return any(coat.get("off") is True for area in values["area"] for coat in area.get("coat", []))


def all_on(values: Values) -> None:
    """Switch every coat of a scheme's tables on."""
    for area in values.get("area", []):
        for coat in area.get("coat", []) if isinstance(area, dict) else ():
            if isinstance(coat, dict) and isinstance(coat.get("off"), bool):
                del coat["off"]


def _read(path: Path) -> tuple[str, str, bool]:
    """Return a file's text, what tells its content from others, and whether a mark stands before it."""
    for _ in range(3):
        raw = read_bytes(path, what="scheme", error=SchemeError, most=LARGEST_TEXT_BYTES)
        text = read_text(path, what="scheme", error=SchemeError)
        if raw.removeprefix(_MARK) == text.encode():
            return text, _sign(raw), raw.startswith(_MARK)
    raise SchemeError(path, "this file is being written just now; try again")


def _sign(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()


def _may_be_scheme(path: Path) -> bool:
    if path.suffix.lower() != ".toml" or path.name.startswith(".") or not is_file(path):
        return False
    with contextlib.suppress(OSError), path.open("rb") as file:
        return b"layersim scheme" in file.read(4096)
    return False


def _shorter(fault: SchemeError, *, lines: bool = False) -> LayersimError:
    """Return a fault of the text without its file; without its lines, which no painter at the page sees."""
    if not fault.problems:
        return fault
    told: list[Problem] = [one if lines else replace(one, line=None) for one in fault.problems]
    return LayersimError(" ".join(f"{one}" for one in told))


# --- what the page asks --------------------------------------------------------------------------


def desk_of(request: Request) -> Desk:
    """Return the desk of the application that a request came to."""
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


def edits_of(asked: Asked) -> list[Edit]:
    """Return the changes that a page sent."""
    edits = asked.get("edits", [])
    if not isinstance(edits, list) or not all(isinstance(one, dict) for one in edits):
        raise LayersimError("edits: expected a list of changes")
    return copy.deepcopy(edits)


def revision_of(asked: Asked) -> int | None:
    """Return at which revision a page looked when it made its changes."""
    revision = asked.get("revision")
    return revision if isinstance(revision, int) and not isinstance(revision, bool) else None


def _answered(work: Callable[[Desk, Asked], None]) -> Callable[[Request, Asked], Any]:
    def answer(request: Request, asked: Asked) -> Any:
        desk = desk_of(request)
        work(desk, asked)
        return desk.state()

    return answer


def _edit(desk: Desk, asked: Asked) -> None:
    what = asked.get("what")
    words = what[:200] if isinstance(what, str) else ""
    desk.edit(edits_of(asked), words, revision=revision_of(asked))


def _save(desk: Desk, asked: Asked) -> None:
    desk.save(text_of(asked, "as") if asked.get("as") is not None else None, over=yes_or_no(asked, "over"))


def _state(request: Request) -> Response:
    desk = desk_of(request)
    desk.look_outside()
    return JSONResponse(desk.state())


def _files(request: Request) -> Response:
    return JSONResponse(desk_of(request).files())


def begin(app: Starlette) -> None:
    """Put the scheme that was asked for on the desk, else the demo, and watch its file."""
    desk = Desk(app.state.folder, lambda event: app.state.tell(event))
    asked = app.state.scheme_asked
    if asked is not None:
        try:
            desk.open_named(asked)
        except LayersimError as fault:
            desk.said.append(f"{asked.name} cannot be opened, so this is the demo: {fault}")
    app.state.desk = desk
    threading.Thread(target=_watch, args=(desk,), name="watcher", daemon=True).start()


def _watch(desk: Desk) -> None:
    last: Any = None
    pause = threading.Event()
    while not pause.wait(WATCH_SECONDS):
        file = desk.file
        now: Any = None
        if file is not None:
            with contextlib.suppress(OSError):
                stat = file.stat()
                now = (file, stat.st_mtime_ns, stat.st_size, stat.st_ino)
        if now != last:
            last = now
            desk.look_outside()


def _posted(path: str, work: Callable[[Desk, Asked], None]) -> Route:
    return Route(path, with_json(_answered(work)), methods=["POST"])


ROUTES: Final = [
    Route("/api/scheme", _state),
    Route("/api/files", _files),
    Route("/api/terms", lambda _: JSONResponse(TERMS)),
    _posted("/api/edit", _edit),
    _posted("/api/undo", lambda desk, _: desk.undo()),
    _posted("/api/redo", lambda desk, _: desk.redo()),
    _posted("/api/save", _save),
    _posted("/api/reload", lambda desk, _: desk.reload()),
    _posted("/api/open", lambda desk, asked: desk.open(text_of(asked, "file"))),
    _posted("/api/new", lambda desk, asked: desk.new(text_of(asked, "like"))),
]
