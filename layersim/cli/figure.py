"""See a scheme on your own model: a photograph of the preshaded model, or its mesh, in the finished colours.

  layersim figure my-scheme.toml model.jpg --grey 20,80 --area "cloth=20,10 60,10 55,80 25,80"
  layersim figure my-scheme.toml model.jpg --area cloth=cloth-mask.png --area straps=straps-mask.png

Photograph the preshaded model and a grey card or a 24-patch chart close together, in one even light, and
leave the exposure alone. Say for each area where it is: a mask, which is a picture of the same shape that
is white where the area is, or a polygon of points X,Y in per cent of the picture from its upper left corner.

  layersim figure my-scheme.toml model.obj --area cloth=coat --area straps=belt --glb model-finished.glb
  layersim figure my-scheme.toml bust --from above --from front --turntable bust.webp

With --write, the greys that each area has in the photograph go into the scheme, and how far they may be off.

Without a photograph, a mesh of the model is sprayed white and looked at from all round; an area is a part of
the mesh, by its name there. Parts and areas that are called alike need no --area. These forms come with
layersim, and need none either:

{forms}
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from layersim.cli import say
from layersim.cli.arguments import add_shelf, extra_folders, scheme_from
from layersim.cli.chips import add_grey, greys_from
from layersim.cli.output import Outputs, add_outputs, outputs, refuse_what_is_read, show
from layersim.figure.forms import FORMS, form_path, usual_areas

if TYPE_CHECKING:
    from layersim.colour import Viewing
    from layersim.figure.figure import Figure
    from layersim.fitting.greys import SeenGreys
    from layersim.scheme.records import Scheme

__doc__ = (__doc__ or "").format(forms="\n".join(f"  {name:<12} {form.what}" for name, form in FORMS.items()))

_TURN_VIEWS, _TURN_PX = 24, 300
"""Of an animated picture of the form turning."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    parser.add_argument(
        "model", type=Path, metavar="MODEL",
        help="a photograph of the preshaded model, or its mesh, or a form that comes with layersim",
    )  # fmt: skip
    parser.add_argument(
        "--area", action="append", metavar="NAME=WHERE",
        help="where an area is: a mask, the corners of a polygon, or a part of the mesh; may be repeated",
    )  # fmt: skip
    add_grey(parser)
    parser.add_argument(
        "--stretch", action="store_true",
        help="take the darkest and lightest of each area for the ends of its preshade",
    )  # fmt: skip
    parser.add_argument(
        "--lamp", metavar="NAME", help="judge under this lamp or daylight instead of the scheme's"
    )
    parser.add_argument(
        "--finished", type=Path, metavar="FILE",
        help="write the whole finished photograph, .jpg or .png (NAME-finished.jpg in this folder, unless "
        "--no-picture)",
    )  # fmt: skip
    parser.add_argument(
        "--from", dest="white_from", action="append", metavar="SIDE",
        help="where white comes from: above, below, front, behind, left or right of the form (above); may be "
        "repeated, the same side for more of it",
    )  # fmt: skip
    parser.add_argument("--up", choices=("y", "z"), help="which way is up in a mesh (z; y in a .glb)")
    parser.add_argument(
        "--glb", type=Path, metavar="FILE", help="write the mesh in its finished colours, too"
    )
    parser.add_argument(
        "--turntable", type=Path, metavar="FILE",
        help="write the finished mesh turning, as an animated picture: .webp, .png or .gif",
    )  # fmt: skip
    parser.add_argument(
        "--write", action="store_true",
        help="write into the scheme what was read: the greys of a photograph's areas, or a mesh's shares",
    )  # fmt: skip
    add_outputs(parser, usual="NAME-figure.png in this folder")
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim import colour
    from layersim.meshfile import is_mesh

    to = outputs(asked, asked.scheme, usual=f"{asked.scheme.stem}-figure.png")
    scheme = scheme_from(asked)
    viewing = colour.Viewing(asked.lamp, scheme.viewing.observer) if asked.lamp else scheme.viewing
    known = asked.model.exists()
    if not known and not asked.model.suffix:
        form_path(str(asked.model))
    show_it = _form if (not known and str(asked.model) in FORMS) or is_mesh(asked.model) else _photograph
    show_it(asked, scheme, viewing, to)
    return 0


