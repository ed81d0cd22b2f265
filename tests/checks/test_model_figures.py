"""The inspection of any model in figures that are worked out by hand: blocks, what they share, and how a joint's
findings are put in words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model_bodies import flipped, moved, straight, without_a_triangle
from preview.checks import CHECKS, Body, Finding, ModelInspection, inspect_model
from preview.checks.model import _finding
from preview.checks.rims import Measured

HIDDEN = "what the model's own facets and digits can hide there"
GAP = next(check for check in CHECKS if check.code == "gap")


def block(name: str, size: tuple[float, float, float], at: tuple[float, float, float] = (0, 0, 0)) -> Body:
    """A block whose lowest corner stands at a place, mm."""
    long, out, up = size
    return moved(straight(name, 0, long, ((0, 0), (out, 0), (out, up), (0, up))), *at)


def told(found: ModelInspection, code: str) -> list[tuple[str, float, float, str]]:
    return [(f.subject, f.figure, f.limit, f.detail) for f in found.findings if f.check.code == code]


# Bodies ---------------------------------------------------------------------------------------------------------------


def test_a_block_in_figures() -> None:
    (body,) = inspect_model([block("block", (30, 20, 50), (-5, 7, 100))]).bodies
    assert (body.name, body.triangles, body.open_edges) == ("block", 12, 0)
    assert body.volume == pytest.approx(30_000)
    assert body.area == pytest.approx(2 * (600 + 1500 + 1000))
    assert (body.low, body.high) == (pytest.approx((-5, 7, 100)), pytest.approx((25, 27, 150)))
    assert body.size == pytest.approx((30, 20, 50))


@pytest.mark.parametrize("size", [0.8, 1.0, 40.0])
def test_small_blocks_are_judged_as_large_ones(size: float) -> None:
    """What encloses half a cubic millimeter is closed and outward too, and shares wood with what stands in it."""
    one = block("one", (size, size, size))
    other = moved(replace(one, name="other"), 0.5 * size, 0.25 * size, 0.125 * size)
    found = inspect_model([one, other])
    assert [(f.figure, f.holds) for f in found.findings if f.check.code in ("closed", "outward")] == [(0, True)] * 4
    ((subject, figure, limit, detail),) = told(found, "overlap")
    assert subject == "one and other"
    assert figure == pytest.approx(0.5 * 0.75 * 0.875 * size**3)
    assert limit == pytest.approx(0.02 * 6 * size**2)
    assert detail == "up to 0.02 mm deep all over the smaller body counts as touching"


def test_an_overlap_s_limit_is_the_smaller_body_s_and_the_coarser_file_s() -> None:
    one = replace(block("one", (30, 20, 50)), step=0.01)
    other = replace(block("other", (4, 5, 6), (1, 2, 3)), step=0.03)
    ((_, figure, limit, detail),) = told(inspect_model([one, other]), "overlap")
    assert (figure, limit) == (pytest.approx(120), pytest.approx(0.05 * 2 * (20 + 24 + 30)))
    assert detail.startswith("up to 0.05 mm deep")
    ((_, _, turned, _),) = told(inspect_model([other, one]), "overlap")
    assert turned == pytest.approx(limit)


def test_what_is_open_or_inside_out_shares_nothing() -> None:
    one, other = block("one", (30, 20, 50)), block("other", (30, 20, 50), (5, 5, 5))
    for wrong, outward in ((flipped(other), [0, 1]), (without_a_triangle(other), [0])):
        found = inspect_model([one, wrong])
        assert told(found, "overlap") == []
        assert [figure for _, figure, *_ in told(found, "outward")] == outward
        assert [figure for _, figure, *_ in told(found, "closed")] == [0, 3 if len(outward) == 1 else 0]
        assert not found.holds
    assert inspect_model([one]).holds


def test_a_sheet_of_two_sides_encloses_nothing() -> None:
    """It is closed, looks neither in nor out, and shares no wood with the block that it cuts through."""
    points = np.array([[-5, 10, 25], [35, 10, 25], [15, 10, 90]], float)
    sheet = Body("sheet", (), points, np.array([[0, 1, 2], [0, 2, 1]]), None, 0.0)
    found = inspect_model([block("block", (30, 20, 50)), sheet])
    assert [(f.check.code, f.figure, f.limit) for f in found.findings] == [
        ("closed", 0, 0),
        ("outward", 0, 0),
        ("closed", 0, 0),
        ("outward", 1, 0),
    ]


def test_triangles_without_an_area_are_counted() -> None:
    one = block("one", (30, 20, 50))
    thin = replace(one, triangles=np.concatenate([one.triangles, [[0, 0, 1], [2, 2, 2]]]))
    assert inspect_model([thin]).dropped == 2
    assert inspect_model([thin, moved(thin, 100, 0, 0)]).dropped == 4
    assert inspect_model([one]).dropped == 0


def test_how_far_the_work_is_told() -> None:
    """Two bodies of the file, one of them in two parts; then each part's ends, the joints, and pairs of overlaps."""
    one, other = block("one", (30, 20, 50)), block("other", (30, 20, 50), (20, 0, 0))
    apart = block("apart", (30, 20, 50), (500, 0, 0))
    count = len(other.vertices)
    both = replace(
        other,
        vertices=np.concatenate([other.vertices, apart.vertices]),
        triangles=np.concatenate([other.triangles, apart.triangles + count]),
    )
    stages: list[tuple[str, int, int]] = []
    inspect_model([one, both], lambda *stage: stages.append(stage))
    overlaps = [stage for stage in stages if stage[0] == "overlaps"]
    assert [stage for stage in stages if stage[0] != "overlaps"] == [
        ("bodies", 1, 2),
        ("bodies", 2, 2),
        ("ends", 1, 3),
        ("ends", 2, 3),
        ("ends", 3, 3),
        ("joints", 0, 1),
        ("joints", 1, 1),
    ]
    assert overlaps[-1] == ("overlaps", 1, 1)
    assert stages.index(overlaps[0]) == 7


