"""Which joints of a job are drawn, and that each drawing shows what stands there, from its foot up."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from numpy.typing import NDArray

from preview.build import Built
from preview.checks import Inspection
from preview.exports import JointDrawing, drawn_joints, joint_files, joint_pictures
from preview.profiles import Profile, flatten, measure
from shop_jobs import STAIR, TOP, shipped, written

Floats = NDArray[np.float64]
STORED = 1e-3  # mm; GLB holds 32-bit meters


def drawings(job: tuple[Built, Inspection]) -> dict[str, JointDrawing]:
    return {each.title: each for each in drawn_joints(*job) if each is not None}


def points(outline: Profile | Floats | None) -> Floats:
    assert outline is not None
    return flatten(outline, 0.01).points if isinstance(outline, Profile) else np.asarray(outline)


def box(outline: Profile | Floats | None) -> list[float]:
    found = points(outline)
    return [*found.min(axis=0).tolist(), *found.max(axis=0).tolist()]


@pytest.mark.parametrize("name", ["six-sided-room", "stair-wall", "door-casing", "hall"])
def test_every_joint_between_two_pieces_is_drawn_once_and_holds(name: str) -> None:
    built, inspection = shipped(name)
    found = drawn_joints(built, inspection)
    assert len(found) == len(built.joints)
    for pair, drawing in zip(built.joints, found, strict=True):
        assert (drawing is None) == (pair.before is None or pair.after is None)
        if drawing is not None:
            assert drawing.title == pair.joint.name
            assert drawing.holds
            assert drawing.figures
            assert drawing.subtitle.startswith((pair.joint.kind, "mitered return"))
    files = joint_files([drawing for drawing in found if drawing is not None])
    assert len({path for path, _ in files}) == len(files)
    for path, content in files:
        assert path.startswith("joints/")
        assert path.endswith(".svg")
        assert ET.fromstring(content).tag.endswith("svg")


def test_heights_start_at_the_foot_of_the_molding() -> None:
    """A rail 34 in up a wall, and up a stair: drawn as it is on a bench, from 0."""
    for drawing in drawings(shipped("stair-wall")).values():
        for outline in (drawing.before, drawing.after):
            assert box(outline)[1] == pytest.approx(0.0, abs=STORED), drawing.title
            assert box(outline)[3] < 120.0


def test_at_a_corner_on_a_climb_both_sections_are_the_sheared_one() -> None:
    """A square outside corner 0.75 up: the level piece's own profile at the foot of it; at its top, 2 x 0.75 d more."""
    built, _ = job = written(STAIR)
    found = drawings(job)
    foot, top = found["stair / base / 1-2 miter"], found["stair / base / end return miter"]
    profile = built.members[0].profile
    size = measure(profile)
    assert box(foot.before) == pytest.approx([size.d_min, size.h_min, size.d_max, size.h_max], abs=STORED)
    # At the corner at the top a point d out stands 0.75 d up its own shear and 0.75 d further along the rake.
    around = flatten(profile, 0.01).points
    sheared = around[:, 1] + 1.5 * around[:, 0]
    assert box(top.before)[3] == pytest.approx(float(sheared.max()), abs=0.02)
    assert box(top.after) == pytest.approx(box(top.before), abs=STORED)
    assert foot.subtitle == "miter, outside corner of 90° between the walls"
    assert top.subtitle == "mitered return"


def test_a_cope_is_drawn_with_its_own_profile_and_has_a_gap_alone() -> None:
    found = drawings(shipped("hall"))
    cope = found["hall / base / 1-2 cope"]
    assert isinstance(cope.after, Profile)  # the coped one comes after: it has no end in one plane
    assert not isinstance(cope.before, Profile)
    assert box(cope.after) == pytest.approx(box(cope.before), abs=0.05)
    assert [figure.name for figure in cope.figures] == ["gap"]


def test_a_cope_up_on_a_landing_is_drawn_from_its_foot() -> None:
    """The same corner, after a climb in one wall: its height is not in the drawing."""
    steps = "{ straight = 600 }, { straight = 800, rise = 500 }, { straight = 500 }, { inside = 90, joint = 'cope' }"
    job = written(f'[[run]]\nname = "up"\nlevel = 100\nsteps = [{steps}, {{ straight = 500 }}]\n')
    cope = drawings(job)["up / base / 3-4 cope"]
    high = measure(job[0].members[0].profile).h_max
    for outline in (cope.before, cope.after):
        assert box(outline)[1] == pytest.approx(0.0, abs=STORED)
        assert box(outline)[3] == pytest.approx(high, abs=1e-3)
    assert cope.holds


@pytest.mark.parametrize("name", ["door-casing", "hall"])
def test_a_block_covers_the_end_and_is_drawn_second(name: str) -> None:
    found = [drawing for drawing in drawings(shipped(name)).values() if drawing.covered]
    assert len(found) == 2
    for drawing in found:
        assert "straight" in drawing.before_name
        assert "block" in drawing.after_name
        end, face = box(drawing.before), box(drawing.after)
        assert end[0] >= face[0] - STORED
        assert end[2] <= face[2] + STORED
        assert end[3] <= face[3] + STORED
        assert {figure.name for figure in drawing.figures} == {"gap", "step"}
        assert all(figure.holds for figure in drawing.figures)
        if name == "hall":  # 1 3/4 in out of the wall and 7 in high, as the scene says
            assert face == pytest.approx([0.0, 0.0, 44.45, 177.8], abs=STORED)


