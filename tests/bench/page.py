"""The page: from a slider to the new colours of its area, from the command to the first page, memory.

A slider's way is measured in the browser, too: from its event to the frame that shows the new colours.
"""

from __future__ import annotations

import itertools
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any, Final

from layersim.page.app import page_app
from layersim.page.live import _worked_out
from tests.bench.clock import alternately
from tests.bench.report import Row
from tests.bench_card.browser import CHROMIUM, FLAGS
from tests.page.running import Running, begin

ROUNDS: Final = 40
MORE: Final = [{"do": "copy_coat", "area": 0, "coat": coat} for coat in (0, 1)]
"""What gives the demo's first area eight coats."""
SLIDE: Final = """async () => {
  const slide = document.querySelector('[data-key="c0-film-slide"]');
  const strip = document.querySelector(".strip.big");
  slide.step = "any";
  const times = [];
  for (let i = 0; i < 40; i += 1) {
    const was = strip.style.backgroundImage;
    const begun = performance.now();
    slide.value = 0.5 + Math.random() * 4;
    slide.dispatchEvent(new Event("input", { bubbles: true }));
    await new Promise((go) => {
      const watch = new MutationObserver(() => {
        if (strip.style.backgroundImage !== was) {
          watch.disconnect();
          go();
        }
      });
      watch.observe(strip, { attributes: true });
    });
    await new Promise((go) => requestAnimationFrame(() => setTimeout(go)));
    times.push(performance.now() - begun);
    await new Promise((go) => setTimeout(go, 50));
  }
  return times;
}"""


def rows() -> list[Row]:
    """Return the figures of one area of eight coats, 33 tones."""
    films = itertools.count(1)
    with tempfile.TemporaryDirectory() as name:
        app = page_app(token="k", hosts=frozenset({"x"}), scheme=None, folder=Path(name))
        desk, live = app.state.desk, app.state.live
        desk.edit(MORE)

        def slide(*, ranges: bool) -> None:
            film = {"do": "set", "at": ["area", 0, "coat", 0, "dry_film_um"], "value": 1 + next(films) / 1000}
            _worked_out(desk, live, {"edits": [film], "areas": [0], "tones": 33, "ranges": ranges}, "", 0)

        def asked_again() -> None:
            _worked_out(desk, live, {"tones": 33}, "", 0)

        times = alternately(
            {"alone": lambda: slide(ranges=False), "range": lambda: slide(ranges=True), "kept": asked_again},
            rounds=ROUNDS,
        )
        app.state.work.close()
        return [
            Row("a slider's new colours, processor time", 1e3 * times["alone"].best_processor, "ms", 33.0),
            Row("  with the range", 1e3 * times["range"].best_processor, "ms", 120.0),
            Row("  of areas that are known already", 1e3 * times["kept"].best_processor, "ms"),
            *_running(Path(name)),
        ]


def _running(folder: Path) -> list[Row]:
    begun = time.perf_counter()
    running = begin(folder)
    try:
        running.ask("/")
        first = time.perf_counter() - begun
        found = [Row("from the command to the first page", first, "s", 1.0)]
        running.ask("/api/edit", {"edits": MORE, "what": "two more coats"})
        if CHROMIUM is not None:
            found += _in_browser(running)
        return [*found, Row("memory of the page and its worker (PSS)", _memory_mb(running), "MB", 300.0)]
    finally:
        running.stop()


def _in_browser(running: Running) -> list[Row]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        page = browser.new_page()
        page.goto(running.address)
        page.locator(".strip.big[aria-label]").wait_for()
        time.sleep(3.0)
        alone = page.evaluate(SLIDE)
        page.get_by_label("how far it may come out").check()
        page.locator(".strip.edge").first.wait_for()
        ranged = page.evaluate(SLIDE)
        browser.close()
    return [
        Row("from a slider's event to the frame with its colours", min(alone), "ms", 33.0, _median(alone)),
        Row("  with the range", min(ranged), "ms", 120.0, _median(ranged)),
    ]


def _median(times: list[float]) -> str:
    return f"(median {statistics.median(times):.0f})"


def _memory_mb(running: Running) -> float:
    tasks = Path(f"/proc/{running.process.pid}/task")
    if not tasks.exists():
        return float("nan")
    children: Any = [one for task in tasks.iterdir() for one in (task / "children").read_text().split()]
    lines = [
        line
        for process in (running.process.pid, *children)
        for line in Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
        if line.startswith("Pss:")
    ]
    return sum(float(line.split()[1]) for line in lines) / 1024.0
