"""Plain values of an answer: the same in every run."""

from __future__ import annotations

import json
import os
import subprocess
import sys

SAID = """
from layersim.writers.data import json_text, plain
print(json_text({"mixes": plain(frozenset({("moss green", 1.0), ("rust", 0.5), ("soot", 2.0)}))}))
"""


def test_a_set_is_written_in_one_order_whatever_its_hashes() -> None:
    said = {
        subprocess.run(
            [sys.executable, "-c", SAID],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    mixes = [["moss green", 1.0], ["rust", 0.5], ["soot", 2.0]]
    assert [json.loads(one) for one in said] == [{"mixes": mixes}]
