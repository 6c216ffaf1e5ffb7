"""Fetch what draws forms on the page: three.js (MIT), as its authors publish it, with nothing changed.

Of the npm registry's package only the two minified modules and the licence are kept. Run from the top of the
tree, where npm is installed: ``python -m data.generate.webgl_library``. For another release, change VERSION
and the digests; it is the newest one that was published minified.
"""

from __future__ import annotations

import hashlib
import subprocess
import tarfile
import tempfile
from pathlib import Path
from typing import Final

from layersim.files import write_whole

VERSION: Final = "0.185.1"
VENDOR: Final = Path(__file__).parents[2] / "layersim" / "page" / "static" / "vendor"
SHA256: Final = {
    "build/three.core.min.js": "05b2609338c76cd65daf74f3ac515bc9a5045e1b3b33edc07d8c9bd55250fa90",
    "build/three.module.min.js": "86bcee248b64f44bcfc23c331ae74619061957d59cab040171dcb6fb5900beb6",
    "LICENSE": "8b378ebe60e2fe500158cb0ac71cb5e8b7d92953c2abcc63a0eb90499653b5bc",
}
"""Of each file that is kept, by its place in the package."""


def kept(name: str) -> Path:
    """Return where a file of the package is kept."""
    return VENDOR / (Path(name).name if name != "LICENSE" else "three.LICENSE")


def main() -> None:
    """Fetch the files."""
    with tempfile.TemporaryDirectory() as folder:
        asked = ["npm", "pack", "--silent", f"three@{VERSION}"]
        subprocess.run(asked, cwd=folder, check=True, stdout=subprocess.DEVNULL)
        (archive,) = Path(folder).glob("*.tgz")
        with tarfile.open(archive) as package:
            for name, digest in SHA256.items():
                member = package.extractfile(f"package/{name}")
                assert member is not None, name
                raw = member.read()
                found = hashlib.sha256(raw).hexdigest()
                if found != digest:
                    raise SystemExit(f"{name}: found the SHA-256 {found}; expected {digest}")
                VENDOR.mkdir(exist_ok=True)
                write_whole(kept(name), raw)
    print(f"{VENDOR}: three.js {VERSION}")


if __name__ == "__main__":
    main()