def _photograph(asked: argparse.Namespace, scheme: Scheme, viewing: Viewing, to: Outputs) -> None:
    from layersim.errors import LayersimError
    from layersim.figure.areas import cover_of, place_from
    from layersim.figure.figure import paint_figure
    from layersim.figure.greys import greys_seen
    from layersim.figure.saving import check_finished, save_finished
    from layersim.figure.seen import read_model
    from layersim.files import check_writable
    from layersim.views.figure import view

    _refuse(asked, "a mesh", "up", "glb", "turntable", "from")
    usual = None if asked.no_picture else Path(f"{asked.scheme.stem}-finished.jpg")
    finished: Path | None = asked.finished or usual
    try:
        places = [place_from(text, scheme.areas) for text in asked.area or []]
    except LayersimError as fault:
        raise LayersimError(f"--area: {fault}") from None
    if not places:
        if not asked.model.exists():
            read_model(asked.model)  # says that there is no such file
        raise LayersimError(
            "--area: found none; expected where each area is in the photograph, such as --area "
            f'"{scheme.areas[0].name}=mask.png"'
        )
    _refuse_twice([place.area for place in places], "area")
    masks = [place.mask for place in places if place.mask is not None]
    refuse_what_is_read(asked, finished, asked.model, *masks, option="--finished")
    refuse_what_is_read(asked, to.picture, *masks, option="--out")
    refuse_what_is_read(asked, to.data, *masks, option="--json")
    if finished is not None:
        _refuse_same({"--out": to.picture, "--json": to.data, "--finished": finished})
        check_finished(finished)
        check_writable(finished)
    model = read_model(asked.model, greys=greys_from(asked.grey))
    size = {"height": model.photograph.height, "width": model.photograph.width}
    covers = {place.area: cover_of(place, **size) for place in places}
    found = paint_figure(scheme, model, covers, viewing=viewing, stretch=asked.stretch)
    read = {area.name: greys_seen(area, found.model) for area in found.areas}
    if asked.write and (against := [note for greys in read.values() for note in greys.notes]):
        raise LayersimError(f"--write: {against[0]}")
    if finished is not None:
        save_finished(found, finished)
    show(view(found), found, to, name="figure")
    if finished is not None:
        print(f"Finished: {finished.resolve()}")
    if asked.write:
        _write_greys(asked, found, read)


