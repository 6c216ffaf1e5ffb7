"""Run as ``python -m layersim``."""

from layersim.cli import run

run()
