"""What is printed: a figure, its target, and whether it is met."""

from __future__ import annotations

import os
import platform
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np


@dataclass(frozen=True)
class Row:
    """One figure.

    Parameters
    ----------
    what : str
    figure : float
    unit : str
    target : float or None
        The most it may be.
    note : str
    """

    what: str
    figure: float
    unit: str = ""
    target: float | None = None
    note: str = ""

    def line(self) -> str:
        verdict = ""
        if self.target is not None:
            met = "met" if self.figure <= self.target else "MISSED"
            verdict = f"≤ {self.target:g}: {met}"
        return f"  {self.what:<58}{self.figure:>9.3g} {self.unit:<8}{verdict:<16}{self.note}".rstrip()


def section(title: str, rows: Sequence[Row]) -> str:
    return "\n".join([title, *(row.line() for row in rows), ""])


def machine() -> str:
    """Return what this was measured on."""
    name = platform.processor() or platform.machine()
    described = Path("/proc/cpuinfo")
    if described.exists():
        lines = described.read_text(encoding="utf-8").splitlines()
        name = next((line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")), name)
    load = f"load average {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "load unknown"
    return (
        f"{name}, {os.cpu_count()} processors, {load}; "
        f"Python {platform.python_version()}, numpy {np.__version__}"
    )
