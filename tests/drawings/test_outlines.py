"""One outline out of loose edges: gaps, forks, loops, layers, back and foot."""

from __future__ import annotations

import math
import random
from pathlib import Path

import pytest

from drawing_files import EDGES, KNOWN, apart, dxf_text, written
from preview.drawings import Drawn, Wanted, read_drawing
from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, measure

NO_EDGES = "LINE\n8\n0\n10\n1\n20\n1\n11\n1\n21\n1\n0\n"


def read(folder: Path, edges: list[Edge], wanted: Wanted = Wanted()) -> Drawn:  # noqa: B008
    return read_drawing(written(folder, "drawn.dxf", dxf_text(edges)), wanted)


def read_text(folder: Path, *texts: str, wanted: Wanted = Wanted()) -> Drawn:  # noqa: B008
    """Several layers' edges in one file."""
    head, tail = texts[0].split("ENTITIES\n")[0] + "ENTITIES\n", "0\nENDSEC\n0\nEOF\n"
    body = "".join(text.split("ENTITIES\n")[1].removesuffix(tail) for text in texts)
    return read_drawing(written(folder, "drawn.dxf", head + body + tail), wanted)


def refused(folder: Path, *texts: str, wanted: Wanted = Wanted()) -> str:  # noqa: B008
    with pytest.raises(PreviewError) as caught:
        read_text(folder, *texts, wanted=wanted)
    return str(caught.value).replace(str(folder), "")


def board(wide: float, high: float, at: tuple[float, float] = (0, 0)) -> list[Edge]:
    x, y = at
    corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
    return [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]


def test_edges_in_any_order_and_direction(tmp_path: Path) -> None:
    shuffled = [edge.reversed() if i % 3 else edge for i, edge in enumerate(EDGES)]
    random.Random(4).shuffle(shuffled)
    assert apart(read(tmp_path, shuffled).profile, KNOWN) < 1e-9


def test_small_gaps_are_closed_and_told(tmp_path: Path) -> None:
    """A line stops 0.03 mm short of a line, and another 0.02 mm short of a tangent arc."""
    edges = list(EDGES)
    edges[0] = Line((0.0, 0.0), (19.97, 0.0))
    edges[3] = Line((20.0, 14.0), (20.0, 29.98))
    found = read(tmp_path, edges)
    assert found.notes[0] == "closed 2 gaps: 0.03 mm at x 19.97, y 0; 0.02 mm at x 20, y 29.98"
    assert found.profile.edges[0] == Line((0.0, 0.0), (20.0, 0.0))  # lines drawn on to where they cross
    assert apart(found.profile, KNOWN) < 0.02
    assert measure(found.profile).area == pytest.approx(measure(KNOWN).area, abs=0.5)
    assert "the outline is open" in refused(tmp_path, dxf_text(edges), wanted=Wanted(heal=0.025))


def test_rounding_is_no_gap(tmp_path: Path) -> None:
    off = [Line((a[0] + 3e-7, a[1]), (b[0], b[1] - 4e-7)) for a, b in ((e.start, e.end) for e in board(20, 40))]
    found = read(tmp_path, off, Wanted(back="left"))
    assert not any("gap" in note for note in found.notes)
    assert measure(found.profile).area == pytest.approx(800, abs=1e-4)


def test_an_open_outline_names_the_two_nearest_ends(tmp_path: Path) -> None:
    edges = [edge for i, edge in enumerate(EDGES) if i not in (1, 5)]
    assert refused(tmp_path, dxf_text(edges, layer="base")) == (
        "/drawn.dxf\n"
        "  the outline is open: the two nearest open ends are at x 20, y 0 and at x 20, y 8, 8 mm apart, "
        'on layer "base"\n'
        "  fix: draw the edges on until they meet"
    )


def test_a_stray_line_is_not_passed_over(tmp_path: Path) -> None:
    stray = dxf_text([Line((50.0, 0.0), (50.0, 90.0))], layer="center")
    said = refused(tmp_path, dxf_text(EDGES, layer="base"), stray)
    assert 'or if the outline is the loop on layer "base", name that layer' in said
    found = read_text(tmp_path, dxf_text(EDGES, layer="base"), stray, wanted=Wanted(layer="base"))
    assert apart(found.profile, KNOWN) < 1e-9


def test_a_fork_is_not_guessed_at(tmp_path: Path) -> None:
    said = refused(tmp_path, dxf_text([*EDGES, Line((20.0, 8.0), (20.0, 14.0))]))
    assert "3 ends of edges meet at x 20, y 8" in said or "3 ends of edges meet at x 20, y 14" in said


def test_edges_drawn_twice_and_edges_of_no_length(tmp_path: Path) -> None:
    found = read(tmp_path, [*EDGES, EDGES[2].reversed(), Line((20.0, 0.0), (20.0, 0.0))])
    assert apart(found.profile, KNOWN) < 1e-9
    assert found.notes[:2] == (
        "left out 1 edge of no length, the first at x 20, y 0",
        "left out 1 edge drawn a second time over another",
    )


