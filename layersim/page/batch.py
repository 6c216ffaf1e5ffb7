"""The batch: quantities, order of work and bench card, ticks as one works, and what was really sprayed."""

from __future__ import annotations

import threading
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from layersim.documents.typed import three_numbers
from layersim.errors import LayersimError, UnknownNameError, quoted
from layersim.learn.beside import compared
from layersim.learn.really import (
    THINNER,
    coats_so_far,
    known_area,
    known_step,
    paint_names,
    step_names,
    strange_drops,
)
from layersim.log import MOST_BAR, TONES, Chip, Entry, EntryError, add_entry, log_path, read_log, take_back
from layersim.page.asked import Asked, number_of, text_of, with_json, yes_or_no
from layersim.page.batchwork import KINDS, work_out
from layersim.page.opened import opened, own_file
from layersim.page.ticks import changed, read_ticks, ticks_path, write_ticks
from layersim.scheme.batch import MOST_MODELS
from layersim.scheme.records import Scheme
from layersim.views.log import entry_lines, slip_words, total_lines

_TYPES: Final = {"pdf": "application/pdf", "page": "text/html"}
_MOST_COATS: Final = 1000
_MOST_NOTE: Final = 2000


class CardAndTicks:
    """The card that was made last, and the ticks of a scheme that is in no file."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.card: dict[str, bytes] = {}
        self.loose: dict[str, list[str]] = {}
        """By the scheme's name."""


def begin(app: Starlette) -> None:
    """Let the application keep a card."""
    app.state.bench = CardAndTicks()


def _batch(request: Request, asked: Asked) -> Any:
    """Begin to work out one of what a batch has: {"what", "models"}."""
    what = text_of(asked, "what")
    if what not in KINDS:
        raise LayersimError(f"what: expected one of {', '.join(KINDS)}")
    models = None if asked.get("models") is None else int(number_of(asked, "models", low=1, high=MOST_MODELS))
    log = log_path(own_file(request.app)) if what in ("log", "learn") else None
    bench = request.app.state.bench

    def then(result: dict[str, Any]) -> dict[str, Any]:
        files = {name: result.pop(name) for name in _TYPES if name in result}
        if files:
            with bench.lock:
                bench.card = files
        return {**result, "what": what}

    arguments = {"source": opened(request.app), "what": what, "models": models, "log": log}
    return {"work": request.app.state.work.start(what, work_out, arguments, then)}


def _file(request: Request) -> Response:
    """Send the card that was made last: to print, or for a phone."""
    name = request.path_params["name"]
    with request.app.state.bench.lock:
        card = request.app.state.bench.card.get(name)
    if card is None:
        raise UnknownNameError("there is no card yet; make it first")
    return Response(card, media_type=_TYPES[name])


def _get_ticks(request: Request) -> Response:
    path = _ticks_file(request.app)
    with request.app.state.bench.lock:
        return JSONResponse(_ticked(request.app, path))


def _set_ticks(request: Request, asked: Asked) -> Any:
    """Tick boxes, or take their ticks away: {"boxes": [names], "on"}; {"clear": true} takes all away."""
    boxes = asked.get("boxes", [])
    if not isinstance(boxes, list) or not all(isinstance(box, str) for box in boxes):
        raise LayersimError("boxes: expected names of boxes")
    path = _ticks_file(request.app)
    with request.app.state.bench.lock:
        before: list[str] = _ticked(request.app, path)["ticked"]
        new = [] if yes_or_no(asked, "clear") else changed(before, boxes, on=yes_or_no(asked, "on"))
        if path is None:
            request.app.state.bench.loose = {request.app.state.desk.scheme().name: new}
        else:
            write_ticks(path, new)
        answer = _ticked(request.app, path)
    request.app.state.tell({"kind": "ticks", **answer})
    return answer


def _ticks_file(app: Starlette) -> Path | None:
    try:
        return ticks_path(own_file(app))
    except LayersimError:
        return None


def _ticked(app: Starlette, path: Path | None) -> dict[str, Any]:
    if path is None:
        return {"ticked": app.state.bench.loose.get(app.state.desk.scheme().name, []), "file": None}
    return {"ticked": read_ticks(path), "file": path.name}


def _steps(request: Request) -> Response:
    """Send what can be logged: areas, their steps and paints."""
    scheme = request.app.state.desk.scheme()
    try:
        file: str | None = log_path(own_file(request.app)).name
        why = ""
    except LayersimError as fault:
        file, why = None, f"{fault}"
    areas = [
        {
            "name": area.name,
            "steps": [
                {
                    "name": name,
                    "paints": [paint.name for paint, _ in coat.mix.ingredients] if coat else [],
                    "coats": coat.coats if coat else None,
                }
                for name, coat in _with_coats(area)
            ],
        }
        for area in scheme.areas
    ]
    return JSONResponse({"areas": areas, "tones": list(TONES), "file": file, "why": why})


