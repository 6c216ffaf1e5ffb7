"""Colours while something is moved: of the scheme on the desk, or of a change that is only tried.

Only areas that are not known yet are worked out; the last few hundred are kept by all that they depend on. A
page that asks anew has what it asked before given up.
"""

from __future__ import annotations

import dataclasses
import functools
import json
import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layersim import colour
from layersim.errors import LayersimError
from layersim.page.asked import Asked, number_of, with_json, yes_or_no
from layersim.page.css import css_of_lab, css_of_one, css_of_xyz
from layersim.page.desk import Desk, desk_of, edits_of, revision_of
from layersim.page.edits import GoneError, Values, changed_values
from layersim.page.kept import Memory
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Area, GreysGiven, Scheme
from layersim.scheme.simulate import simulate
from layersim.spectra import FloatArray
from layersim.views import metal
from layersim.views.metal import look_words
from layersim.views.preview import axis_words, doubt_words, sure_words, view
from layersim.writers.html import content

MOST_TONES: Final = 60
RANGE_TONES: Final = 9
"""Tones at which ranges are worked out, the preview's; between them they change slowly."""
MOST_KEPT: Final = 300
MOST_PAGES: Final = 50

# XYZ of D65, Y = 1, to linear Display P3: its primaries and white are those of CSS Color 4, section 10.5.
_P3_XY: Final = np.array([[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]])
_SLACK: Final = 1.5e-4


class _Live:
    """What was worked out before, and who asked last."""

    def __init__(self) -> None:
        self.working = threading.Lock()
        self._guard = threading.Lock()
        self.answers: Memory[dict[str, Any]] = Memory(MOST_KEPT)
        self._last: OrderedDict[str, int] = OrderedDict()

    def asks(self, page: str, number: int) -> None:
        with self._guard:
            self._last[page] = max(number, self._last.get(page, number))
            self._last.move_to_end(page)
            while len(self._last) > MOST_PAGES:
                self._last.popitem(last=False)

    def is_old(self, page: str, number: int) -> bool:
        with self._guard:
            return bool(page) and self._last.get(page, number) > number


def _colours(request: Request, asked: Asked) -> Any:
    desk, live = desk_of(request), request.app.state.live
    page, number = _ticket(asked)
    live.asks(page, number)
    with live.working:
        if live.is_old(page, number):
            return Response(status_code=204)
        return _worked_out(desk, live, asked, page, number)


def _worked_out(desk: Desk, live: _Live, asked: Asked, page: str, number: int) -> Any:
    edits = edits_of(asked)
    tones = int(number_of({"tones": 33, **asked}, "tones", low=2, high=MOST_TONES))
    finish = None if asked.get("finish") is None else number_of(asked, "finish", low=0.0, high=1.0)
    ranges = yes_or_no(asked, "ranges")
    with desk.lock:
        desk.check_rows(edits, revision_of(asked))
        text, revision, values, sign = desk.text, desk.revision, desk.values, desk.shelf_sign
        if edits:
            values = changed_values(values, edits)
    lamp = asked.get("lamp")
    key_of = area_keys(desk, values, hash(sign), lamp, tones, finish, ranges, not edits)
    found = []
    for index in _wanted(asked.get("areas"), len(values["area"])):
        if live.is_old(page, number):
            return Response(status_code=204)
        key = key_of(values["area"][index])
        kept = live.answers.get(key)
        if kept is None:
            scheme = read_alone(desk, text, values, values["area"][index])
            scheme, viewing = dataclasses.replace(scheme, notices=()), viewing_of(lamp, scheme)
            if finish is not None:
                scheme = dataclasses.replace(scheme, areas=(_with_finish(scheme.areas[0], finish),))
            # What is hardly meant, and why a range is wide, can wait until the hand rests.
            prediction = simulate(scheme, tones=tones, viewing=viewing, draws=0, reasons=not edits)
            ranged = None
            if ranges:
                ranged = simulate(scheme, tones=RANGE_TONES, viewing=viewing, reasons=not edits).areas[0]
            kept = _area(prediction.areas[0], viewing, ranged)
            kept["notices"] = None if edits else prediction.notices
            live.answers.put(key, kept)
        found.append({"index": index, **kept})
    return {"revision": revision, "areas": found}


def area_keys(desk: Desk, values: Values, *more: Any) -> Callable[[Values], str]:
    """Return what gives a text that differs with all that the colours of an area of these tables depend on.

    `more` is that beside the tables: the shelf's sign, the lamp, and whatever else differs.
    """
    rest = {key: value for key, value in values.items() if key not in ("area", "name", "note")}
    common = json.dumps([rest, str(desk.file), *more], default=str)
    return lambda area: common + json.dumps(area, default=str)


def read_alone(desk: Desk, text: str, values: Values, area: Values) -> Scheme:
    """Return a scheme with one of its areas: to read the others takes as long again."""
    try:
        return desk.read(text, edit=functools.partial(become, values={**values, "area": [area]}))
    except LayersimError:
        # Alone it would be told as area 1, whichever it is.
        desk.read(text, edit=functools.partial(become, values=values))
        raise


def become(top: Values, values: Values) -> None:
    """Put other tables in the place of those that a text holds."""
    top.clear()
    top.update(values)


