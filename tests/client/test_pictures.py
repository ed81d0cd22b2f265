"""Stills: the camera's geometry against plain projection, the light against its formula, and small real renders."""

from __future__ import annotations

import importlib.util
import io
import math
import struct
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from corner_scene import CORNER
from preview.build import Built, build
from preview.client import Camera, StillView, begin
from preview.client.stills import pictures
from preview.client.stills.easing import eased, turn_at
from preview.client.stills.studio import Shot, set_up, stage
from preview.errors import PreviewError
from preview.models.mesh import mesh_runs, mesh_surroundings
from preview.profiles import measure
from preview.scene import load_scene, parse_scene
from preview.vantage import choose_camera
from preview.vantage.camera import MARGIN, frame

ROOT = Path(__file__).parent.parent.parent
SCENES = sorted((ROOT / "scenes").glob("*.toml"))
TINY = (64, 40)


@pytest.fixture(scope="module")
def corner() -> Built:
    return build(parse_scene(CORNER, Path("corner.toml")))


def shot_of(built: Built, size: tuple[int, int]) -> Shot:
    return set_up(stage(built), size)


def pixels(png: bytes) -> np.ndarray[Any, np.dtype[np.uint8]]:
    """An 8-bit RGB PNG's pixels (h, w, 3), read by the format's own rules (ISO/IEC 15948)."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    at, data, header = 8, b"", b""
    while at < len(png):
        size, kind = struct.unpack(">I4s", png[at : at + 8])
        body = png[at + 8 : at + 8 + size]
        assert struct.unpack(">I", png[at + 8 + size : at + 12 + size])[0] == zlib.crc32(kind + body)
        header, data = (body, data) if kind == b"IHDR" else (header, data + body if kind == b"IDAT" else data)
        at += 12 + size
    width, height, depth, color, _, _, interlaced = struct.unpack(">IIBBBBB", header)
    assert (depth, color, interlaced) == (8, 2, 0)
    stream = io.BytesIO(zlib.decompress(data))
    rows = [np.zeros(3 * width, np.uint8)]
    for _ in range(height):
        kind, line = stream.read(1)[0], np.frombuffer(stream.read(3 * width), np.uint8).copy()
        unfilter(kind, line, rows[-1])
        rows.append(line)
    return np.array(rows[1:]).reshape(height, width, 3)


def unfilter(kind: int, line: Any, above: Any) -> None:
    for i in range(len(line)):
        a, b, c = (int(line[i - 3]), int(above[i]), int(above[i - 3])) if i > 2 else (0, int(above[i]), 0)
        nearest = min((abs(b - c), 0, a), (abs(a - c), 1, b), (abs(a + b - 2 * c), 2, c))[2]
        line[i] = (int(line[i]) + (0, a, b, (a + b) // 2, nearest)[kind]) % 256


def test_a_picture_shows_something_and_is_the_same_again(corner: Built) -> None:
    told: list[tuple[str, int, int]] = []
    view = StillView(corner, None, TINY)
    with begin([view], "quick") as rendering:
        (first,) = rendering.results(lambda *step: told.append(step))

    seen = pixels(first)
    assert seen.shape == (40, 64, 3)
    brightness = seen.astype(float).mean(axis=2)
    assert 60 < brightness.mean() < 230
    assert brightness.std() > 10
    assert len(np.unique(seen.reshape(-1, 3), axis=0)) > 200

    assert {step[0] for step in told} == {pictures.MAKING}
    assert [done for _, done, _ in told] == sorted({done for _, done, _ in told})  # it only ever grows
    assert told[-1] == (pictures.MAKING, 100, 100)

    with begin([view], "quick") as rendering:
        assert rendering.results() == [first]


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_the_camera_has_all_of_the_molding_in_the_picture(path: Path) -> None:
    """Every corner of every piece, of the exact model and not of the eased one, lies inside, less a little."""
    built = build(load_scene(path))
    size = (1600, 1000)
    around = mesh_surroundings(built.scene.surroundings, built.scene.runs, 2.0)
    blocks = np.concatenate([np.zeros((0, 3, 3)), *(mesh.points[mesh.triangles] for mesh in around)])
    points = np.concatenate([mesh.points for mesh in built.meshes])
    camera = choose_camera(built.lines, points, blocks, size)
    places = np.concatenate([camera.project(mesh.points, size) for mesh in built.meshes])
    assert np.isfinite(places).all()
    low, high = places.min(axis=0), places.max(axis=0)
    free = np.array(size) / 2 * MARGIN
    assert (low > free * 0.9).all()
    assert (high < np.array(size) - free * 0.9).all()
    # Framed tightly: it reaches the margin on both sides one way.
    assert np.any((low < free * 1.1) & (high > np.array(size) - free * 1.1))
    assert choose_camera(built.lines, points, blocks, size) == camera


def test_the_camera_stands_on_the_room_side(corner: Built) -> None:
    """The corner's room is x > 0, y < 0 in front of both walls: there the eye must be, above the floor."""
    camera = shot_of(corner, TINY).camera
    assert camera.eye[1] < 0
    assert camera.eye[0] < 300
    assert camera.eye[2] > 100


