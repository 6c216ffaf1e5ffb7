"""What a worker process works out for a batch: quantities, the order of work, the card, what the log says."""

from __future__ import annotations

import dataclasses
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from layersim import colour
from layersim.bench.content import bench_card
from layersim.learn.beside import compared
from layersim.learn.films import learn_films
from layersim.log import read_log
from layersim.page.opened import read
from layersim.plan.order import order
from layersim.plan.quantities import quantities
from layersim.scheme.records import Scheme
from layersim.views import card as card_view
from layersim.views import log as log_view
from layersim.views import order as order_view
from layersim.views import quantities as quantities_view
from layersim.views.parts import Heading, Part, Tasks, View
from layersim.writers.html import content, fragment, html, words

Progress = Callable[..., None]
KINDS: Final = ("quantities", "order", "card", "log", "learn")


def work_out(
    *, progress: Progress, source: dict[str, Any], what: str, models: int | None, log: Path | None
) -> dict[str, Any]:
    """Return one of :data:`KINDS` as HTML; `models` in place of the scheme's."""
    scheme = read(source)
    if models is not None:
        scheme = dataclasses.replace(scheme, batch=dataclasses.replace(scheme.batch, models=models))
    page = _view(scheme, what, source, log, progress)
    if what == "card":
        progress(0.6, 1.0, "printing the card")
        return {"title": page.title, "html": _with_places(page), **_files(page)}
    return {"title": page.title, "html": content(page)}


def _view(scheme: Scheme, what: str, source: dict[str, Any], log: Path | None, progress: Progress) -> View:
    if what == "quantities":
        return quantities_view.view(quantities(scheme), typed=False)
    if what == "order":
        return order_view.view(
            order(scheme, progress=lambda done, every: progress(done, every, "trying orders")), typed=False
        )
    if what == "card":
        return card_view.view(bench_card(scheme))
    assert log is not None
    logged, folders = read_log(log), source["folders"]
    if what == "log":
        lines = log_view.comparison_lines(compared(scheme, logged, folders=folders), scheme, "")
    else:
        learned = learn_films([(scheme, logged)], sprayer_names=(), folders=folders)
        lines = log_view.learned_lines(learned, "")
    title, *rest = lines
    return log_view.page(title, rest)


def _with_places(page: View) -> str:
    """Return the card as HTML, each area's list marked with its area, so that a tick is of one box alone."""
    area = ""

    def drawn(part: Part, viewing: colour.Viewing) -> str:
        nonlocal area
        area = part.words if isinstance(part, Heading) else area
        made = fragment(part, viewing)
        return f'<section data-area="{words(area)}">{made}</section>' if isinstance(part, Tasks) else made

    return content(page, drawn=drawn)


def _files(page: View) -> dict[str, bytes]:
    from layersim.writers.whole import save

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "card.pdf"
        save(page, path)
        return {"pdf": path.read_bytes(), "page": html(page).encode()}
