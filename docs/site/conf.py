"""How Sphinx builds the pages of docs/ into a site: `make site`."""

import tomllib
from pathlib import Path

_PROJECT = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))[
    "project"
]

project = _PROJECT["name"]
release = version = _PROJECT["version"]
author = "The layersim contributors"
copyright = "The layersim contributors"

extensions = ["myst_parser"]
exclude_patterns = ["site"]
nitpicky = True
# Links to a heading, such as photographs.md#a-sprayers-own-film, as they work where the files are read, too.
myst_heading_anchors = 4
# Parts of files are shown, with ... where something is left out: no whole TOML.
suppress_warnings = ["misc.highlighting_failure"]

html_theme = "alabaster"
html_title = f"layersim {release}"
html_theme_options = {
    "description": _PROJECT["description"],
    "fixed_sidebar": True,
    "page_width": "1100px",
    "body_max_width": "820px",
}
html_show_sphinx = False
html_copy_source = False
