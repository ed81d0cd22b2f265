"""Every way to sketch a profile wrong, and the whole message that a person gets for it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from preview.errors import PreviewError
from preview.profiles import Shape, sketch
from preview.units import Unit

ALL_SHAPES = (
    "astragal, bead, bevel, cavetto, cove, fillet, ogee, ovolo, quirked-ovolo, quirked-reverse-ogee, reverse-ogee, "
    "scotia, torus"
)


def message(
    shapes: Sequence[Shape],
    foot: float = 30.0,
    *,
    wall: float | None = None,
    ceiling: float | None = None,
    unit: Unit = "mm",
) -> str:
    with pytest.raises(PreviewError) as caught:
        sketch("wrong", foot, shapes, wall=wall, ceiling=ceiling, unit=unit)
    return str(caught.value)


def told(place: str, problem: str, fix: str) -> str:
    """One problem as a person sees it."""
    return f"{place}\n  {problem}\n  fix: {fix}"


ONE_SHAPE = {
    "a typing slip": (
        Shape("oggee", 5.0, -5.0),
        told(
            "shape 2",
            'no shape is called "oggee"',
            f"did you mean ogee? the shapes are {ALL_SHAPES}",
        ),
    ),
    "an unknown shape": (
        Shape("dentil", 5.0),
        told(
            "shape 2",
            'no shape is called "dentil"',
            f"the shapes are {ALL_SHAPES}",
        ),
    ),
    "a fillet that slopes": (
        Shape("fillet", 6.4, -3.0),
        told(
            "shape 2 (fillet)",
            "a fillet is a flat band, straight up or level, and this one rises 6.4 mm and goes 3 mm in",
            "leave one of the two out, or use a bevel for a slope",
        ),
    ),
    "a shape of no size": (
        Shape("fillet"),
        told(
            "shape 2 (fillet)",
            "the fillet has no size",
            "give it a rise, or how far it goes in or out",
        ),
    ),
    "a bevel that does not slope": (
        Shape("bevel", 6.0),
        told(
            "shape 2 (bevel)",
            "a bevel needs a rise and an in or out, and this one has no in or out",
            "give the in or out too, or use a fillet for a flat band",
        ),
    ),
    "a level ovolo": (
        Shape("ovolo", out=-6.0),
        told(
            "shape 2 (ovolo)",
            "an ovolo needs a rise and an in or out, and this one has no rise",
            "give the rise too, or use a fillet for a flat band",
        ),
    ),
    "an upright cove": (
        Shape("cove", 6.0),
        told(
            "shape 2 (cove)",
            "a cove needs a rise and an in or out, and this one has no in or out",
            "give the in or out too, or use a fillet for a flat band",
        ),
    ),
    "an upright ogee": (
        Shape("ogee", 6.0),
        told(
            "shape 2 (ogee)",
            "an ogee needs a rise and an in or out, and this one has no in or out",
            "give the in or out too, or use a fillet for a flat band",
        ),
    ),
    "a radius that does not reach": (
        Shape("ovolo", 6.0, -8.0, 4.9),
        told(
            "shape 2 (ovolo), radius",
            "the ends are 10 mm apart, too far for an arc of radius 4.9 mm",
            "use a radius of at least 5 mm, or leave it out",
        ),
    ),
    "a radius that folds an ogee": (
        Shape("reverse-ogee", 6.0, 8.0, 4.0),  # least 100 / 24 = 4.17
        told(
            "shape 2 (reverse-ogee), radius",
            "with arcs of radius 4 mm the reverse-ogee would fold back under itself",
            "use a radius of at least 4.2 mm, or leave it out",
        ),
    ),
    "a radius of miles": (
        Shape("cove", 6.0, -8.0, 2e6),
        told(
            "shape 2 (cove), radius",
            "an arc of radius 2000000 mm cannot be told from a straight slope",
            "use a bevel, or a smaller radius",
        ),
    ),
    "a radius of nothing": (
        Shape("cove", 6.0, -8.0, 0.0),
        told(
            "shape 2 (cove), radius",
            "the radius is 0 mm",
            "give a radius above 0, or leave it out",
        ),
    ),
    "a bead with a radius": (
        Shape("bead", 6.0, radius=3.0),
        told(
            "shape 2 (bead), radius",
            "a bead takes no radius: its size sets it",
            "leave it out",
        ),
    ),
    "a scotia with a radius": (
        Shape("scotia", 6.0, -2.0, 3.0),
        told(
            "shape 2 (scotia), radius",
            "a scotia takes no radius: its size sets it",
            "leave it out",
        ),
    ),
    "a fillet with a radius": (
        Shape("fillet", 6.0, radius=3.0),
        told(
            "shape 2 (fillet), radius",
            "a fillet takes no radius: its size sets it",
            "leave it out",
        ),
    ),
    "a bevel with a radius": (
        Shape("bevel", 6.0, 2.0, 3.0),
        told(
            "shape 2 (bevel), radius",
            "a bevel takes no radius: its size sets it",
            "leave it out",
        ),
    ),
    "a bead that leans": (
        Shape("bead", 6.0, -2.0),
        told(
            "shape 2 (bead), in",
            "a bead ends straight above its start, and this one goes 2 mm in",
            "drop the in, and put a level fillet before or after the bead",
        ),
    ),
    "an astragal that leans out": (
        Shape("astragal", 6.0, 2.0),
        told(
            "shape 2 (astragal), out",
            "an astragal ends straight above its start, and this one goes 2 mm out",
            "drop the out, and put a level fillet before or after the astragal",
        ),
    ),
    "a scotia that moves too far": (
        Shape("scotia", 6.0, 6.0),
        told(
            "shape 2 (scotia), out",
            "a scotia moves in or out by less than it rises, and this one rises 6 mm and goes 6 mm out",
            "give it a greater rise, or less in or out; a third of the rise is usual",
        ),
    ),
    "a rise downwards": (
        Shape("fillet", -6.0),
        told(
            "shape 2 (fillet), rise",
            "the rise is -6 mm, and a face is drawn from the foot up",
            "give a rise of 0 or more",
        ),
    ),
    "a rise that is no number": (
        Shape("fillet", math.nan),
        told(
            "shape 2 (fillet), rise",
            "the rise is nan, which is no length",
            "give it a length",
        ),
    ),
    "an in that is no number": (
        Shape("cove", 1.0, -math.inf),
        told(
            "shape 2 (cove), in",
            "the in is -inf, which is no length",
            "give it a length",
        ),
    ),
    "a radius that is no number": (
        Shape("cove", 1.0, -1.0, math.nan),
        told(
            "shape 2 (cove), radius",
            "the radius is nan, which is no length",
            "give it a length",
        ),
    ),
    "a face that reaches the wall too early": (
        Shape("fillet", out=-30.0),
        told(
            "shape 2 (fillet)",
            "the face reaches the wall here, and only its top may end on the wall",
            "use a greater foot, or move the face in by less",
        ),
    ),
    "a face behind the wall": (
        Shape("cove", 40.0, -40.0),
        told(
            "shape 2 (cove)",
            "the face goes 10 mm behind the wall here, and only its top may end on the wall",
            "use a greater foot, or move the face in by less",
        ),
    ),
    "a hollow behind the wall": (
        Shape("scotia", 60.0, -20.0),  # its lower radius is 40
        told(
            "shape 2 (scotia)",
            "the face goes 10 mm behind the wall here, and only its top may end on the wall",
            "use a greater foot, or move the face in by less",
        ),
    ),
}


@pytest.mark.parametrize("name", ONE_SHAPE)
def test_a_shape_that_is_wrong(name: str) -> None:
    shape, expected = ONE_SHAPE[name]
    assert message([Shape("fillet", 20.0), shape, Shape("fillet", 5.0)]) == expected


def test_every_wrong_shape_is_told_at_once() -> None:
    text = message([Shape("fillet", 20.0), Shape("bead", 4.0, 1.0), Shape("cove", 4.0, -4.0), Shape("ogee", -4.0)])
    assert text == (
        "shape 2 (bead), out\n  a bead ends straight above its start, and this one goes 1 mm out\n"
        "  fix: drop the out, and put a level fillet before or after the bead\n"
        "\n"
        "shape 4 (ogee), rise\n  the rise is -4 mm, and a face is drawn from the foot up\n"
        "  fix: give a rise of 0 or more"
    )


def test_lengths_are_in_the_unit_of_the_sketch() -> None:
    inch = 25.4
    text = message([Shape("scotia", 0.5 * inch, -0.75 * inch)], 2 * inch, unit="in")
    assert 'this one rises 1/2" and goes 3/4" in' in text


def test_a_least_radius_in_inches_can_be_written_and_is_enough() -> None:
    """Half of 1 1/2 by 1 1/8 in. is 15/16; of 1 by 1 in. 0.707, of which the next sixteenth is 3/4."""
    inch = 25.4
    reach = [Shape("ovolo", 1.5 * inch, -1.125 * inch, 0.5 * inch)]
    assert 'at least 15/16"' in message(reach, 2 * inch, unit="in")
    corner = Shape("ovolo", inch, -inch, 0.5 * inch)
    assert 'at least 3/4"' in message([corner], 2 * inch, unit="in")
    sketch("enough", 2 * inch, [Shape("ovolo", inch, -inch, 0.75 * inch)])
    sketch("enough", 2 * inch, [Shape("ovolo", 1.5 * inch, -1.125 * inch, 15 / 16 * inch)])


@pytest.mark.parametrize(("foot", "said"), [(0.0, "0 mm"), (-5.0, "-5 mm"), (math.nan, "nan"), (math.inf, "inf")])
def test_a_foot_that_holds_no_wood(foot: float, said: str) -> None:
    assert message([Shape("fillet", 20.0)], foot) == (
        f"foot\n  the face starts {said} out from the wall, which leaves no wood behind it\n"
        "  fix: give the thickness at the foot, more than 0"
    )


def test_a_face_of_nothing() -> None:
    assert message([]) == "  the face has no shapes\n  fix: give at least one, such as a fillet"


def test_a_face_that_only_goes_sideways() -> None:
    assert message([Shape("fillet", out=-5.0)]) == ("  the face does not rise\n  fix: give at least one shape a rise")


CROWN = [Shape("fillet", 10.0), Shape("bevel", 40.0, 40.0)]


def test_one_flat_of_a_sprung_molding() -> None:
    only = "a sprung molding lies on the wall and on the ceiling, and only its {} is given"
    assert message(CROWN, wall=15.0) == told("wall", only.format("wall"), "give ceiling too, or neither")
    assert message(CROWN, ceiling=15.0) == told("ceiling", only.format("ceiling"), "give wall too, or neither")


@pytest.mark.parametrize(("wall", "said"), [(50.0, "50 mm"), (0.0, "0 mm"), (-1.0, "-1 mm"), (math.nan, "nan")])
def test_a_flat_on_the_wall_that_does_not_fit(wall: float, said: str) -> None:
    assert message(CROWN, wall=wall, ceiling=20.0) == (
        f"wall\n  the flat on the wall is {said}, and the face rises 50 mm\n  fix: use more than 0 and less than 50 mm"
    )


def test_a_flat_on_the_ceiling_that_does_not_fit() -> None:
    assert message(CROWN, wall=15.0, ceiling=75.0) == (
        "ceiling\n  the flat on the ceiling is 75 mm, and the face projects 70 mm\n"
        "  fix: use more than 0 and less than 70 mm"
    )


def test_a_back_that_cuts_through_the_face() -> None:
    deep = [
        Shape("fillet", 10.0),
        Shape("fillet", out=-25.0),
        Shape("fillet", 30.0),
        Shape("fillet", out=40.0),
    ]
    text = message([*deep, Shape("fillet", 5.0)], wall=12.0, ceiling=5.0)
    assert text.startswith("  the outline crosses itself at 5 mm out, ")


def test_a_bead_under_a_deep_ledge() -> None:
    """It would have to pass through the ledge's lip, which is only 2 mm below its widest point."""
    shapes = [Shape("fillet", 10.0), Shape("bead", 8.0), Shape("fillet", out=3.0), Shape("bevel", 6.0, -1.0)]
    sketch("sound", 30.0, shapes)
    text = message([Shape("ovolo", 10.0, -20.0, 10.0 * math.sqrt(5) / 2 + 0.01), Shape("bead", 30.0)])
    assert text.startswith("  the outline crosses itself at ")
