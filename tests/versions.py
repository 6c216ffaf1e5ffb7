"""Run tests on every Python that is asked for, and on the lowest versions of what the project depends on.

    python -m tests.versions 3.11 3.12 -- tests/optics

What is newest is tried on every Python, the lowest on the lowest of them (old libraries were not built for
newer ones), each in an environment of its own in out/versions. A Python that is not here is left out.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

TREE = Path(__file__).parents[1]
UV = str(Path(sys.executable).with_name("uv"))
LOWEST = "3.11"
FOLDER = TREE / "out" / "versions"


def passes(version: str, tests: list[str], *, resolution: str) -> bool | None:
    """Return whether tests pass on one Python, or None if there is none of that version."""
    place = FOLDER / f"{version}-{resolution}"
    python = place / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    here = [UV, "python", "find", "--no-python-downloads", version]
    if subprocess.run(here, cwd=TREE.parent, capture_output=True, check=False).returncode:
        return None
    subprocess.run([UV, "venv", "--quiet", "--clear", "--python", version, place], check=True)
    asked = [UV, "pip", "install", "--quiet", "--python", python, "--resolution", resolution]
    if subprocess.run([*asked, "--editable", ".[dev]"], cwd=TREE, check=False).returncode:
        return False
    # An old library may use what a newer one has marked as old: that is theirs, and changes nothing here.
    quiet = ["-W", "ignore::DeprecationWarning"] if resolution != "highest" else []
    found = subprocess.run(
        [python, "-m", "pytest", "-n", "auto", "-p", "no:cacheprovider", *quiet, *tests], cwd=TREE
    )
    return found.returncode == 0


def main(words: list[str]) -> int:
    versions, tests = words[: words.index("--")], words[words.index("--") + 1 :]
    wanted = [(version, "lowest-direct") for version in versions if version == LOWEST]
    wanted += [(version, "highest") for version in versions]
    results = {pair: passes(pair[0], tests, resolution=pair[1]) for pair in wanted}
    print()
    for (version, resolution), result in results.items():
        lacking = f"not tried: it is not here (uv python install {version} gets it)"
        said = {True: "passes", False: "FAILS", None: lacking}[result]
        print(f"Python {version}, {resolution} versions: {said}")
    return int(False in results.values() or True not in results.values())


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
