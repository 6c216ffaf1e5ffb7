"""Match, correct, and whether it matters: asked for here, worked out by a worker process."""

from __future__ import annotations

import dataclasses
import tomllib
from collections.abc import Callable, Sequence
from typing import Any, Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from layersim.decide.artwork import main_colours, proposed_targets, targets_from
from layersim.decide.choices import MOST_CHOICES
from layersim.decide.correction import LIMITS as CORRECTION
from layersim.decide.recipes import Limits, changed_limits
from layersim.decide.targets import PLACE_WORDS, colour_from
from layersim.decide.tolerance import MOST_MODELS
from layersim.decide.writing import Written, with_answer
from layersim.documents.recipes import name_of_step
from layersim.errors import LayersimError, UnknownNameError
from layersim.log import SCREEN_DOUBT
from layersim.names import slug
from layersim.owned import colours_owned, owned_file
from layersim.page.asked import Asked, number_of, text_of, with_json, yes_or_no
from layersim.page.chip import spot_of
from layersim.page.decidework import find_correction, find_difference, find_match, find_tolerance
from layersim.page.kept import Kept
from layersim.page.opened import opened
from layersim.page.shelf import shelf_of
from layersim.page.targets import artwork_spot
from layersim.paint import Paint
from layersim.scheme.records import Targets
from layersim.scheme.targets import PLACES
from layersim.shelf import NO_COLOURS
from layersim.views.artwork import sentences
from layersim.views.chip import screen_words

MOST_TEXT: Final = 500_000
"""Letters of a pinned scheme."""
MOST_KEPT: Final = 12
"""Searches whose answers can still be used."""
_MOST_FILTERS: Final = 4
_MOST_THINNINGS: Final = 6
_WHOLE: Final = ("paints_at_most", "drops", "least_drops")
_GONE: Final = "this answer is not kept any more; search again"
_LONGEST: Final = 1000
"""Letters of a choice in words."""


def _match(request: Request, asked: Asked) -> Any:
    """Begin a match: {"area", "coat" or "after", "owned", "limits", "quick", "filters", "other_preshades"}.

    {"as_planned"}, or {"artwork": {"id", "spots"}} as of :func:`_from_artwork`; else the area's own targets.
    """
    targets, notes = _from_artwork(request, asked["artwork"]) if asked.get("artwork") else (None, [])
    shelf = shelf_of(request.app)
    arguments = {
        "source": opened(request.app),
        "area": text_of(asked, "area"),
        "coat": _maybe(asked, "coat"),
        "after": _maybe(asked, "after"),
        "paints": _paints(request, asked),
        "limits": _limits(asked, Limits()),
        "targets": targets,
        "notes": notes,
        "filters": [shelf.find(name) for name in _texts(asked, "filters", most=_MOST_FILTERS)],
        "other_preshades": yes_or_no(asked, "other_preshades"),
        "as_planned": yes_or_no(asked, "as_planned"),
        "quick": yes_or_no(asked, "quick"),
    }
    return {"work": request.app.state.work.start("match", find_match, arguments, _keeping(request))}


def _from_artwork(request: Request, asked: Any) -> tuple[Targets, list[str]]:
    """Return targets from a picture that was dropped: {"id", "spots": {place: {"x", "y", "size"}}}.

    Without spots they are those that the picture proposes, as a spot is with {"is_proposed": true}.
    """
    given = asked.get("spots") if isinstance(asked, dict) else None
    if not isinstance(given, dict) or not set(given) <= set(PLACES):
        raise LayersimError("artwork: expected a picture and its spots at shadow, mid or light")
    picture = request.app.state.pictures.find(text_of(asked, "id"))
    proposed = proposed_targets(picture, main_colours(picture))
    chosen = {
        place: proposed[place]
        if place in proposed and _is_proposed(given[place])
        else artwork_spot(picture, given[place], place)
        for place in PLACES
        if place in given
    }
    patches = chosen or proposed
    pick = "a click, under Targets"
    return targets_from(patches), sentences(picture, patches, proposed=not chosen, pick=pick)