def test_what_stands_in_the_way_sends_the_camera_elsewhere(corner: Built) -> None:
    """A pillar half way along the line of sight: the new line of sight passes it by."""
    before = shot_of(corner, TINY).camera
    x, y = ((before.eye[i] + before.target[i]) / 2 for i in (0, 1))
    pillar = f'[[surrounding]]\nname = "pillar"\nkind = "column"\nat = [{x}, {y}]\nradius = 150\ntop = 3000\n'
    after = shot_of(build(parse_scene(CORNER + pillar, Path("corner.toml"))), TINY).camera
    eye, sight = np.array(after.eye[:2]), np.subtract(after.target, after.eye)[:2]
    away = np.array([x, y]) - eye
    aside = abs(sight[0] * away[1] - sight[1] * away[0]) / float(np.linalg.norm(sight))
    assert aside > 150
    ahead, aside_then = np.subtract(before.target, before.eye)[:2], np.array([x, y]) - before.eye[:2]
    assert abs(ahead[0] * aside_then[1] - ahead[1] * aside_then[0]) < 1e-6 * float(ahead @ ahead)


def test_a_run_that_closes_is_looked_down_on() -> None:
    camera = shot_of(build(load_scene(ROOT / "scenes" / "column.toml")), TINY).camera
    drop = camera.eye[2] - camera.target[2]
    assert math.degrees(math.asin(drop / math.dist(camera.eye, camera.target))) == pytest.approx(30)


def test_a_crown_is_looked_up_at_where_there_is_room_below(tmp_path: Path) -> None:
    text = CORNER.replace("foot = 20\nface = [{ fillet = 80 }, { ovolo = 20, in = 20 }]", 'file = "crown.toml"')
    (tmp_path / "crown.toml").write_bytes((ROOT / "profiles" / "cove-and-ogee-crown.toml").read_bytes())
    for level, below in ((2400, True), (0, False)):
        raised = text.replace("wall = 500", f"level = {level}\nwall = 2700")
        camera = shot_of(build(parse_scene(raised, tmp_path / "corner.toml")), TINY).camera
        assert (camera.eye[2] < level) == below
        assert camera.eye[2] > 0


def test_projection_is_that_of_a_pinhole() -> None:
    """Similar triangles: 90 degrees across, so what lies as far aside as ahead is on the edge."""
    camera = Camera((0.0, 0.0, 0.0), (0.0, 10.0, 0.0), math.pi / 2)
    points = np.array([(0, 5, 0), (5, 5, 0), (-5, 5, 0), (0, 8, 4), (0, -1, 0)], dtype=float)
    seen = camera.project(points, (200, 100))
    np.testing.assert_allclose(seen[:4], [(100, 50), (200, 50), (0, 50), (100, 0)], atol=1e-9)
    assert np.isnan(seen[4]).all()


