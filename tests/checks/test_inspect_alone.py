"""What is told of a model as a whole: pieces that lack or stand twice, in which order, and how far the work is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from preview.checks import Body, Finding, Inspection, JointPair, inspect_bodies
from preview.joinery import join
from preview.runs import Corner, Straight, lay_out
from test_joint_faults import STRIP, Model
from test_many_bodies import box


def hall() -> Model:
    line = join(
        lay_out("hall", [Straight(200.0), Corner(0.5), Straight(150.0), Corner(0.5), Straight(200.0)]), "b", STRIP
    )
    return Model([line], [JointPair(j, *b) for j, b in zip(line.joints, line.between, strict=True)])


def asked(model: Model, bodies: list[Body], progress: object = None) -> Inspection:
    return inspect_bodies(bodies, model.pieces, model.pairs, model.volumes, 0.05, progress)  # type: ignore[arg-type]


def present(found: Inspection) -> list[tuple[float, str]]:
    return [(each.figure, each.detail) for each in found.findings if each.check.code == "present"]


def codes(findings: tuple[Finding, ...]) -> list[str]:
    return [each.check.code for each in findings]


ALONE = ["length", "closed", "outward", "one-body", "on-profile", "chord", "volume"]


def test_a_sound_model_is_told_in_order() -> None:
    """Which pieces are there; each by itself; what neighbors share; how they meet."""
    model = hall()
    found = asked(model, list(model.bodies.values()))
    joints = ["gap", "step", "angle"]
    assert codes(found.findings) == ["present"] * 3 + ALONE * 3 + ["overlap"] * 2 + joints * 2
    assert all(each.holds for each in found.findings)
    assert [each is None for each in found.meetings] == [True, False, False, True]
    assert [(a is None, b is None) for a, b in found.rims] == [
        (True, True),
        (False, False),
        (False, False),
        (True, True),
    ]
    assert np.allclose(found.volumes, model.volumes)


def test_bodies_that_are_no_pieces_are_passed_over() -> None:
    model = hall()
    found = asked(model, [box((0.0, 0.0, 0.0), (300.0, 300.0, 300.0)), *model.bodies.values()])
    assert present(found) == [(0, "")] * 3
    assert all(each.holds for each in found.findings)


def test_a_piece_that_is_missing_or_stands_twice_is_not_measured() -> None:
    model = hall()
    one, two, three = model.bodies.values()
    missing = asked(model, [one, three])
    assert present(missing) == [(0, ""), (1, "the file holds 0 bodies of this name"), (0, "")]
    assert codes(missing.findings)[3:17] == ALONE * 2
    twice = asked(model, [one, two, three, three, three])
    assert present(twice) == [(0, ""), (0, ""), (2, "the file holds 3 bodies of this name")]
    for found, gone in ((missing, 1), (twice, 2)):
        assert np.isnan(found.volumes[gone])
        assert {each.limit for each in found.findings if each.check.code == "present"} == {0}
        # Its joints are open.
        gaps = [each for each in found.findings if each.check.code == "gap"]
        assert [each.holds for each in gaps] == [gone == 2, False]
    pair = asked(model, [one, two, two, three])
    assert present(pair)[1] == (1, "the file holds 2 bodies of this name")


def test_how_far_it_is_is_told_of_pieces_of_pairs_and_of_joints() -> None:
    model = hall()
    told: list[tuple[str, int, int]] = []
    asked(model, list(model.bodies.values()), lambda *at: told.append(at))
    assert told == [
        *(("pieces", i, 3) for i in (1, 2, 3)),
        *(("overlaps", i, 2) for i in (1, 2)),
        *(("joints", i, 4) for i in (1, 2, 3, 4)),
    ]


def test_bodies_without_triangles_share_nothing() -> None:
    model = hall()
    one, two, three = model.bodies.values()
    empty = replace(two, triangles=np.empty((0, 3), dtype=np.int64))
    found = asked(model, [one, empty, three])
    assert "overlap" not in codes(found.findings)
    assert present(found) == [(0, "")] * 3


def test_bodies_that_run_into_each_other_are_told_by_their_wood() -> None:
    """The second pushed 0.5 mm back along its wall, into the first and away from the third."""
    model = hall()
    one, two, three = model.bodies.values()
    back = -0.5 * np.array((np.cos(0.5), np.sin(0.5), 0.0))
    found = asked(model, [one, replace(two, vertices=two.vertices + back), three])
    shared = [each for each in found.findings if each.check.code == "overlap"]
    assert [each.subject for each in shared] == [
        f"hall / b / {i} straight and hall / b / {i + 1} straight" for i in (1, 2)
    ]
    assert [each.holds for each in shared] == [False, True]
