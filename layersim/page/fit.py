"""A paint out of a photographed card: dropped, looked at, fitted, and put on the shelf."""

from __future__ import annotations

import re
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from layersim.documents.writing import toml
from layersim.errors import LayersimError, UnknownNameError, quoted
from layersim.estimate import Estimate
from layersim.files import make_folder, write_whole
from layersim.fitting.known import check_known
from layersim.fitting.ownfilm import SeenHand, with_hand
from layersim.measure.card import CardLayout, coats_in_words, standard_card
from layersim.measure.cardfile import read_card
from layersim.measure.photofile import PLACEHOLDER
from layersim.measure.photoswatch import PhotographedSet
from layersim.measure.swatch import LAID
from layersim.measure.swatchfile import read_any_swatches
from layersim.optics.surface import SHEENS
from layersim.page.asked import Asked, number_of, text_of, with_bytes, with_json, yes_or_no
from layersim.page.fitwork import work
from layersim.page.kept import Kept
from layersim.page.shelf import shelf_of
from layersim.page.uploads import Uploads, uploads_of
from layersim.paint import CARRIERS, KINDS, Paint
from layersim.resources import data_folder
from layersim.shelf import Shelf, own_folder
from layersim.sprayer import Sprayer, find_sprayer, find_sprayer_file, profile, profiles_in, updated
from layersim.sprayer import keep as keep_profile
from layersim.sprayer import own_folder as sprayer_folder
from layersim.views.fitnotices import hand_words

MOST_FITS: Final = 6
"""Fits that can still be looked at, or put on the shelf."""
MOST_LAYOUT_BYTES: Final = 2**20
_TEXTS: Final = ("name", "kind", "sheen", "carrier", "laid", "provenance", "note")
_NUMBERS: Final = ("volume_solids", "wet_film_um", "sheen")
_LONGEST: Final = 3500
# What to write into a swatches file: on the page, corners are pointed at.
_KEYS: Final = re.compile(r"(, in pixels, clockwise from its upper left)?: (chart_)?corners_px = \[\[.*?\]\]")

Fitted = tuple[Path, dict[str, Any]]
"""A folder, and what came out."""


def begin(app: Any) -> None:
    """Let the application keep what was looked at or fitted lately, each in a folder of its own."""
    fits: Kept[Fitted] = Kept(
        MOST_FITS,
        gone="this fit is not kept any more; fit it again",
        let_go=lambda old: shutil.rmtree(old[0], ignore_errors=True),
    )
    app.state.fits = fits


def _example() -> Path:
    return data_folder() / "examples" / "teal-card.toml"


def _start(_: Request) -> Response:
    """Send what a fit begins with: what may be chosen, and the printed card's places."""
    example = read_any_swatches(_example())
    assert isinstance(example, PhotographedSet)
    return JSONResponse(
        {
            "kinds": list(KINDS),
            "sheens": list(SHEENS),
            "carriers": list(CARRIERS),
            "laid": list(LAID),
            "sprayers": [one.name for _, one in profiles_in(sprayer_folder())],
            "places": _places(standard_card()),
            "example": {
                "name": example.paint,
                "kind": example.kind,
                "volume_solids": example.volume_solids,
                "wet_film_um": example.wet_film_um,
                "sheen": next(word for word, share in SHEENS.items() if share == example.sheen),
                "carrier": example.carrier,
                "thinning": example.swatches[0].thinning,
                "pictures": [path.name for path in example.photographs],
                "places": _places(example.layout),
            },
        }
    )


def _places(layout: CardLayout) -> list[dict[str, Any]]:
    return [
        {
            "place": patch.name,
            "ground": patch.ground,
            "coats": patch.coats,
            "words": coats_in_words(patch.coats),
        }
        for patch in layout.patches
    ]


def _upload(request: Request, raw: bytes) -> Any:
    name = request.query_params.get("name", "")
    found = uploads_of(request.app).keep(raw, name=name)
    return {"id": found, "name": uploads_of(request.app).path(found).name}


def _upload_layout(request: Request, raw: bytes) -> Any:
    """Keep the layout file that was written with a card, and return what its places are."""
    if len(raw) > MOST_LAYOUT_BYTES:
        raise LayersimError("this file is too large for a card's layout; expected the .toml beside the card")
    uploads = uploads_of(request.app)
    found = uploads.keep(raw, name=request.query_params.get("name", ""))
    with uploads.by_bare_names():
        layout = read_card(uploads.path(found))
    return {"id": found, "name": layout.name, "places": _places(layout)}


