"""Draw docs/pictures anew: what the commands of the README and the docs write, made small.

Needs pdftoppm (poppler-utils) for the pages to print, and Chromium for the page in the browser. Run from the
top of the tree, as `make pictures` does:

    python -m data.generate.pictures
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from PIL import Image

from data.generate.example_figure import GREY
from layersim.cli import main
from layersim.figure.areas import AreaPlace, cover_of
from layersim.figure.figure import paint_figure
from layersim.figure.form import read_form
from layersim.figure.forms import built_in, form_path, usual_areas
from layersim.figure.onform import paint_form
from layersim.figure.seen import read_model
from layersim.fitting.chip import Grey
from layersim.resources import data_folder
from layersim.scheme.reading import load_scheme
from tests.bench_card.browser import CHROMIUM, FLAGS
from tests.page.running import begin

PICTURES = Path(__file__).parents[2] / "docs" / "pictures"
MOST_PX = 1200
"""Pictures are no wider than this."""
DEMO = data_folder() / "schemes" / "tide-lamplighters.toml"
EXAMPLES = data_folder() / "examples"
COMMANDS = {
    "demo-strip": ["preview", DEMO, "--area", "wax cloth", "--out", "demo-strip.png"],
    "metal": ["preview", DEMO, "--area", "lamp frame", "--out", "metal.png"],
    "compare": [
        *("compare", "my-scheme.toml", "--choice", "two passes: filter.coats = 2"),
        *("--choice", "bare: without filter", "--out", "compare.png"),
    ],
    "fit": ["fit", EXAMPLES / "brick-red.toml", "--picture", "fit.png"],
    "photographed-fit": ["fit", EXAMPLES / "teal-card.toml", "--picture", "photographed-fit.png"],
    "bench-card": ["card", DEMO, "--out", "bench-card.pdf"],
    "test-card": ["testcard", "test-card.pdf"],
}
"""What draws each picture."""
STILLS = {
    "page": ("Scheme", ".strip.big[aria-label]", "header"),
    "page-filter": ("Scheme", ".strip.big[aria-label]", "details:has(.wipe)"),
    "page-form": ("On a form", ".turned[data-drawn]", "header"),
}
"""Of each picture of the page its panel, what is there once it is drawn, and what stands at the top."""
STILL_PX = (1280, 860)


@contextmanager
def empty_folder() -> Iterator[None]:
    """Work in an empty folder, on a shelf without paints of one's own."""
    before = Path.cwd()
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        Path("paints").mkdir()
        os.environ |= {"LAYERSIM_PAINTS": f"{folder}/paints", "LAYERSIM_SPRAYERS": f"{folder}/sprayers"}
        try:
            yield
        finally:
            os.chdir(before)


def smaller(drawn: Path, target: Path, *, most_px: int = MOST_PX) -> None:
    """Write a picture no wider than this, in few colours."""
    with Image.open(drawn) as picture:
        picture.thumbnail((most_px, 10 * most_px), Image.Resampling.LANCZOS)
        picture.convert("RGB").quantize(192, dither=Image.Dither.NONE).save(target, optimize=True)


def draw_page() -> None:
    """Draw the page in the browser: as it opens, its filter before and after, and a form in space."""
    if CHROMIUM is None:
        print("page: left as it was, since Chromium is not here")
        return
    from playwright.sync_api import sync_playwright

    running = begin(Path())
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        page = browser.new_page(viewport=dict(zip(("width", "height"), STILL_PX, strict=True)))
        page.goto(running.address)
        for name, (panel, drawn, top) in STILLS.items():
            page.get_by_role("link", name=panel, exact=True).click()
            page.locator(drawn).wait_for(timeout=60_000)
            page.evaluate("top => document.querySelector(top).scrollIntoView({ block: 'start' })", top)
            page.screenshot(path=f"{name}.png")
            with Image.open(f"{name}.png") as picture:
                picture.convert("RGB").save(PICTURES / f"{name}.png", optimize=True)
        browser.close()
    running.stop()


def figure() -> None:
    """Draw the example figure as photographed, before the filter and finished."""
    scheme = load_scheme(DEMO)
    names = {"wax cloth": "cloth", "straps": "straps", "lamp glass": "glass"}
    model = read_model(EXAMPLES / "lamplighter.jpg", greys=[Grey(GREY)])
    size = {"height": model.photograph.height, "width": model.photograph.width}
    covers = {
        area: cover_of(AreaPlace(area, EXAMPLES / f"lamplighter-{name}.png"), **size)
        for area, name in names.items()
    }
    found = paint_figure(scheme, model, covers)
    shown = (found.stages[0], found.stages[found.filter_stage or 0], found.stages[-1])
    beside = Image.fromarray(np.hstack([stage.picture for stage in shown]))
    beside.thumbnail((MOST_PX, MOST_PX), Image.Resampling.LANCZOS)
    beside.save(PICTURES / "figure.jpg", quality=88)


def forms() -> None:
    """Draw the forms that come with layersim from before, preshaded and finished."""
    scheme = load_scheme(DEMO)
    columns = []
    for name in built_in():
        form = read_form(form_path(name))
        areas = usual_areas(form.parts, [area.name for area in scheme.areas], form=name)
        found = paint_form(scheme, form, areas, name=name, between="before the filter")
        ends = (found.stages[0].picture, found.stages[-1].picture)
        columns.append(np.vstack([picture[:, : len(picture)] for picture in ends]))
    beside = Image.fromarray(np.hstack(columns))
    beside.thumbnail((MOST_PX, MOST_PX), Image.Resampling.LANCZOS)
    beside.save(PICTURES / "forms.jpg", quality=88)


def draw() -> None:
    """Draw every picture."""
    figure()
    forms()
    main(["start", "my-scheme.toml"])
    for name, words in COMMANDS.items():
        if main([str(word) for word in words]) != 0:
            raise SystemExit(f"{name}: the command failed")
        page = Path(f"{name}.pdf")
        if page.exists():
            if shutil.which("pdftoppm") is None:
                print(f"{name}: left as it was, since pdftoppm (poppler-utils) is not here")
                continue
            subprocess.run(["pdftoppm", "-r", "130", "-png", "-singlefile", page, name], check=True)
        smaller(Path(f"{name}.png"), PICTURES / f"{name}.png")
    draw_page()
    smaller(EXAMPLES / "teal-card.jpg", PICTURES / "photographed-card.png", most_px=480)


if __name__ == "__main__":
    with empty_folder():
        draw()