def _area(
    area: AreaPrediction, viewing: colour.Viewing, ranged: AreaPrediction | None = None
) -> dict[str, Any]:
    """Return what is shown of an area; `ranged` is it at the preview's tones, with its ranges."""
    stages = []
    wide = _beyond_p3(area.xyz, viewing)
    beyond = ~colour.on_screen(area.xyz, viewing.white).shown
    for i, stage in enumerate(area.stages):
        low = high = None
        if ranged is not None and ranged.lab_low is not None and ranged.lab_high is not None:
            low, high = (
                css_of_lab(_edge(area, ranged, i, edge[i, :, 0]), viewing)
                for edge in (ranged.lab_low, ranged.lab_high)
            )
        stages.append(
            {
                "name": stage.name,
                "is_filter": stage.is_filter,
                "recipe": stage.recipe,
                "css": css_of_xyz(area.xyz[i], viewing),
                "lab": (np.round(area.lab[i], 2) + 0.0).tolist(),
                "beyond_srgb": beyond[i].tolist(),
                "beyond_p3": wide[i].tolist(),
                "low_css": low,
                "high_css": high,
                "sure": "" if ranged is None else sure_words(ranged, i),
            }
        )
    targets = {
        key: {
            "tone": tone,
            "css": css_of_one(lab, viewing),
            "lab": (np.round(lab, 2) + 0.0).tolist(),
            "apart": round(apart, 1),
        }
        for key, (tone, lab, apart) in area.target_misses().items()
    }
    return {
        "name": area.name,
        "axis": axis_words(has_preshade=area.has_preshade, viewing=viewing),
        "shade": np.round(area.shade, 1).tolist(),
        "stages": stages,
        "target": targets,
        "finished": area.finished,
        "looks": [
            {
                "words": look_words(one.degrees),
                "css": css_of_xyz(one.xyz[-1], viewing),
                "lab": (np.round(one.lab[-1], 2) + 0.0).tolist(),
            }
            for one in area.angles
        ],
        "metal": [*metal.under_coats_words(area), *metal.explained([area])],
        "doubt": [] if ranged is None else doubt_words(ranged),
    }


def _edge(area: AreaPrediction, ranged: AreaPrediction, stage: int, lightness: FloatArray) -> FloatArray:
    """Return a stage's tones at one end of the range of their lightness, known at fewer tones."""
    away = lightness - ranged.lab[stage, :, 0]
    even = np.linspace(0.0, 1.0, len(area.shade))
    tones: FloatArray = area.lab[stage].copy()
    tones[:, 0] += np.interp(even, np.linspace(0.0, 1.0, len(away)), away)
    return tones


def _with_finish(area: Area, sheen: float) -> Area:
    """Return an area of which everything has one sheen, as under one varnish."""
    preshade = area.preshade
    if isinstance(preshade, GreysGiven):
        preshade = dataclasses.replace(preshade, sheen=sheen)
    return dataclasses.replace(
        area,
        ground=dataclasses.replace(area.ground, sheen=sheen),
        preshade=preshade,
        coats=tuple(dataclasses.replace(coat, sheen=sheen) for coat in area.coats),
    )


def _beyond_p3(xyz: FloatArray, viewing: colour.Viewing) -> npt.NDArray[np.bool_]:
    """Return which colours a screen of Display P3 cannot show."""
    daylight = colour.Viewing()
    lab = colour.lab_alike(xyz, under=viewing, to=daylight)
    white = daylight.white / 100.0
    primaries = np.array([[x / y, 1.0, (1.0 - x - y) / y] for x, y in _P3_XY]).T
    to_xyz = primaries * np.linalg.solve(primaries, white)
    linear = colour.xyz_from_lab(lab, white) @ np.linalg.inv(to_xyz).T
    return np.asarray((linear.min(axis=-1) < -_SLACK) | (linear.max(axis=-1) > 1.0 + _SLACK))


def viewing_of(lamp: Any, scheme: Scheme) -> colour.Viewing:
    """Return what is judged under: the lamp that a page names, or else the scheme's."""
    if lamp is None:
        return scheme.viewing
    if not isinstance(lamp, str):
        raise LayersimError("lamp: expected the name of a lamp")
    return colour.Viewing(lamp, scheme.viewing.observer)


def _wanted(areas: Any, many: int) -> list[int]:
    if areas is None:
        return list(range(many))
    if not isinstance(areas, list) or not all(type(one) is int for one in areas):
        raise LayersimError("areas: expected a list of numbers")
    if not all(0 <= one < many for one in areas):
        raise GoneError("this area is not there any more; look at the scheme again")
    return sorted(set(areas))


def _ticket(asked: Asked) -> tuple[str, int]:
    """Return which page asks, and which of its asks this is; a ticket without a number is never given up."""
    ticket = asked.get("ticket")
    page, _, number = ticket[:200].rpartition(":") if isinstance(ticket, str) else ("", "", "")
    return (page, int(number)) if number.isdecimal() and number.isascii() else ("", 0)


def _words(request: Request, asked: Asked) -> Any:
    """Send an area's page of the preview, as the command line has it."""
    desk = desk_of(request)
    scheme = desk.scheme()
    index = _wanted([asked.get("area", 0)], len(scheme.areas))[0]
    alone = dataclasses.replace(scheme, areas=(scheme.areas[index],))
    return {"html": content(view(simulate(alone)))}


def begin(app: Any) -> None:
    """Give the application what it keeps of colours."""
    app.state.live = _Live()


ROUTES: Final = [
    Route("/api/colours", with_json(_colours), methods=["POST"]),
    Route("/api/words", with_json(_words), methods=["POST"]),
]