def _begin(request: Request, asked: Asked) -> Any:
    """Begin to look at a card's photographs, and to fit the paint if that is asked."""
    uploads, fits = uploads_of(request.app), request.app.state.fits
    fit = yes_or_no(asked, "fit")
    folder = uploads.folder()
    if yes_or_no(asked, "example"):
        swatches = _example()
    else:
        swatches = folder / "swatches.toml"
        text = _swatches_text(asked, uploads, folder, named=fit and not asked.get("known"))
        swatches.write_text(text, encoding="utf-8")
        with uploads.by_bare_names():
            read_any_swatches(swatches)
    film_error = asked.get("film_error_percent")
    known, sprayer = _known(asked, shelf_of(request.app)) if fit else (None, None)
    arguments = {
        "swatches": swatches,
        "folder": folder,
        "fit": fit,
        "trust": yes_or_no(asked, "trust_camera"),
        "film_error": None
        if film_error is None
        else number_of(asked, "film_error_percent", low=0.0, high=100.0) / 100.0,
        "sprayer": sprayer,
        "known": known,
    }

    def then(result: dict[str, Any]) -> dict[str, Any]:
        for one in (result, *result["looked"]):
            one["fault"] = _KEYS.sub("", uploads.bare(one["fault"]))
        told = {key: value for key, value in result.items() if key not in ("hand", "film")}
        told["sprayer"] = None if sprayer is None else sprayer.name
        told["id"] = fits.keep((folder, {**told, **result, "sprayer": told["sprayer"]}))
        return told

    return {"work": request.app.state.work.start("fit", work, arguments, then)}


def _known(asked: Asked, shelf: Shelf) -> tuple[Paint | None, Sprayer | None]:
    """Return the paint whose card it is, if it is the sprayer's film that is asked for, and the sprayer."""
    named = text_of(asked, "sprayer") if asked.get("sprayer") else None
    if named is not None and named.lower().endswith(".toml"):  # a page names no files
        raise LayersimError(f"sprayer: found {quoted(named)}; expected a name without .toml")
    if not asked.get("known"):
        return None, None if named is None else find_sprayer(named)
    if named is None:
        raise LayersimError("sprayer: found nothing; expected whose film per coat the card is to tell")
    paint, (_, sprayer) = shelf.find(text_of(asked, "known")), profile(named, mark="")
    check_known(paint, sprayer.name)
    return paint, sprayer


def _swatches_text(asked: Asked, uploads: Uploads, folder: Path, *, named: bool) -> str:
    """Return what a page asks for as a swatches file, and bring the pictures that it names beside it."""
    paint = asked.get("paint")
    if not isinstance(paint, dict):
        raise LayersimError("paint: expected what is known of it: name, kind, solids, wet film, sheen")
    name = paint.get("name") or ""
    if named and name in ("", PLACEHOLDER):
        raise LayersimError("name: found nothing; expected what the paint is called")
    rows = ['format = "layersim swatches 1"', *_rows({**paint, "name": name or PLACEHOLDER})]
    rows += ["", "[photograph]", f"file = {toml(_beside(asked, 'photograph', uploads, folder))}"]
    if asked.get("layout") is not None:
        rows.append(f"card = {toml(_beside(asked, 'layout', uploads, folder))}")
    if asked.get("thinning") is not None:
        rows.append(f"thinning = {toml(number_of(asked, 'thinning', low=0.0, high=100.0))}")
    rows += _corner_rows(asked)
    if asked.get("other_lamp") is not None:
        name = _beside(asked, "other_lamp", uploads, folder)
        rows += ["", "[photograph.other_lamp]", f"file = {toml(name)}", *_corner_rows(asked, "other_lamp_")]
    return "\n".join([*rows, *_place_rows(asked.get("places")), ""])


def _rows(paint: Mapping[str, Any]) -> list[str]:
    rows = []
    for key, value in paint.items():
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if (key in _TEXTS and isinstance(value, str) and value and len(value) <= _LONGEST) or (
            key in _NUMBERS and number
        ):
            rows.append(f"{key} = {toml(value)}")
        elif value not in ("", None):
            raise LayersimError(f"{key[:40]}: found something that a paint does not have")
    return rows


def _beside(asked: Asked, key: str, uploads: Uploads, folder: Path) -> str:
    """Bring an upload into a folder, and return its name there."""
    path = uploads.path(text_of(asked, key))
    name = path.name if not (folder / path.name).exists() else f"{key}-{path.name}"
    shutil.copyfile(path, folder / name)
    return name


def _corner_rows(asked: Asked, before: str = "") -> list[str]:
    """Return the corners that were pointed at, of the card and of the chart."""
    keys = [key for key in ("corners_px", "chart_corners_px") if asked.get(before + key)]
    return [f"{key} = {toml(_corners(asked, before + key))}" for key in keys]


