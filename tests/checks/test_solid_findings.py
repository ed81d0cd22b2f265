"""What is asked of solids and of a STEP file, with the limits worked out by hand from circles and boxes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from preview.checks import Finding, inspect_solids, inspect_step, inspect_step_file
from preview.checks.solids import area_slack
from preview.joinery import Piece, join
from preview.models.solid import SolidFigures, StepSolid
from preview.profiles import Profile
from preview.runs import Corner, Curve, Easement, Step, Straight, lay_out
from samples import BASE, RIGHT_ANGLE, block, meeting, quarter_round

CHORD = 0.06
DIGEST = "0123456789abcdef" * 4
HEAD = f"FILE_DESCRIPTION(('molding, model {DIGEST}'),'2;1');\n"
UNIT = "#1=(LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT({},.METRE.));\n"


def pieces(steps: list[Step], profile: Profile) -> Sequence[Piece]:
    return join(lay_out("wall", steps), "base", profile).pieces


def only(found: Sequence[Finding], code: str) -> Finding:
    (finding,) = (each for each in found if each.check.code == code)
    return finding


def test_facets_hide_nothing_of_a_square_edged_straight() -> None:
    (straight,) = pieces([Straight(300.0)], block(20.0))
    assert area_slack(straight, CHORD, 1000.0) == pytest.approx(1e-6, rel=1e-12)


def test_facets_on_the_round_of_a_straight() -> None:
    """c / (3 r) of its length, and c beside its curved edges: quarter circles of 10 mm at both ends, drawn out by a
    miter's 1 / cos 45 degrees at most in one direction and not at all in the other."""
    (straight,) = pieces([Straight(300.0)], quarter_round(10.0))
    arc = math.pi / 2 * 10
    square = CHORD / 30 + CHORD * 2 * arc * math.sqrt(2) / 7000 + 1e-6
    assert area_slack(straight, CHORD, 7000.0) == pytest.approx(square, rel=1e-12)
    first, second = pieces([Straight(300.0), Corner(RIGHT_ANGLE), Straight(200.0)], quarter_round(10.0))
    mitered = CHORD / 30 + CHORD * arc * (math.sqrt(2) + math.sqrt(3)) / 5000 + 1e-6
    assert area_slack(first, CHORD, 5000.0) == pytest.approx(mitered, rel=1e-12)
    assert area_slack(second, CHORD, 5000.0) == pytest.approx(mitered, rel=1e-12)


@pytest.mark.parametrize(("hand", "tight"), [(1, 80.0), (-1, 105.0)])
def test_facets_round_a_bend(hand: int, tight: float) -> None:
    """A strip 5 to 20 mm off the wall. The tightest circle is that of the face inside a niche, that of the back round
    a post; the curved edges run along the four arrises, each as long as its own circle."""
    (curve,) = pieces([Curve(hand * 1.2, 100.0)], block(15.0, 40.0).moved(5.0, 0.0))
    edges = 1.2 * 2 * ((100 - hand * 5) + (100 - hand * 20))
    wanted = CHORD / (3 * tight) + CHORD * edges / 9000 + 1e-6
    assert area_slack(curve, CHORD, 9000.0) == pytest.approx(wanted, rel=1e-9)


def test_facets_on_a_bent_cut_are_as_long_as_four_times_round_the_section() -> None:
    straight, curve = join(meeting(Straight(300.0), -1.0, Curve(-1.0, 200.0)), "base", block(20.0, 40.0)).pieces
    assert area_slack(straight, CHORD, 20000.0) == pytest.approx(CHORD * 4 * 120 / 20000 + 1e-6, rel=1e-12)
    starts, stops = curve.stations(np.array([0.0, 20.0]))
    long = stops - starts
    edges = 2 * (long[0] * 1.0 + long[1] * 220.0 / 200.0) + 4 * 120
    wanted = CHORD / 600 + CHORD * edges / 20000 + 1e-6
    assert area_slack(curve, CHORD, 20000.0) == pytest.approx(wanted, rel=1e-9)


def test_the_edges_of_an_easement_are_at_most_as_steep_as_both_its_ends() -> None:
    """From level to a rise of 1 in 2: each of its four arrises is one plan length times sqrt(1 + 0 + 0.25) at most."""
    made = pieces([Straight(300.0), Easement(600.0), Straight(300.0, 0.5)], block(20.0, 40.0))
    (easement,) = (each for each in made if each.kind == "easement")
    edges = 4 * easement.element.length * math.sqrt(1.25)
    assert area_slack(easement, CHORD, 50000.0) == pytest.approx(CHORD * edges / 50000 + 1e-6, rel=1e-9)


@dataclass(frozen=True)
class Mesh:
    points: Any
    area: float


