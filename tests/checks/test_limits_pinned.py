"""What a check says beside its figure: the limit that it holds it to, the place, and which end faces were seen."""

from __future__ import annotations

import math
import struct
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from preview.checks import Body, Finding, Inspection, JointPair, read_model
from preview.errors import PreviewError
from preview.joinery import BlockShape, block_lines, join
from preview.runs import Block, Corner, Curve, Run, Straight, lay_out
from samples import BASE, block, meeting
from test_joint_faults import Model, alone

CHORD, STEP = 0.05, 1e-9
"""Of the bodies that `Model` makes: what they were meshed to, and the step of their numbers, mm."""
STRIP = block(20.0, 40.0)


def niche() -> Run:
    """A straight that meets a curve at 60 degrees."""
    return meeting(Straight(300.0), -math.pi / 3, Curve(-1.0, 200.0))


def told(found: Inspection, code: str, subject: str) -> Finding:
    (finding,) = (f for f in found.findings if f.check.code == code and f.subject.endswith(subject))
    return finding


def test_a_body_may_stray_by_the_chord_and_two_steps_of_its_numbers() -> None:
    model = alone(niche())
    assert told(model.inspect(), "chord", "2 curve").limit == pytest.approx(CHORD + 2 * STEP, abs=1e-15)
    coarse = model.inspect({"2 curve": lambda body: replace(body, step=0.25)})
    assert told(coarse, "chord", "2 curve").limit == pytest.approx(CHORD + 2 * 0.25)


def test_where_a_body_strays_most() -> None:
    """A square-edged strip: its straight has no round but its end cut, its curve's sides are all round."""
    found = alone(niche(), STRIP).inspect()
    straight, curve = told(found, "chord", "1 straight"), told(found, "chord", "2 curve")
    assert 0 < straight.figure < CHORD
    assert straight.detail == "on an end cut"
    assert 0 < curve.figure < CHORD
    assert curve.detail == ""
    assert curve.where is not None
    # Halfway up the face, within a chord of it.
    assert curve.where == pytest.approx((20.0 - curve.figure, 20.0), abs=1e-6)


def test_a_volume_may_be_out_by_the_chord_on_what_is_round() -> None:
    """All of a curve's surface; of a straight its arcs' share. A bent end counts as four sections at most."""
    found = alone(niche(), STRIP).inspect()
    assert told(found, "volume", "1 straight").limit == pytest.approx(CHORD * 4 * 800.0, rel=1e-6)
    skin = told(found, "volume", "2 curve").limit / CHORD - 4 * 800.0
    # Top and foot lie between radii of 200 and 220, back and face on them; the miter takes some off at one end.
    sides = 2 * (220.0**2 - 200.0**2) / 2 + 40.0 * (200.0 + 220.0)
    assert 0.9 * sides < skin < 1.1 * sides + 3 * 800.0
    plain = alone(lay_out("wall", [Straight(300.0)]), BASE)
    arcs = sum(edge.length for edge in BASE.edges if hasattr(edge, "radius"))
    whole = sum(edge.length for edge in BASE.edges)
    area = 300.0 * whole + 2 * 2200.0  # to a few in a hundred: its two ends
    assert told(plain.inspect(), "volume", "1 straight").limit == pytest.approx(CHORD * area * arcs / whole, rel=0.05)


def test_a_length_may_be_out_by_the_chord_at_the_slant_of_the_cut() -> None:
    found = alone(niche()).inspect()
    assert told(found, "length", "1 straight").limit == pytest.approx(CHORD / math.cos(math.pi / 6), rel=1e-6)


