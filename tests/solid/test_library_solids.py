"""Every profile of the library as exact solids: a straight piece, and one round an outside and an inside curve."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from preview.joinery import exact_volume, join
from preview.models.mesh import mesh_runs
from preview.models.solid import available, figures, make_solids
from preview.profiles import measure
from preview.runs import Curve, Straight, lay_out
from preview.scene import load_profile

FILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
QUARTER = math.pi / 2


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_it_makes_valid_solids(path: Path) -> None:
    missing = available()
    if missing:
        pytest.skip(missing)
    profile = load_profile(path)
    tight = measure(profile).d_max + 0.11  # a hair more than brings the face to a point
    lines = [
        join(lay_out(name, [step]), "member", profile)
        for name, step in (
            ("straight", Straight(300.0)),
            ("outside", Curve(-QUARTER, 12.0)),
            ("inside", Curve(QUARTER, tight)),
        )
    ]
    pieces = [line.pieces[0] for line in lines]
    for piece, found in zip(pieces, figures(make_solids(pieces), mesh_runs(lines)), strict=True):
        assert found.valid, piece.name
        assert found.volume == pytest.approx(exact_volume(piece), rel=1e-6), piece.name
        assert found.farthest < 0.002, piece.name