def test_on_the_face_of_a_wall_the_wall_is_drawn_below() -> None:
    assert {drawing.wall for drawing in drawings(shipped("door-casing")).values()} == {"below"}
    assert {drawing.wall for drawing in drawings(shipped("hall")).values()} == {"left"}


def test_units_are_the_scene_s() -> None:
    assert {drawing.unit for drawing in drawings(shipped("hall")).values()} == {"in"}
    assert {drawing.unit for drawing in drawings(written(STAIR)).values()} == {"mm"}


# Mismatches.

SAME = STAIR.replace('end = "return"', 'raked = "same"')


def test_a_mismatch_is_drawn_and_fails() -> None:
    """One profile on level and rake round a corner: what each has alone is shaded, and the step is its figure."""
    built, inspection = job = written(SAME)
    drawing = drawings(job)["stair / base / 1-2 miter"]
    assert not drawing.holds
    step = next(figure for figure in drawing.figures if figure.name == "step")
    assert not step.holds
    finding = next(f for f in inspection.findings if f.check.code == "step" and f.subject == drawing.title)
    assert (step.value, step.limit) == (finding.figure, finding.limit)
    # By hand: at the outermost point of its foot, 20 out, the raked one stands 0.75 x 20 lower.
    assert box(drawing.before)[1] == pytest.approx(0.0, abs=STORED)
    assert box(drawing.after)[1] == pytest.approx(-15.0, abs=1e-3)
    # It is told where on the section it is worst, from the foot up.
    assert step.at is not None
    assert -STORED <= step.at[0] <= 20.0 + STORED
    assert -1e-3 <= step.at[1] <= measure(built.members[0].profile).h_max + 1e-3
    ((_, content),) = joint_files([drawing])
    assert b"Does not meet" in content
    assert b"step" in content


# Large jobs.

EVEN = "{ straight = 200 }, { inside = 90 }, { straight = 200 }, { outside = 90 }, "


def test_a_large_job_has_one_of_each_kind_drawn_and_all_that_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    run = f'[[run]]\nname = "steps"\nsteps = [{EVEN * 3}{{ straight = 200 }}, {{ straight = 200 }}]\n'
    built, inspection = written(run)
    count = sum(measured is not None for measured in inspection.meetings)
    assert count == 7
    monkeypatch.setattr(joint_pictures, "MOST_DRAWN", count)
    assert sum(drawing is not None for drawing in drawn_joints(built, inspection)) == count
    monkeypatch.setattr(joint_pictures, "MOST_DRAWN", count - 1)
    kept = [drawing for drawing in drawn_joints(built, inspection) if drawing is not None]
    assert [drawing.title for drawing in kept] == ["steps / base / 1-2 miter", "steps / base / 7-8 butt"]


def test_in_a_large_job_every_failure_is_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    steps = "{ straight = 300 }, { inside = 90 }, { straight = 300 }, { inside = 90 }, { straight = 900, rise = 400 }"
    job = written(f'[[run]]\nname = "up"\nraked = "same"\nsteps = [{steps}]\n')
    monkeypatch.setattr(joint_pictures, "MOST_DRAWN", 1)
    found = drawings(job)
    assert list(found) == ["up / base / 1-2 miter", "up / base / 2-3 miter"]
    assert [drawing.holds for drawing in found.values()] == [True, False]


def test_two_profiles_end_to_end_are_drawn_with_what_differs() -> None:
    top = TOP + '[profile.thin]\nfoot = 15\nface = [{ fillet = 80 }]\n[member.thin]\nprofile = "thin"\n'
    runs = (
        '[[run]]\nname = "old"\nmembers = ["base"]\nsteps = [{ straight = 500 }]\n'
        '[[run]]\nname = "new"\nmembers = ["thin"]\nstart = [500, 0]\nsteps = [{ straight = 500 }]\n'
    )
    (drawing,) = drawings(written(runs, top)).values()
    assert not drawing.holds
    assert box(drawing.before) == pytest.approx([0.0, 0.0, 20.0, 80.0], abs=1e-3)
    assert box(drawing.after) == pytest.approx([0.0, 0.0, 15.0, 80.0], abs=1e-3)
    step = next(figure for figure in drawing.figures if figure.name == "step")
    assert step.value == pytest.approx(5.0, abs=1e-3)
    assert math.isfinite(step.value)


def test_runs_that_meet_up_on_a_landing_are_drawn_from_the_foot() -> None:
    """One run climbs to where another goes on at that level."""
    runs = (
        '[[run]]\nname = "up"\nsteps = [{ straight = 500, rise = 300 }, { straight = 400 }]\n'
        '[[run]]\nname = "on"\nstart = [900, 0]\nlevel = 300\nsteps = [{ straight = 500 }]\n'
    )
    found = drawings(written(runs))
    drawing = found["up / base to on / base butt"]
    assert drawing.holds
    assert box(drawing.before)[1] == pytest.approx(0.0, abs=STORED)
    assert box(drawing.after)[1] == pytest.approx(0.0, abs=STORED)