@pytest.mark.parametrize(
    ("low", "high", "box"),
    [
        ((0.0, 0.0, 0.0), (300.0, 20.0, 40.0), 0.0),
        ((-0.25, 0.0, 0.0), (300.0, 20.0, 40.0), 0.25),
        ((0.0, 0.0, 0.125), (300.0, 20.0, 40.25), 0.25),
        ((0.0, 0.5, 0.125), (300.0, 20.0, 40.25), 0.5),
        ((0.0, 0.0, 0.0), (299.0, 20.75, 40.0), 1.0),
    ],
)
def test_a_solid_against_its_mesh_and_its_closed_form(
    low: tuple[float, float, float], high: tuple[float, float, float], box: float
) -> None:
    first, second = pieces([Straight(300.0), Corner(RIGHT_ANGLE), Straight(200.0)], block(20.0))
    off = np.array((7.0, -3.0, 11.0))
    mesh = Mesh(np.array([(0.0, 0.0, 40.0), (300.0, 0.0, 0.0), (1.0, 20.0, 3.0)]) + off, 1010.0)
    (x0, y0, z0), (x1, y1, z1) = (np.array(low) + off).tolist(), (np.array(high) + off).tolist()
    fact = SolidFigures(2002.0, 1000.0, (x0, y0, z0), (x1, y1, z1), True, 0.0015)
    broken = replace(fact, valid=False, volume=1998.0, area=1020.0)
    meshes: Any = [mesh, mesh]
    found = inspect_solids([fact, broken], [first, second], meshes, [2000.0, 2000.0], CHORD)
    assert [each.subject for each in found] == [first.name] * 5 + [second.name] * 5
    for mine, valid, volume, area in ((found[:5], 0, 1e-3, 1e-2), (found[5:], 1, 1e-3, 1 - 1010 / 1020)):
        assert only(mine, "solid-valid").figure == valid
        assert only(mine, "solid-valid").limit == 0
        assert only(mine, "solid-volume").figure == pytest.approx(volume, rel=1e-9)
        assert only(mine, "solid-volume").limit == 1e-6
        assert only(mine, "solid-area").figure == pytest.approx(area, rel=1e-9)
        assert only(mine, "solid-area").limit == pytest.approx(1e-6, rel=1e-9)
        assert only(mine, "solid-box").figure == box
        assert only(mine, "solid-box").limit == pytest.approx(CHORD * math.sqrt(2), rel=1e-9)
        assert (only(mine, "solid-distance").figure, only(mine, "solid-distance").limit) == (0.0015, 0.002)


def test_the_tightest_round_of_a_profile_decides() -> None:
    """An ogee of 12 x 12 is two quarter circles of 6 mm, the cove one of 8, the bead half of one 6 mm across."""
    (straight,) = pieces([Straight(300.0)], BASE)
    arcs = math.pi / 2 * (6 + 6 + 8) + math.pi * 3
    wanted = CHORD / 9 + CHORD * 2 * arcs * math.sqrt(2) / 60000 + 1e-6
    assert area_slack(straight, CHORD, 60000.0) == pytest.approx(wanted, rel=1e-9)


def test_the_solids_of_a_step_file_by_their_names() -> None:
    first, second = pieces([Straight(300.0), Corner(RIGHT_ANGLE), Straight(200.0)], block(20.0))
    a, b = first.name, second.name
    every = inspect_step([(b, 500.0), (a, 1001.0)], [first, second], [1000.0, 500.0])
    assert [(f.check.code, f.subject, f.figure, f.detail) for f in every] == [
        ("step-solids", a, 0, ""),
        ("step-volume", a, pytest.approx(1e-3, rel=1e-9), ""),
        ("step-solids", b, 0, ""),
        ("step-volume", b, 0.0, ""),
    ]
    assert {f.limit for f in every} == {0, 1e-6}
    one_more = inspect_step([(a, 1000.0), ("post", 2.0), (b, 500.0)], [first, second], [1000.0, 500.0])[-1]
    assert (one_more.subject, one_more.figure, one_more.holds) == ("the STEP file", 1, False)
    lacking = inspect_step([(a, 1000.0)], [first, second], [1000.0, 500.0])
    assert [(f.subject, f.figure, f.detail) for f in lacking if f.check.code == "step-solids"] == [
        (a, 0, ""),
        (b, 1, "the file holds 0 solids of this name"),
    ]
    more = inspect_step([(a, 1000.0), (a, 1000.0), (a, 9.0), (b, 500.0), ("post", 1.0)], [first, second], [1e3, 500.0])
    assert [(f.check.code, f.subject, f.figure, f.limit, f.detail) for f in more] == [
        ("step-solids", a, 2, 0, "the file holds 3 solids of this name"),
        ("step-solids", b, 0, 0, ""),
        ("step-volume", b, 0.0, 1e-6, ""),
        ("step-solids", "the STEP file", 3, 0, "solids that are no piece's"),
    ]


