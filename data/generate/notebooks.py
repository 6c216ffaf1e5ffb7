"""Write notebooks/*.ipynb: the percent files beside them, run, with what they print and draw.

Needs the extra `notebooks`. Run from the top of the tree, as `make notebooks` does:

    python -m data.generate.notebooks
"""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[2] / "notebooks"


def unrun(text: str) -> dict[str, Any]:
    """Return a percent file as a notebook (nbformat 4.5) that has not been run.

    A line `# %magic` is the notebook's alone, so that the file runs without it.
    """
    cells: list[dict[str, Any]] = []
    for number, part in enumerate(text.split("\n# %%")[1:]):
        kind, _, source = part.partition("\n")
        lines = source.strip("\n").split("\n")
        about = {"id": f"cell-{number}", "metadata": {}}
        if kind.strip() == "[markdown]":
            said = [line.removeprefix("#").removeprefix(" ") for line in lines]
            cells.append({"cell_type": "markdown", **about, "source": "\n".join(said)})
        else:
            run = [line.removeprefix("# ") if line.startswith("# %") else line for line in lines]
            code = {"execution_count": None, "outputs": [], "source": "\n".join(run)}
            cells.append({"cell_type": "code", **about, **code})
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    return {"cells": cells, "metadata": {"kernelspec": kernel}, "nbformat": 4, "nbformat_minor": 5}


def run(notebook: dict[str, Any]) -> dict[str, Any]:
    """Return a notebook run in an empty folder, on a shelf without paints of one's own."""
    import nbclient
    import nbformat

    with tempfile.TemporaryDirectory() as folder:
        os.environ["LAYERSIM_PAINTS"] = folder
        read = nbformat.from_dict(notebook)
        nbclient.NotebookClient(
            read, kernel_name="python3", record_timing=False, resources={"metadata": {"path": folder}}
        ).execute()
    done: dict[str, Any] = json.loads(nbformat.writes(read))
    done["metadata"] = notebook["metadata"]
    return done


if __name__ == "__main__":
    for percent in sorted(FOLDER.glob("*.py")):
        written = run(unrun(percent.read_text(encoding="utf-8")))
        text = json.dumps(written, ensure_ascii=False, indent=1) + "\n"
        percent.with_suffix(".ipynb").write_text(text, encoding="utf-8")