def test_the_end_faces_at_a_block_are_the_moldings() -> None:
    """Molding, plinth block, molding: before the block the molding's end is seen, after it the next one's."""
    run = lay_out("door", [Straight(300.0), Block("plinth", 60.0), Straight(400.0)])
    blocks = {"plinth": BlockShape("plinth", block(40.0, 90.0), 60.0, 60.0, 40.0)}
    line = join(run, "base", block(20.0, 70.0), blocks=blocks)
    pairs = [
        JointPair(joint, *(2 if label and each is None else each for each in between))
        for joint, between, label in zip(line.joints, line.between, line.blocks, strict=True)
    ]
    model = Model([line, *block_lines(run, blocks)], pairs)
    found = model.inspect()
    assert all(finding.holds for finding in found.findings)
    seen = [(before is not None, after is not None) for before, after in found.rims]
    assert seen == [(False, False), (True, False), (False, True), (False, False)]


@pytest.mark.parametrize(("far", "read"), [(1e7, True), (1e7 + 1, False)])
def test_a_coordinate_may_be_10_km_away(far: float, read: bool, tmp_path: Path) -> None:
    """Both numbers are whole ones that 32 bits hold."""
    path = tmp_path / "far.stl"
    facet = struct.pack("<12fH", *[0.0] * 3, far, 0.0, 0.0, far, 5.0, 0.0, far, 0.0, 5.0, 0)
    path.write_bytes(b"made elsewhere".ljust(80) + struct.pack("<I", 1) + facet)
    if read:
        (body,) = read_model(path).bodies
        assert body.vertices.max() == far
    else:
        with pytest.raises(PreviewError, match=r"is 1e\+07 mm from the origin, more than 10 km"):
            read_model(path)


def test_bodies_may_share_what_rounding_hides() -> None:
    """0.001 mm³ between neighbors of a line; more where faces lean, and by its surface where two lines meet."""
    step = 0.25

    def coarse(body: Body) -> Body:
        return replace(body, step=step)

    level = alone(lay_out("wall", [Straight(300.0), Corner(math.pi / 2), Straight(200.0)]), STRIP)
    assert told(level.inspect({"2 straight": coarse}), "overlap", "2 straight").limit == pytest.approx(0.001)
    climb = alone(lay_out("stair", [Straight(300.0), Corner(-math.pi / 2), Straight(200.0, 0.5)]), STRIP)
    # A leaning face is at most four times as large as the section of 800 mm².
    leaning = told(climb.inspect({"2 straight": coarse}), "overlap", "2 straight").limit
    assert leaning == pytest.approx(0.001 + step * 4 * 800.0)
    lines = [join(lay_out("wall", [Straight(300.0)]), "base", STRIP)]
    lines.append(join(lay_out("other", [Straight(80.0)], start=(300.0, 0.0)), "base", block(30.0, 50.0)))
    two = Model(lines, []).inspect({"wall / base / 1 straight": coarse})
    (shared,) = (finding for finding in two.findings if finding.check.code == "overlap")
    smaller = 2 * 30.0 * 50.0 + 80.0 * 2 * (30.0 + 50.0)
    assert shared.limit == pytest.approx(0.001 + step * smaller)


def test_the_solids_of_a_step_file_by_their_names(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two of one name are told apart, and one without is named like its file; the kernel's part is tried elsewhere."""
    path = tmp_path / "room.stp"
    path.write_text("ISO-10303-21;\nEND-ISO-10303-21;\n")
    corners, sides = np.eye(4, 3), np.array([(0, 1, 2), (0, 3, 1), (1, 3, 2), (0, 2, 3)])
    named = ["rail", "", "rail", "rail"]
    monkeypatch.setattr("preview.models.solid.available", lambda: "")
    monkeypatch.setattr("preview.models.solid.read_solids", lambda _: [(name, corners, sides) for name in named])
    found = read_model(path)
    assert found.format == "STEP"
    assert [body.name for body in found.bodies] == ["rail", "room", "rail (2)", "rail (3)"]
    assert all(np.array_equal(body.vertices, corners) for body in found.bodies)
    monkeypatch.setattr("preview.models.solid.read_solids", lambda _: [])
    with pytest.raises(PreviewError, match="the STEP file holds no solids"):
        read_model(path)
