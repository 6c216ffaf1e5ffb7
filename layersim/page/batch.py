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

from layersim.errors import LayersimError, UnknownNameError, quoted
from layersim.learn.entering import enter, new_entry, seen_chip, typed_chip
from layersim.learn.really import step_names
from layersim.log import TONES, Chip, log_path, take_back
from layersim.page.asked import Asked, number_of, text_of, with_json, yes_or_no
from layersim.page.batchwork import KINDS, work_out
from layersim.page.chip import spot_of
from layersim.page.opened import opened, own_file
from layersim.page.ticks import changed, read_ticks, ticks_path, write_ticks
from layersim.scheme.batch import MOST_MODELS
from layersim.scheme.records import Scheme
from layersim.views.chip import screen_words
from layersim.views.log import entry_lines, slip_words, total_lines
from layersim.views.notices import sentences

_TYPES: Final = {"pdf": "application/pdf", "page": "text/html"}
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
    return JSONResponse({"areas": areas, "file": file, "why": why})


def _with_coats(area: Any) -> list[tuple[str, Any]]:
    names = step_names(area)
    return list(zip(names, [None] * (len(names) - len(area.coats)) + list(area.coats), strict=True))


def _add(request: Request, asked: Asked) -> Any:
    """Add what was sprayed to the log, as `layersim log add` does, and return what it says."""
    path = log_path(own_file(request.app))
    desk = request.app.state.desk
    scheme = desk.scheme()
    chips, notes = _chips(request.app, asked, scheme)
    drops = asked.get("drops") or {}
    if not isinstance(drops, dict):
        raise LayersimError("drops: expected a number for each paint")
    entry = new_entry(
        scheme,
        text=desk.text,
        area=text_of(asked, "area"),
        step=text_of(asked, "step"),
        coats=_number(asked, "coats", whole=True),
        drops=[(name, number_of(drops, name, low=0.0, high=1e5)) for name in drops],
        pressure_bar=_number(asked, "pressure_bar"),
        chips=chips,
        note=text_of(asked, "note", most=_MOST_NOTE) if asked.get("note") else "",
    )
    added = enter(path, entry, scheme, folders=tuple(desk.folders))
    notices = sentences([*notes, *slip_words(added, "")])
    return {
        "words": [*entry_lines(added.entry, added.chips), *total_lines(added, ""), *notices],
        "file": path.name,
    }


def _chips(app: Starlette, asked: Asked, scheme: Scheme) -> tuple[list[Chip], list[str]]:
    """Return the chips that were typed, or pointed at in a photograph, and what to know of them."""
    given = asked.get("chips") or {}
    if not isinstance(given, dict) or not set(given) <= set(TONES):
        raise LayersimError(f"chips: expected measured colours at {', '.join(TONES)}")
    chips, notes = [], []
    for tone in given:
        if isinstance(given[tone], dict):
            spot, words = spot_of(app, given[tone], scheme.viewing)
            chips.append(seen_chip(tone, spot.lab, spot.doubt, scheme.viewing))
            notes += words
            continue
        typed = text_of(given, tone)
        chip = typed_chip(tone, typed)
        if chip is None:
            raise LayersimError(
                f"{tone}: found {quoted(typed)}; expected L,a,b as measured, such as 31.5,2,-18"
            )
        if chip.doubt is not None:
            notes.append(screen_words(tone, typed=False))
        chips.append(chip)
    return chips, list(dict.fromkeys(notes))


def _number(asked: Asked, key: str, *, whole: bool = False) -> Any:
    if asked.get(key) is None:
        return None
    value = number_of(asked, key, low=-1e6, high=1e6)
    return int(value) if whole and value.is_integer() else value


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
