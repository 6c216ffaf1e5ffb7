"""A page as one HTML file that loads nothing and runs nothing."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Sequence
from html import escape
from typing import Final

from layersim import colour
from layersim.views.parts import (
    BEYOND,
    Bars,
    Beside,
    Cell,
    Heading,
    Image,
    Part,
    Places,
    Row,
    Strips,
    TablePart,
    Task,
    Tasks,
    View,
    Words,
    notice_lines,
)
from layersim.writers import ticks

Drawn = Callable[[Part, colour.Viewing], str]

POLICY: Final = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def html(view: View) -> str:
    """Return a page as a whole HTML file. One with boxes to tick remembers its ticks in the browser."""
    policy, style, body = POLICY, STYLE, content(view)
    if any(isinstance(part, Tasks) for part in view.parts):
        policy, style, body = f"{POLICY}; {ticks.POLICY}", STYLE + ticks.STYLE, ticks.remembering(body)
    return f"""\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8"/>
<meta http-equiv="Content-Security-Policy" content="{policy}"/>
<meta name="viewport" content="width=device-width, initial-scale=1"/>
<title>{words(view.title)}</title>
<style>
{style}</style>
</head>
<body>
{body}
</body>
</html>
"""


def notebook(view: View) -> str:
    """Return a page as a notebook shows it, with a style that stays inside it."""
    return f"<div class='layersim'><style>.layersim {{ {STYLE} }}</style>{content(view)}</div>"


def content(view: View, *, drawn: Drawn | None = None) -> str:
    """Return what stands between the body's tags; `drawn` as of :func:`parts_of`."""
    aside = f'<p class="faint">{words(view.aside)}</p>' if view.aside else ""
    parts = parts_of(view, drawn=drawn)
    notices = "".join(f"<p>{words(line)}</p>\n" for line in notice_lines(view))
    return f"<main>\n<h1>{words(view.title)}</h1>\n{aside}\n{parts}\n</main>\n<footer>\n{notices}</footer>"


def parts_of(view: View, *, drawn: Drawn | None = None) -> str:
    """Return a page's parts, and what a star says if there is one; `drawn` stands in for :func:`fragment`."""
    parts = "\n".join((drawn or fragment)(part, view.viewing) for part in view.parts)
    if "*</" in parts or "*<br/>" in parts:
        parts += f'<p class="faint">{words(BEYOND)}</p>'
    return parts


def fragment(part: Part, viewing: colour.Viewing) -> str:
    """Return one part as HTML; empty for what only pictures show."""
    match part:
        case Heading():
            aside = f" <small>{words(part.aside)}</small>" if part.aside else ""
            return f"<h2>{words(part.words)}{aside}</h2>"
        case Words(kind="list"):
            return "<ul>" + "".join(f"<li>{words(line)}</li>" for line in part.lines) + "</ul>"
        case Words():
            return "\n".join(f'<p class="{part.kind}">{words(line)}</p>' for line in part.lines)
        case Strips():
            return _strips(part, viewing)
        case TablePart():
            return _table(part.heads, part.rows, part.right, viewing)
        case Bars():
            rows = [(b.label, f"{b.what}{b.tail}", f"{b.value:.1f}", f"{b.most:.1f}") for b in part.rows]
            return f"<h3>{words(part.title)}</h3>" + _table(("", "", "mean", "most"), rows, (2, 3), viewing)
        case Image():
            return _image(part)
        case Tasks():
            return '<ol class="tasks">' + "".join(_task(part, task, viewing) for task in part.rows) + "</ol>"
        case Places():
            return "".join(
                f'<label class="place"><strong>{words(name)}</strong> {words(part.words)}'
                '<textarea rows="2"></textarea></label>'
                for name in part.names
            )
        case Beside():
            sides = ("".join(fragment(one, viewing) for one in side) for side in (part.left, part.right))
            return '<div class="beside">' + "".join(f"<div>{side}</div>" for side in sides) + "</div>"
        case _:
            return ""


def words(text: str) -> str:
    """Return words as HTML, without what no page may hold: control characters and halves of pairs."""
    return escape(printable(text), quote=True)


def printable(text: str) -> str:
    """Return words without control characters, halves of pairs and letters that are none."""
    return "".join(
        "\ufffd" if unicodedata.category(one) in ("Cc", "Cs") or ord(one) & 0xFFFE == 0xFFFE else one
        for one in text
    )


def _strips(part: Strips, viewing: colour.Viewing) -> str:
    head = ""
    if part.ticks:
        ticks = "".join(f'<th scope="col">{words(tick)}</th>' for tick in part.ticks)
        head = f'<thead><tr><th scope="col">{words(part.axis)}</th>{ticks}<th></th></tr></thead>'
    elif part.ends:
        ends = f"{part.ends[0]} on the left, {part.ends[1]} on the right"
        head = f'<caption class="faint">{words(ends)}</caption>'
    rows = "".join(_strip_row(row, viewing) for row in part.rows)
    return f'<div class="scroll"><table class="strips">{head}<tbody>{rows}</tbody></table></div>'


def _strip_row(row: Row, viewing: colour.Viewing) -> str:
    kind = "judged" if row.judged else ""
    cells = "".join(
        _cell(cell, viewing, strong=any(row.strong[i : i + 1]), kind=kind) for i, cell in enumerate(row.cells)
    )
    under = ""
    if row.under:
        under = f'<tr><td></td><td class="under" colspan="{len(row.cells) + 1}">{words(row.under)}</td></tr>'
    after = f"<td>{words(row.after)}</td>"
    return f'<tr><th scope="row">{words(row.label)}</th>{cells}{after}</tr>{under}'


