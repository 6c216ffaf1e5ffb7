"""Run tests on every Python that is asked for, and on the lowest versions of what the project depends on.

    python -m tests.versions 3.11 3.12 -- tests/optics

What is newest is tried on every Python, the lowest on the first of them, each in an environment of its own in
out/versions. A Python that cannot be had here is named and left out.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

TREE = Path(__file__).parents[1]
UV = str(Path(sys.executable).with_name("uv"))
FOLDER = TREE / "out" / "versions"


def passes(version: str, tests: list[str], *, resolution: str) -> bool | None:
    """Return whether tests pass on one Python, or None if there is none of that version."""
    place = FOLDER / f"{version}-{resolution}"
    python = place / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    made = subprocess.run([UV, "venv", "--quiet", "--clear", "--python", version, place], check=False)
    if made.returncode:
        return None
    asked = [UV, "pip", "install", "--quiet", "--python", python, "--resolution", resolution]
    subprocess.run([*asked, "--editable", ".[dev]"], cwd=TREE, check=True)
    # An old library may use what a newer one has marked as old: that is theirs, and changes nothing here.
    quiet = ["-W", "ignore::DeprecationWarning"] if resolution != "highest" else []
    found = subprocess.run(
        [python, "-m", "pytest", "-n", "auto", "-p", "no:cacheprovider", *quiet, *tests], cwd=TREE
    )
    return found.returncode == 0


def main(words: list[str]) -> int:
    versions, tests = words[: words.index("--")], words[words.index("--") + 1 :]
    wanted = [(versions[0], "lowest-direct"), *((version, "highest") for version in versions)]
    results = {pair: passes(pair[0], tests, resolution=pair[1]) for pair in wanted}
    print()
    for (version, resolution), result in results.items():
        said = {True: "passes", False: "FAILS", None: "not tried: this Python is not here"}[result]
        print(f"Python {version}, {resolution} versions: {said}")
    return int(False in results.values() or True not in results.values())


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