def step_file(folder: Path, prefix: str = ".MILLI.", text: str = HEAD) -> Path:
    path = folder / "wall.step"
    path.write_text(text + UNIT.format(prefix), "ascii")
    return path


Corners = tuple[tuple[float, float, float], tuple[float, float, float]]


def asked(path: Path, boxes: Sequence[Corners], found: Sequence[Corners]) -> list[Finding]:
    made = pieces([Straight(300.0), Corner(RIGHT_ANGLE), Straight(200.0)], block(20.0))
    figures = [SolidFigures(1.0, 1.0, low, high, True, 0.0) for low, high in boxes]
    read = [StepSolid(piece.name, 1.0, low, high) for piece, (low, high) in zip(made, found, strict=False)]
    return inspect_step_file(path, read[::-1], made, figures, DIGEST)


BOXES: Sequence[Corners] = [((0.0, -5.0, 12.0), (300.0, 20.0, 50.0)), ((280.0, 0.0, 10.0), (320.0, 200.0, 40.0))]
"""Together from (0, -5, 10) to (320, 200, 50): 320, 205 and 40 mm."""


def test_a_step_file_as_it_was_written(tmp_path: Path) -> None:
    found = asked(step_file(tmp_path), BOXES, BOXES)
    assert all(each.holds for each in found)
    assert [each.figure for each in found] == [0, 0.0, 0.0, 0.0, 0.0]
    assert [each.limit for each in found] == [0, 1e-5, 1e-5, 1e-6, 1e-5]
    assert found[0].subject == "wall.step"
    assert found[1].subject.startswith("wall.step: ")


def test_a_step_file_that_stands_elsewhere(tmp_path: Path) -> None:
    first, second = BOXES
    moved: Sequence[Corners] = [(first[0], (300.0, 20.5, 50.25)), ((280.0, 0.0, 9.25), second[1])]
    found = asked(step_file(tmp_path), BOXES, moved)
    assert [each.figure for each in found if each.check.code == "file-box"] == [0.5, 0.75]
    assert only(found, "file-up").figure == 0.75
    raised: Sequence[Corners] = [(first[0], (300.0, 20.0, 53.0)), second]
    assert only(asked(step_file(tmp_path), BOXES, raised), "file-up").figure == 3.0
    # What fills more together is told by its diagonal.
    wide: Sequence[Corners] = [((-64.0, -46.0, 2.0), (300.0, 20.0, 50.0)), second]
    assert only(asked(step_file(tmp_path), BOXES, wide), "file-units").figure == pytest.approx(0.2, rel=1e-9)
    narrow: Sequence[Corners] = [first, (second[0], (288.0, 179.5, 46.0))]
    smaller = math.sqrt(300.0**2 + 184.5**2 + 40.0**2) / math.sqrt(320.0**2 + 205.0**2 + 40.0**2)
    assert only(asked(step_file(tmp_path), BOXES, narrow), "file-units").figure == pytest.approx(1 - smaller, rel=1e-9)


def test_a_step_file_with_some_of_the_pieces_and_with_none(tmp_path: Path) -> None:
    found = asked(step_file(tmp_path), BOXES, BOXES[:1])
    assert [each.check.code for each in found] == ["file-model", "file-box", "file-units", "file-up"]
    assert all(each.holds for each in found)
    assert [each.check.code for each in asked(step_file(tmp_path), BOXES, [])] == ["file-model"]


@pytest.mark.parametrize("prefix", ["$", ".MILLI.", ".CENTI.", ".MICRO."])
def test_a_step_file_states_a_unit_that_is_known(prefix: str, tmp_path: Path) -> None:
    """ISO 10303-41: the prefixes of SI, or none for the meter itself."""
    units = only(asked(step_file(tmp_path, prefix), BOXES, BOXES), "file-units")
    assert (units.figure, units.detail) == (0.0, "")


@pytest.mark.parametrize(
    "text",
    [
        UNIT.format(".KILO."),
        UNIT.format("$") + UNIT.format(".MILLI."),
        "#1=CONVERSION_BASED_UNIT('INCH',#2);",
        "",
    ],
)
def test_a_step_file_without_a_unit_that_is_known(text: str, tmp_path: Path) -> None:
    path = tmp_path / "wall.step"
    path.write_text(HEAD + text, "ascii")
    units = only(asked(path, BOXES, BOXES), "file-units")
    assert math.isnan(units.figure)
    assert (units.holds, units.detail) == (False, "it states none that is known")


def test_a_step_file_of_another_model(tmp_path: Path) -> None:
    path = step_file(tmp_path, text=HEAD.replace("0123", "3210"))
    model = only(asked(path, BOXES, BOXES), "file-model")
    assert (model.figure, model.limit, model.subject) == (1, 0, "wall.step")
