"""What the table says of a profile's edges: kinds and sizes, by hand from the files' shapes."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from preview.drafting.profile.facts import corners, curves_of, edge_facts
from preview.profiles import Shape, measure, sketch
from preview.scene import load_profile

FOLDER = Path(__file__).parents[2] / "profiles"
INCH = 25.4


def kinds(name: str) -> list[str]:
    return [edge.kind for edge in edge_facts(load_profile(FOLDER / f"{name}.toml"))]


def test_kinds_from_the_foot_up() -> None:
    assert kinds("beveled-plinth") == ["foot", "fillet", "bevel", "fillet", "top", "back"]
    assert kinds("cove-and-bead-base") == [
        *("foot", "fillet", "ledge", "fillet", "bead", "ledge", "fillet", "cove", "fillet", "round", "top", "back"),
    ]
    assert kinds("cove-and-ogee-crown") == [
        *("foot", "fillet", "bead", "fillet", "cove", "fillet", "ledge", "round", "cove", "ledge", "fillet"),
        *("top", "back bevel", "back"),
    ]
    assert kinds("quarter-round-shoe") == ["foot", "fillet", "round", "back"]
    assert kinds("fluted-casing").count("hollow") == 4


def test_sizes_are_the_file_s() -> None:
    """The base's cove: 9/16 up, 3/8 in, radius 9/16 (the larger); its sweep is 2 asin(c / 2r)."""
    facts = edge_facts(load_profile(FOLDER / "cove-and-bead-base.toml"))
    cove = facts[7]
    chord = math.hypot(9 / 16, 3 / 8)
    assert (cove.rise, cove.out, cove.radius) == pytest.approx((9 / 16 * INCH, -3 / 8 * INCH, 9 / 16 * INCH))
    assert cove.sweep == pytest.approx(2 * math.asin(chord / 2 / (9 / 16)))
    bead = facts[4]
    assert (bead.rise, bead.radius, bead.sweep) == pytest.approx((3 / 8 * INCH, 3 / 16 * INCH, math.pi))
    assert (facts[1].radius, facts[1].sweep) == (None, None)


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.toml")), ids=lambda path: path.stem)
def test_facts_go_once_round(path: Path) -> None:
    profile = load_profile(path)
    facts = edge_facts(profile)
    assert facts[-1].kind == "back"
    assert sum(edge.rise for edge in facts) == pytest.approx(0.0, abs=1e-9)
    assert sum(edge.out for edge in facts) == pytest.approx(0.0, abs=1e-9)
    assert sum(edge.length for edge in facts) == pytest.approx(measure(profile).perimeter, rel=1e-12)


def test_an_ogee_is_one_curve_and_a_scotia_is_two() -> None:
    ogee = sketch("ogee", 30.0, [Shape("fillet", 5.0), Shape("ogee", 20.0, -10.0), Shape("fillet", 5.0)])
    (curve,) = curves_of(ogee)
    assert len(curve.arcs) == 2
    assert curve.radius == pytest.approx((20**2 + 10**2) / (4 * 10))
    assert len(corners(ogee)) == len(ogee.edges) - 1
    scotia = sketch("scotia", 30.0, [Shape("fillet", 5.0), Shape("scotia", 18.0, -6.0), Shape("fillet", 5.0)])
    assert [round(curve.radius, 6) for curve in curves_of(scotia)] == [12.0, 6.0]
    assert len(corners(scotia)) == len(scotia.edges)


def test_two_beads_in_a_row_are_two_curves() -> None:
    reeds = sketch("reeds", 30.0, [Shape("fillet", 5.0), Shape("bead", 6.0), Shape("bead", 6.0), Shape("fillet", 5.0)])
    assert [curve.radius for curve in curves_of(reeds)] == pytest.approx([3.0, 3.0])