def _is_proposed(spot: Any) -> bool:
    return isinstance(spot, dict) and yes_or_no(spot, "is_proposed")


def _usual(_: Request) -> Response:
    """Send the limits of a search as they are if nothing is said."""
    return JSONResponse(
        {
            name: {**dataclasses.asdict(limits), "coats": f"{limits.coats[0]}-{limits.coats[-1]}"}
            for name, limits in (("match", Limits()), ("correct", CORRECTION))
        }
    )


def _limits(asked: Asked, default: Limits) -> Limits:
    """Return the limits of a search: {"limits": any of those of a painter's hand}."""
    given = asked.get("limits") or {}
    if not isinstance(given, dict) or not set(given) <= {*_WHOLE, "coats", "thinnings", "wet_film_um"}:
        raise LayersimError("limits: expected those of a search, such as drops or coats")
    said: Asked = {key: int(number_of(given, key, low=0, high=1000)) for key in _WHOLE if key in given}
    if "thinnings" in given:
        drops = given["thinnings"]
        if not isinstance(drops, list) or not 0 < len(drops) <= _MOST_THINNINGS:
            raise LayersimError(f"thinning: expected 1 to {_MOST_THINNINGS} numbers of drops of thinner")
        said["thinnings"] = [number_of({"thinning": one}, "thinning", low=0.0, high=100.0) for one in drops]
    if "wet_film_um" in given:
        said["wet_film_um"] = number_of(given, "wet_film_um", low=0.1, high=1000.0)
    return changed_limits(default, coats=_maybe(given, "coats"), **said)


def _correct(request: Request, asked: Asked) -> Any:
    """Begin a correction: {"area", "found": {"shadow", "mid", "light"}, "owned", "limits", "against_plan"}.

    What was found is typed, or a spot of a photograph as of :func:`layersim.page.chip.spot_of`.
    """
    given = asked.get("found")
    if not isinstance(given, dict) or not set(given) <= set(PLACES):
        raise LayersimError("found: expected what came out at shadow, mid or light")
    typed = {place: text for place, text in given.items() if text not in ("", None)}
    if not typed:
        raise LayersimError("what came out: found no colour; expected one at shadow, mid or light at least")
    viewing = request.app.state.desk.scheme().viewing
    found, doubts, notes = {}, {}, []
    for place, said in typed.items():
        if isinstance(said, dict):
            spot, words = spot_of(request.app, said, viewing)
            found[place], doubts[place] = spot.lab, spot.doubt
            notes += words
            continue
        target = colour_from(text_of(typed, place), name=PLACE_WORDS[place])
        found[place] = target.under(viewing)
        if target.on_screen:
            doubts[place] = SCREEN_DOUBT
            notes.append(screen_words(PLACE_WORDS[place], typed=False))
    arguments = {
        "source": opened(request.app),
        "area": text_of(asked, "area"),
        "found": found,
        "doubts": doubts,
        "notes": list(dict.fromkeys(notes)),
        "paints": _paints(request, asked),
        "limits": _limits(asked, CORRECTION),
        "against_plan": yes_or_no(asked, "against_plan"),
    }
    return {"work": request.app.state.work.start("correct", find_correction, arguments, _keeping(request))}


def _paints(request: Request, asked: Asked) -> list[Paint]:
    """Return the paints to search: what is owned, or all that colour."""
    shelf = shelf_of(request.app)
    if yes_or_no(asked, "owned"):
        return colours_owned(owned_file(), shelf)
    return [place.paint for place in shelf.places() if place.paint.kind not in NO_COLOURS]


def _maybe(asked: Asked, key: str) -> str | None:
    return None if asked.get(key) is None else text_of(asked, key)


def begin(app: Starlette) -> None:
    """Let the application keep the answers of the last searches, as they would be written."""
    answers: Kept[Asked] = Kept(MOST_KEPT, gone=_GONE)
    app.state.answers = answers