def _form(asked: argparse.Namespace, scheme: Scheme, viewing: Viewing, to: Outputs) -> None:
    from functools import partial

    from layersim.cli.progress import progress_lines
    from layersim.errors import LayersimError, UnknownNameError, nearest_hint, quoted
    from layersim.figure.form import WHITE_FROM, read_form
    from layersim.figure.glb import glb
    from layersim.figure.onform import paint_form, turning
    from layersim.figure.saving import check_turntable, save_turntable
    from layersim.figure.sprayed import spray_form
    from layersim.files import check_writable, write_whole
    from layersim.names import named
    from layersim.views.figure import view

    _refuse(asked, "a photograph", "grey", "stretch", "finished")
    white_from = asked.white_from or ["above"]
    for side in white_from:
        if side not in WHITE_FROM:
            hint = nearest_hint(side, WHITE_FROM, listed=False)
            known = ", ".join(WHITE_FROM)
            raise UnknownNameError(f"--from: found {quoted(side)}; expected one of {known}. {hint}".rstrip())
    form_name = "" if asked.model.exists() else str(asked.model)
    path = form_path(form_name) if form_name in FORMS else asked.model
    if asked.glb is not None and asked.glb.suffix.lower() != ".glb":
        raise LayersimError(f"--glb: found {quoted(str(asked.glb))}; expected a name that ends in .glb")
    if asked.turntable is not None:
        check_turntable(asked.turntable)
    written = {"--glb": asked.glb, "--turntable": asked.turntable}
    _refuse_same({"--out": to.picture, "--json": to.data} | written)
    for option, file in written.items():
        if file is not None:
            refuse_what_is_read(asked, file, asked.model, option=option)
            check_writable(file)
    form = read_form(path, up=asked.up or "")
    usual = usual_areas(form.parts, [area.name for area in scheme.areas], form=form_name)
    areas = {} if asked.area and len(form.parts) > 1 else usual
    given: list[str] = []
    for text in asked.area or []:
        name, _, part = (one.strip() for one in text.partition("="))
        if part and form.parts == ("",):
            raise UnknownNameError(
                f"--area: found the part {quoted(part)}; expected none: {path.name} is in one piece, "
                "which is the first area"
            )
        if part not in form.parts:
            hint = nearest_hint(part, form.parts, kind="parts")
            raise UnknownNameError(f"--area: no part {quoted(part)} in {path.name}. {hint}".rstrip())
        given.append(part)
        areas[part] = named(scheme.areas, name, kind="areas").name
    _refuse_twice(given, "part")
    if not areas:
        parts = ", ".join(map(quoted, form.parts))
        raise LayersimError(
            f"--area: found none; expected which part of {path.name} is which area, such as --area "
            f'"{scheme.areas[0].name}={form.parts[0]}". Its parts are {parts}'
        )
    progress = progress_lines()
    strokes = [stroke for side in white_from for stroke in WHITE_FROM[side]]
    sprayed = spray_form(form, strokes, progress=partial(progress, "spraying"))
    found = paint_form(
        scheme,
        sprayed,
        areas,
        name=form_name or path.name,
        viewing=viewing,
        white_from=white_from,
        progress=progress,
    )
    if asked.glb is not None:
        write_whole(
            asked.glb, glb(form.points, form.faces, form.normals, found.colours.turned(), name=scheme.name)
        )
    if asked.turntable is not None:
        views = turning(sprayed, found.colours, views=_TURN_VIEWS, size_px=_TURN_PX, progress=progress)
        save_turntable(views, asked.turntable)
    show(view(found), found, to, name="figure")
    for what, file in (("Form", asked.glb), ("Turntable", asked.turntable)):
        if file is not None:
            print(f"{what}: {file.resolve()}")
    if asked.write:
        from layersim.decide.writing import write_shares

        write_shares(asked.scheme, found.surface, folders=tuple(extra_folders(asked)))
        say(f"The shares of {', '.join(found.surface)} are written into {asked.scheme}.")
        others = {
            area.name: area.extent.share
            for area in scheme.areas
            if area.name not in found.surface and area.extent.share
        }
        if (whole := sum(others.values()) + sum(found.surface.values())) > 1.005:
            say(
                f"With what {', '.join(others)} has in the scheme, that is {100.0 * whole:.0f} % of the "
                "model: make it smaller by hand."
            )


def _write_greys(asked: argparse.Namespace, found: Figure, read: Mapping[str, SeenGreys]) -> None:
    from layersim.decide.writing import write_greys
    from layersim.figure.greys import hand_error

    error = hand_error(found.scheme, read)
    ends = {name: (greys.darkest, greys.lightest) for name, greys in read.items()}
    write_greys(
        asked.scheme,
        ends,
        error=error,
        source=found.model.photograph.path.name,
        folders=tuple(extra_folders(asked)),
    )
    doubt = max(greys.doubt for greys in read.values())
    say(
        f"The greys of {', '.join(read)} are written into {asked.scheme}, each ± {doubt:.0f}; what was there "
        "stays as a remark."
    )


def _refuse(asked: argparse.Namespace, other: str, *options: str) -> None:
    from layersim.errors import LayersimError

    for option in options:
        if getattr(asked, {"from": "white_from"}.get(option, option)):
            raise LayersimError(f"--{option}: this is for {other}; found {asked.model}")


def _refuse_same(written: dict[str, Path | None]) -> None:
    from layersim.errors import OutputError

    before: dict[Path, str] = {}
    for option, path in written.items():
        if path is not None:
            other = before.setdefault(path.resolve(), option)
            if other != option:
                raise OutputError(f"{option} and {other}: found {path} for both; expected two files")


def _refuse_twice(names: list[str], kind: str) -> None:
    from layersim.errors import LayersimError, quoted

    for i, name in enumerate(names):
        if name in names[:i]:
            raise LayersimError(f"--area: found {quoted(name)} twice; expected each {kind} once")
