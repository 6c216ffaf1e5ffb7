"""Films with and without one's own sprayer's factor."""

from __future__ import annotations

from pathlib import Path

import pytest

from layersim.estimate import Estimate
from layersim.learn.factor import with_factor, without_sprayer
from layersim.scheme.reading import load_scheme
from layersim.shelf import Shelf
from tests.learn.sprayers import scheme_text


def test_a_profile_put_on_is_taken_off_again(tmp_path: Path, shelf: Shelf) -> None:
    path = tmp_path / "job.toml"
    path.write_text(scheme_text(0), encoding="utf-8")
    job = load_scheme(path, shelf)
    factored = with_factor(job, Estimate(1.3, 0.1))
    assert factored.areas[0].coats[0].dry_film_um == pytest.approx(1.3 * job.areas[0].coats[0].dry_film_um)
    bare = without_sprayer(factored)
    for one, other in zip(bare.areas[0].coats, job.areas[0].coats, strict=True):
        assert one.dry_film_um == pytest.approx(other.dry_film_um)
    assert without_sprayer(job) is job