def test_as_many_bodies_as_the_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    bodies = [block(f"{i}", (30, 20, 50), (100 * i, 0, 0)) for i in range(3)]
    monkeypatch.setenv("MOLDING_LIMIT_BODIES", "3")
    assert len(inspect_model(bodies).bodies) == 3
    monkeypatch.setenv("MOLDING_LIMIT_BODIES", "2")
    with pytest.raises(Exception, match="the model has 3 bodies, and 2 is the most"):
        inspect_model(bodies)


# Joints ---------------------------------------------------------------------------------------------------------------


def test_joints_are_named_by_their_bodies_and_numbered_after_the_first() -> None:
    """A row of three, and a ring of two half frames that meet at both ends."""
    row = [straight(name, 200 * i, 200 * (i + 1)) for i, name in enumerate("abc")]
    found = inspect_model(row)
    assert [found.joint_name(i) for i in range(2)] == ["a and b", "b and c"]
    joint = found.joints[0]
    twice = replace(found, joints=(joint, found.joints[1], joint, joint))
    assert [twice.joint_name(i) for i in range(4)] == ["a and b", "b and c", "a and b (2)", "a and b (3)"]


@pytest.mark.parametrize(("move", "said"), [(0.5, "its faces stand apart"), (-0.5, "the bodies run into each other")])
def test_a_gap_is_told_by_its_side(move: float, said: str) -> None:
    row = [straight("left", 0, 400), moved(straight("right", 400, 900), move, 0, 0)]
    found = inspect_model(row)
    ((_, figure, _, detail),) = told(found, "gap")
    assert figure == pytest.approx(0.5)
    assert detail.startswith(f"{said}; at x 400")
    assert [f.check.code for f in found.findings][4:7] == ["gap", "step", "angle"]


@pytest.mark.parametrize(
    ("figure", "judged", "limit", "facets", "detail"),
    [
        (0.1, 0.1, 0.1, 0.0, ""),
        (0.1, 0.1, 0.3749, 0.125, f"of the limit, 0.12 mm is {HIDDEN}"),
        (0.1, 0.1, 0.375, 0.125, ""),  # half of what is left of the limit is not yet much
        (0.1, 0.1, 0.3, 0.11, f"of the limit, 0.11 mm is {HIDDEN}"),
        (0.2, 0.2, 0.1, 0.0, "it gapes; at x 1.000, y 2.000, z 3.500 mm"),
        (0.25, 0.2, 0.1, 0.0, "it gapes; at x 1.000, y 2.000, z 3.500 mm; elsewhere up to 0.25 mm"),
        (0.25, 0.1, 0.1, 0.0, ""),
        (
            0.25,
            0.2,
            0.1,
            0.05,
            f"it gapes; at x 1.000, y 2.000, z 3.500 mm; elsewhere up to 0.25 mm; of the limit, 0.05 mm is {HIDDEN}",
        ),
    ],
)
def test_a_joint_s_finding_in_words(figure: float, judged: float, limit: float, facets: float, detail: str) -> None:
    measured = Measured(figure, (9, 9, 9), judged, limit, (1, 2, 3.5), facets)
    assert _finding(GAP, "a and b", measured, "mm", "it gapes") == Finding(GAP, "a and b", judged, limit, detail=detail)
    plain = _finding(GAP, "a and b", measured, "mm")
    assert plain.detail == detail.removeprefix("it gapes; ")