def _corners(asked: Asked, key: str) -> list[list[float]]:
    given = asked[key]
    expected = LayersimError(f"{key}: expected four corners of two numbers each, clockwise")
    if not isinstance(given, list) or len(given) != 4:
        raise expected
    for pair in given:
        if not isinstance(pair, list) or len(pair) != 2:
            raise expected
        if not all(isinstance(v, int | float) and not isinstance(v, bool) and abs(v) < 1e6 for v in pair):
            raise expected
    return [[float(v) for v in pair] for pair in given]


def _place_rows(places: Any) -> list[str]:
    """Return what was sprayed on a card's places, where it is not as the layout says."""
    if places is None:
        return []
    if not isinstance(places, list) or not all(isinstance(one, dict) for one in places) or len(places) > 200:
        raise LayersimError("places: expected what was sprayed on each place of the card")
    bare: dict[str, list[str]] = {}
    rows: list[str] = []
    names: set[str] = set()
    for one in places:
        if one.get("coats") is None:
            continue
        place, ground = text_of(one, "place"), text_of(one, "ground")
        coats = number_of(one, "coats", low=0.0, high=1000.0)
        if coats == 0.0:
            bare.setdefault(ground, []).append(place)
            continue
        said = f"{coats_in_words(coats)} over {ground}"
        said = said if said not in names else f"{said}, {place}"
        names.add(said)
        keys = {"name": said, "ground": ground, "patch": place, "coats": coats}
        if one.get("thinning") is not None:
            keys["thinning"] = number_of(one, "thinning", low=0.0, high=100.0)
        rows += ["", "[[swatch]]", *(f"{key} = {toml(value)}" for key, value in keys.items())]
    grounds = [
        row
        for ground, where in bare.items()
        for row in ("", "[[ground]]", f"name = {toml(ground)}", f"patches = {toml(where)}")
    ]
    return [*grounds, *rows]


def _seen(request: Request) -> Response:
    """Send a photograph as it was read, small."""
    folder, result = request.app.state.fits.find(request.path_params["name"])
    number = request.path_params["number"]
    if number >= len(result["looked"]):
        raise UnknownNameError("there is no such photograph")
    return FileResponse(folder / f"seen-{number}.jpg", media_type="image/jpeg")


def _keep(request: Request, asked: Asked) -> Any:
    """Put a fitted paint on the painter's own shelf: the file that `layersim fit` writes.

    A file that is there already is written over only with {"replace": true}; else what is there is told.
    """
    folder, result = request.app.state.fits.find(text_of(asked, "id"))
    replace = yes_or_no(asked, "replace")
    if "film" in result:
        return _keep_film(result["film"], result["sprayer"], replace=replace)
    if "file" not in result:
        raise LayersimError("this card gave no paint to keep")
    path = own_folder() / result["file"]
    if path.exists() and not replace:
        return {"kept": False, "file": str(path), "words": f"{path}: this file is there already."}
    make_folder(own_folder(), what="paints")
    write_whole(path, (folder / result["file"]).read_bytes())
    request.app.state.tell({"kind": "shelf", "paint": result["paint"]})
    told = [f"Paint: {path}.", *_keep_hand(result["hand"], result["sprayer"])]
    return {"kept": True, "file": str(path), "words": " ".join(told)}


def _keep_film(film: Estimate, name: str, *, replace: bool) -> dict[str, Any]:
    """Write into a sprayer's profile how thick its coats are, as `layersim fit --known` does."""
    path, before = profile(name, mark="")
    if before.film_factor is not None and not replace:
        there = f"{before.film_factor.words()}; {before.film_factor.basis}"
        return {"kept": False, "file": str(path), "words": f"{path}: it has a film factor already ({there})."}
    keep_profile(updated(before, film_factor=film), path)
    words = f"Profile: {path}. In a scheme: [batch] sprayer = {toml(before.name)}"
    return {"kept": True, "file": str(path), "words": words}


def _keep_hand(hand: SeenHand | None, name: str | None) -> list[str]:
    """Write into a sprayer's profile how uneven the hand is, and return what is said of that."""
    if hand is None or name is None:
        return []
    path, before = find_sprayer_file(name)
    after = with_hand(before, hand)
    if after is not None:
        keep_profile(after, path)
    return [f"{hand_words(before, hand, kept=after is not None)}."]


ROUTES: Final = [
    Route("/api/fit/start", _start),
    Route("/api/upload/card", with_bytes(_upload), methods=["POST"]),
    Route("/api/upload/layout", with_bytes(_upload_layout), methods=["POST"]),
    Route("/api/fit", with_json(_begin), methods=["POST"]),
    Route("/api/fit/keep", with_json(_keep), methods=["POST"]),
    Route("/api/fit/{name}/seen/{number:int}", _seen),
]