def _keeping(request: Request) -> Callable[[Asked], Asked]:
    """Return what keeps all that a search found, and returns what the page is told of it."""
    answers: Kept[Asked] = request.app.state.answers

    def keep(result: Asked) -> Asked:
        told = [{key: one[key] for key in ("recipe", "html")} for one in result["answers"]]
        return {**result, "answers": told, "id": answers.keep(result)}

    return keep


def _use(request: Request, asked: Asked) -> Any:
    """Write an answer into the open scheme, as one step of undo: {"id", "answer": from 1}."""
    number = int(number_of(asked, "answer", low=1, high=1000))
    result = request.app.state.answers.find(text_of(asked, "id"))
    if number > len(result["answers"]):
        raise UnknownNameError(_GONE)
    answer = result["answers"][number - 1]
    desk = request.app.state.desk
    with desk.lock:
        new = _written(desk.text, result, answer["written"])
        desk.put_text(new, f"{answer['recipe']} on {result['area']}"[:200])
    return {"words": f"{answer['recipe']}: now on {result['area']}"}


def _written(text: str, result: dict[str, Any], written: Written) -> str:
    """Return a scheme's text with an answer in it, a new coat by a name that no other of its area has."""
    area, coat, after = result["area"], result["coat"], result["after"]
    if coat is None:
        there = [
            one for one in tomllib.loads(text).get("area", []) if slug(str(one.get("name"))) == slug(area)
        ]
        names = [name_of_step(one) for one in there[0].get("coat", [])] if there else []
        after = after or (names[-1] if names else "preshade")
        written = dataclasses.replace(
            written, coat=dataclasses.replace(written.coat, name=_fresh(written.coat.name, names))
        )
    return with_answer(text, written, area=area, coat=coat, after=after)


def _fresh(name: str, taken: Sequence[str]) -> str:
    known, number, new = {slug(one) for one in taken}, 2, name
    while slug(new) in known:
        new, number = f"{name} {number}", number + 1
    return new


def _text(request: Request) -> Response:
    """Send the scheme's text, to be pinned as A."""
    return JSONResponse({"text": request.app.state.desk.text})


def _compare(request: Request, asked: Asked) -> Any:
    """Begin a comparison: {"first": the pinned text, "names": [A, B]}, or {"choices": [words]}; {"areas"}."""
    first = text_of(asked, "first", most=MOST_TEXT) if asked.get("first") is not None else None
    choices = _texts(asked, "choices", most=MOST_CHOICES)
    if (first is None) == (not choices):
        raise LayersimError("to compare: expected a pinned state, or choices such as filter.coats = 2")
    names = _texts(asked, "names", most=2)
    arguments = {
        "source": opened(request.app),
        "first": first,
        "names": tuple(names) if len(names) == 2 else ("A, as pinned", "B, as it is now"),
        "choices": choices,
        "areas": _texts(asked, "areas", most=100),
    }
    return {"work": request.app.state.work.start("compare", find_difference, arguments)}


def _texts(asked: Asked, key: str, *, most: int) -> list[str]:
    given = asked.get(key) or []
    if not isinstance(given, list) or len(given) > most:
        raise LayersimError(f"{key}: expected at most {most} texts")
    if not all(isinstance(one, str) and 0 < len(one) <= _LONGEST for one in given):
        raise LayersimError(f"{key}: expected texts of 1 to {_LONGEST} letters")
    return given


def _tolerance(request: Request, asked: Asked) -> Any:
    """Begin to ask how forgiving the scheme is: {"models"} if not the scheme's own."""
    models = None if asked.get("models") is None else int(number_of(asked, "models", low=2, high=MOST_MODELS))
    arguments = {"source": opened(request.app), "models": models}
    return {"work": request.app.state.work.start("tolerance", find_tolerance, arguments)}


ROUTES: Final = [
    Route("/api/match", with_json(_match), methods=["POST"]),
    Route("/api/limits", _usual),
    Route("/api/correct", with_json(_correct), methods=["POST"]),
    Route("/api/match/use", with_json(_use), methods=["POST"]),
    Route("/api/compare/text", _text),
    Route("/api/compare", with_json(_compare), methods=["POST"]),
    Route("/api/tolerance", with_json(_tolerance), methods=["POST"]),
]