@given(
    st.lists(st.tuples(*[st.floats(-3000, 3000)] * 3), min_size=2, max_size=20, unique=True),
    st.floats(0, 6.28),
    st.floats(-0.6, 0.6),
    st.sampled_from([(1600, 1000), (600, 900), (400, 400)]),
)
def test_any_points_are_framed_tightly(
    points: list[tuple[float, float, float]], turn: float, slope: float, size: tuple[int, int]
) -> None:
    cloud = np.array(points)
    if np.ptp(cloud, axis=0).max() < 1:
        return
    ahead = np.array([math.cos(turn) * math.cos(slope), math.sin(turn) * math.cos(slope), -math.sin(slope)])
    camera = frame(cloud, ahead, size)
    inner = np.array(size) / 2 * (1 - MARGIN)
    offset = np.abs(camera.project(cloud, size) - np.array(size) / 2) / inner
    # A point in the eye itself (two points in line with an edge of the picture) has no place.
    in_eye = np.linalg.norm(cloud - np.array(camera.eye), axis=1) < 1e-6
    reach = np.where(in_eye[:, None], 1.0, offset)
    assert reach.max() < 1 + 1e-6


def test_the_molding_is_cut_short_and_stays_within_its_exact_bounds(corner: Built) -> None:
    shot = shot_of(corner, TINY)
    for body, mesh in zip(shot.stage.molding, mesh_runs(corner.lines, corner.scene.chord), strict=True):
        low, high = body.points.min(axis=0), body.points.max(axis=0)
        assert (low >= mesh.points.min(axis=0) - 1e-9).all()
        assert (high <= mesh.points.max(axis=0) + 1e-9).all()
        np.testing.assert_allclose(high - low, np.ptp(mesh.points, axis=0), atol=2.0)
        a, b, c = (body.points[body.triangles[:, i]] for i in range(3))
        longest = max(float(np.linalg.norm(q - p, axis=1).max()) for p, q in ((a, b), (b, c), (c, a)))
        assert longest < math.hypot(60 + 20, 100)  # a step, a miter's slant, and the height of the back
        assert float(np.linalg.norm(body.normals, axis=1).min()) == pytest.approx(1)


def test_easing_rounds_arrises_and_takes_next_to_nothing(corner: Built) -> None:
    profile = corner.lines[0].profile
    soft = eased(profile, 0.5)
    pairs = list(zip(soft.edges, (*soft.edges[1:], soft.edges[0]), strict=True))
    assert all(before.end == after.start for before, after in pairs)
    assert max(turn_at(before, after) for before, after in pairs) < math.radians(3)
    exact, less = measure(profile), measure(soft)
    # A square arris eased by r loses (1 - pi/4) r^2; there are five arrises at most.
    assert 0 < exact.area - less.area < 5 * (1 - math.pi / 4) * 0.5**2 + 1e-3
    assert (less.d_max, less.h_max) == pytest.approx((exact.d_max, exact.h_max), abs=0.02)


def test_walls_that_would_stand_in_the_way_are_left_out(corner: Built) -> None:
    shot = shot_of(corner, TINY)
    for body in shot.around:
        a, b, c = (body.points[body.triangles[:, i]] for i in range(3))
        assert (np.einsum("ij,ij->i", np.cross(b - a, c - a), np.array(shot.camera.eye) - a) > 0).all()


def test_missing_packages_are_named_with_what_installs_them(corner: Built, monkeypatch: pytest.MonkeyPatch) -> None:
    real = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *rest: None if name == "mitsuba" else real(name, *rest)
    )
    with pytest.raises(PreviewError) as caught:
        begin([StillView(corner, None, TINY)])
    assert "need mitsuba, not installed" in str(caught.value)
    assert 'pip install "molding-preview[pictures]"' in str(caught.value)


@pytest.mark.parametrize("size", [(0, 40), (64, 9000), (15, 40)])
def test_sizes_that_no_picture_has_are_refused_before_the_work(corner: Built, size: tuple[int, int]) -> None:
    with pytest.raises(PreviewError, match="16 to 8000 pixels"):
        begin([StillView(corner, None, TINY), StillView(corner, None, size)])