def test_several_loops_are_listed_by_layer(tmp_path: Path) -> None:
    texts = [dxf_text(board(20, 60), layer="base"), dxf_text(board(12, 18, (90, 0)), layer="shoe")]
    assert refused(tmp_path, *texts) == (
        "/drawn.dxf: layer\n"
        '  the drawing has 2 closed loops: 20 mm wide and 60 mm high on layer "base"; '
        '12 mm wide and 18 mm high on layer "shoe"\n'
        "  fix: name the layer that holds the outline, with layer"
    )
    found = read_text(tmp_path, *texts, wanted=Wanted(layer="shoe", back="right"))
    assert measure(found.profile).area == pytest.approx(12 * 18)
    assert measure(found.profile).d_min == 0.0
    assert 'did you mean "base"?' in refused(tmp_path, *texts, wanted=Wanted(layer="Bas"))


def test_holes_are_refused(tmp_path: Path) -> None:
    said = refused(tmp_path, dxf_text([*board(20, 60), *board(4, 4, (5, 5))]))
    assert "the outline has 1 loop inside it, and a molding is one piece of wood without holes" in said
    side_by_side = refused(tmp_path, dxf_text([*board(20, 60), *board(4, 4, (50, 5))]))
    assert "put the outline on a layer of its own" in side_by_side


def mirrored(edges: list[Edge], out: float, up: float) -> list[Edge]:
    """Edges with x and y turned about by the signs of out and up, and set somewhere else."""

    def at(p: tuple[float, float]) -> tuple[float, float]:
        return (out * p[0] + 31.0, up * p[1] - 17.0)

    return [
        Arc(at(e.start), at(e.end), at(e.center), out * up * e.sweep)
        if isinstance(e, Arc)
        else Line(at(e.start), at(e.end))
        for e in edges
    ]  # fmt: skip


@pytest.mark.parametrize("out", [1, -1])
@pytest.mark.parametrize("up", [1, -1])
def test_back_and_foot_found_or_given(out: int, up: int, tmp_path: Path) -> None:
    edges = mirrored(EDGES, out, up)
    found = read(tmp_path, edges, Wanted(foot="bottom" if up > 0 else "top"))
    assert apart(found.profile, KNOWN) < 1e-9
    side = "left" if out > 0 else "right"
    assert found.notes[-1].startswith(f"the back is the {side} side of the drawing, found: 40 mm of straight line")
    given = read(tmp_path, edges, Wanted(back=side, foot="bottom" if up > 0 else "top"))  # type: ignore[arg-type]
    assert given.profile == found.profile


def test_a_doubtful_back_is_asked_for(tmp_path: Path) -> None:
    assert refused(tmp_path, dxf_text(board(20, 60))).startswith("/drawn.dxf: back\n  either side could be the back")
    # Neither reaches the whole height, and they are about as long.
    crown: list[Edge] = [
        Line((0.0, 0.0), (5.0, -2.0)), Line((5.0, -2.0), (60.0, 40.0)), Line((60.0, 40.0), (60.0, 52.0)),
        Line((60.0, 52.0), (40.0, 52.0)), Line((40.0, 52.0), (0.0, 13.0)), Line((0.0, 13.0), (0.0, 0.0)),
    ]  # fmt: skip
    assert "upright lines reach over 13 mm along the left and over 12 mm along the right" in refused(
        tmp_path, dxf_text(crown)
    )
    found = read(tmp_path, crown, Wanted(back="left"))
    assert found.profile.edges[-1] == Line((0.0, 15.0), (0.0, 2.0))


def test_a_back_a_little_out_of_plumb_by_rounding_is_put_on_the_wall(tmp_path: Path) -> None:
    edges = [Line((0.0, 0.0), (20.0, 0.0)), Line((20.0, 0.0), (15.0, 60.0)), Line((15.0, 60.0), (4e-7, 60.0))]
    found = read(tmp_path, [*edges, Line((4e-7, 60.0), (0.0, 0.0))])
    assert found.profile.edges[-1] == Line((0.0, 60.0), (0.0, 0.0))


def test_a_back_out_of_plumb_is_refused(tmp_path: Path) -> None:
    edges = [Line((0.0, 0.0), (20.0, 0.0)), Line((20.0, 0.0), (15.0, 60.0)), Line((15.0, 60.0), (0.2, 60.0))]
    said = refused(tmp_path, dxf_text([*edges, Line((0.2, 60.0), (0.0, 0.0))]))
    assert "so it has no back to go on the wall" in said


@pytest.mark.parametrize(("key", "value"), [("tolerance", 0.0), ("fit", math.nan), ("heal", 2.0), ("thickness", -1.0)])
def test_lengths_that_make_no_sense(key: str, value: float, tmp_path: Path) -> None:
    with pytest.raises(PreviewError) as caught:
        read(tmp_path, EDGES, Wanted(**{key: value}))  # type: ignore[arg-type]
    assert caught.value.problems[0].place == key


def test_names(tmp_path: Path) -> None:
    assert read(tmp_path, EDGES).profile.name == "drawn"
    path = written(tmp_path, "Drawn.DXF", dxf_text(EDGES))
    assert read_drawing(path, name="Flat base").profile.name == "Flat base"