def _task(tasks: Tasks, task: Task, viewing: colour.Viewing) -> str:
    (first, *rest), *others = task.columns
    lines = [
        f'<p class="strong">{words(first)}</p>' if first else "",
        *(f"<p>{words(one)}</p>" for one in rest),
    ]
    for head, column in zip(tasks.heads[3:], others, strict=True):
        if not any(column):
            continue
        heads = (f'<span class="faint">{words(head)}:</span> ', *("" for _ in column[1:]))
        lines += [f"<p>{before}{words(one)}</p>" for before, one in zip(heads, column, strict=False)]
    boxes = "".join(
        f'<label><input type="checkbox" aria-label="{words(f"{task.name}, {tick}")}"/>{words(tick)}</label>'
        for tick in task.ticks
    )
    strip = _strips(Strips([Row("", task.tones)]), viewing)
    return f'<li><h3>{words(task.name)}</h3>{strip}{"".join(lines)}<p class="boxes">{boxes}</p></li>'


def _image(part: Image) -> str:
    import base64
    import io

    from PIL import Image as Pixels

    file = io.BytesIO()
    Pixels.fromarray((part.rgb * 255.0 + 0.5).astype("uint8")).save(file, format="png")
    marks = ", ".join(f"{said} at {100 * x:.0f} % across, {100 * y:.0f} % down" for x, y, said in part.marks)
    source = f"data:image/png;base64,{base64.b64encode(file.getvalue()).decode()}"
    return f'<p><img src="{source}" alt="{words(f"The picture. Marked: {marks}")}"/></p>'


def _cell(cell: Cell, viewing: colour.Viewing, *, strong: bool = False, kind: str = "") -> str:
    if isinstance(cell, str):
        said = f"<strong>{words(cell)}</strong>" if strong else words(cell)
        return f'<td class="{kind}">{said}</td>' if kind == "number" else f"<td>{said}</td>"
    shown = colour.lab_on_screen(cell.lab, viewing)
    ink = "#000" if cell.lab[0] > 50.0 else "#fff"
    beyond = "" if shown.shown else " (outside what screens show)"
    L, a, b = cell.lab
    title = words(f"L* {L:.0f}, a* {a:.0f}, b* {b:.0f}{beyond}")
    small = f"<br/><small>{words(cell.small)}</small>" if cell.small else ""
    style = f"background:{colour.hex_of(shown.rgb)};color:{ink}"
    # No number lies on a colour that is to be judged; who does not see it is told.
    hidden = "hidden" if kind == "judged" else "on-tone"
    star = "" if shown.shown else "*"
    said = f'<span class="{hidden}">{words(cell.words)}{small}{star if kind == "judged" else ""}</span>'
    inside = said if kind == "judged" else f"{said}{star}"
    return f'<td class="tone {kind}" style="{style}" title="{title}">{inside}</td>'


def _table(
    heads: Sequence[str], rows: Sequence[Sequence[Cell]], right: Sequence[int], viewing: colour.Viewing
) -> str:
    head = ""
    if any(heads):
        head = (
            "<thead><tr>" + "".join(f'<th scope="col">{words(one)}</th>' for one in heads) + "</tr></thead>"
        )
    body = "".join(
        "<tr>"
        + "".join(_cell(cell, viewing, kind="number" if i in right else "") for i, cell in enumerate(row))
        + "</tr>"
        for row in rows
    )
    return f'<div class="scroll"><table>{head}<tbody>{body}</tbody></table></div>'


STYLE: Final = """\
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 64rem; padding: 0.75rem; background: #fff; color: #1d1d1d;
  font: 1rem/1.45 system-ui, sans-serif; overflow-wrap: anywhere; }
h1 { font-size: 1.4rem; margin: 0 0 0.25rem; }
h2 { font-size: 1.15rem; margin: 1.5rem 0 0.25rem; border-top: 2px solid #1d1d1d; padding-top: 0.5rem; }
h2 small { font-weight: 400; color: #555; }
p { margin: 0.25rem 0; }
.faint, .under { color: #555; font-size: 0.875rem; }
.strong { font-weight: 600; }
.warning { background: #fff3d6; border-left: 4px solid #a86a00; padding: 0.25rem 0.5rem; }
.scroll { position: relative; overflow-x: auto; }
table { border-collapse: collapse; margin: 0.25rem 0; }
th, td { overflow-wrap: break-word; }
th { text-align: left; font-weight: 600; padding: 0.15rem 0.5rem 0.15rem 0; }
td { padding: 0.15rem 0.75rem 0.15rem 0; vertical-align: top; }
img { max-width: 100%; }
.number { text-align: right; }
.strips td, .strips thead th { text-align: center; padding: 0.15rem 0.25rem; }
.strips td.under { text-align: left; }
td.tone { min-width: 2.75rem; padding: 0.35rem 0.25rem; }
td.judged { height: 3rem; min-width: 3.25rem; }
.hidden { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }
.beside { display: flex; flex-wrap: wrap; gap: 1.5rem; }
.beside > div { flex: 1 1 22rem; }
footer { margin-top: 1rem; color: #555; font-size: 0.875rem; }
"""