def _with_coats(area: Any) -> list[tuple[str, Any]]:
    names = step_names(area)
    return list(zip(names, [None] * (len(names) - len(area.coats)) + list(area.coats), strict=True))


def _add(request: Request, asked: Asked) -> Any:
    """Add what was sprayed to the log, as `layersim log add` does, and return what it says."""
    path = log_path(own_file(request.app))
    desk = request.app.state.desk
    scheme = desk.scheme()
    try:
        add_entry(path, _entry(asked, scheme, desk.text))
    except EntryError as fault:
        raise LayersimError(f"{fault}") from None
    log, folders, command = read_log(path), tuple(desk.folders), f"layersim log {scheme.path}"
    entry = log.entries[-1]
    rows = compared(scheme, log, entry=entry, folders=folders).rows
    so_far = coats_so_far(scheme, log, area=entry.area, step=entry.step)
    before = log.entries[-2] if len(log.entries) > 1 else None
    slips = slip_words(entry, before, rows, strange_drops(scheme, entry), command)
    said = [*entry_lines(entry, rows), *total_lines(so_far, entry, command), *(f"Note: {s}." for s in slips)]
    return {"words": said, "file": path.name}


def _entry(asked: Asked, scheme: Scheme, text: str) -> Entry:
    area = scheme.areas[known_area(scheme, text_of(asked, "area"))]
    step = step_names(area)[known_step(area, text_of(asked, "step"))]
    coats = None if asked.get("coats") is None else int(number_of(asked, "coats", low=0, high=_MOST_COATS))
    bar = asked.get("pressure_bar")
    note = " ".join(text_of(asked, "note", most=_MOST_NOTE).split()) if asked.get("note") else ""
    drops, chips = _drops(asked, scheme), _chips(asked)
    if coats is None and bar is None and not (drops or chips or note):
        raise LayersimError("found nothing beside area and coat; expected coats, drops, a chip or a note")
    sprayer = scheme.batch.sprayer
    factor = sprayer.film_factor if sprayer is not None else None
    return Entry(
        at=datetime.now(),
        area=area.name,
        step=step,
        coats=coats,
        drops=drops,
        pressure_bar=None if bar is None else number_of(asked, "pressure_bar", low=0.01, high=MOST_BAR),
        sprayer=sprayer.name if sprayer is not None else "",
        chips=chips,
        note=note,
        scheme=text,
        film_factor=None if factor is None else factor.value,
    )


def _drops(asked: Asked, scheme: Scheme) -> dict[str, float]:
    given = asked.get("drops") or {}
    if not isinstance(given, dict):
        raise LayersimError("drops: expected a number for each paint")
    known = {THINNER, *paint_names(scheme)}
    for name in given:
        if name not in known:
            raise UnknownNameError(f"drops: no paint {str(name)[:80]!r} in this scheme")
    return {name: number_of(given, name, low=0.0, high=1e5) for name in given}


def _chips(asked: Asked) -> tuple[Chip, ...]:
    given = asked.get("chips") or {}
    if not isinstance(given, dict) or not set(given) <= set(TONES):
        raise LayersimError(f"chips: expected measured colours at {', '.join(TONES)}")
    chips = []
    for tone in given:
        typed = text_of(given, tone)
        lab = three_numbers(typed)
        if lab is None:
            hint = " A colour off a screen is no measurement." if typed.startswith("#") else ""
            raise LayersimError(
                f"{tone}: found {quoted(typed)}; expected L,a,b as measured: 31.5,2,-18.{hint}"
            )
        chips.append(Chip(tone, lab=lab))
    return tuple(chips)


def _take_back(request: Request, _: Asked) -> Any:
    path = log_path(own_file(request.app))
    taken = take_back(path, at=datetime.now())
    if taken is None:
        raise LayersimError(f"{path.name}: found no entry; expected one to take back")
    return {"words": [f"Taken back: {entry_lines(taken)[0]}", "Its line stays in the log."]}


ROUTES: Final = [
    Route("/api/batch", with_json(_batch), methods=["POST"]),
    Route("/api/card/{name:str}", _file, methods=["GET"]),
    Route("/api/ticks", _get_ticks, methods=["GET"]),
    Route("/api/ticks", with_json(_set_ticks), methods=["POST"]),
    Route("/api/log", _steps, methods=["GET"]),
    Route("/api/log", with_json(_add), methods=["POST"]),
    Route("/api/log/take-back", with_json(_take_back), methods=["POST"]),
]
