"""Several pictures made by one process: the light against its formula, the hairlines, and small real renders."""

from __future__ import annotations

import io
import json
import math
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from corner_scene import CORNER
from preview.build import Built, build
from preview.client import Camera, StillView, as_photo, as_poster, begin
from preview.client.stills import job, pictures
from preview.client.stills.darkroom import (
    Sight,
    brightness,
    exposed,
    mended,
    scale_of,
    scales_of,
    seams,
    softened,
)
from preview.client.stills.studio import linear
from preview.scene import parse_scene

TINY = (64, 40)
NEAR = Camera((150.0, -500.0, 300.0), (200.0, 0.0, 50.0), math.radians(40))
ASIDE = Camera((420.0, -480.0, 300.0), (200.0, 0.0, 50.0), math.radians(40))
Floats = np.ndarray[Any, np.dtype[np.float32]]


@pytest.fixture(scope="module")
def corner() -> Built:
    return build(parse_scene(CORNER, Path("corner.toml")))


@pytest.fixture(scope="module")
def oak() -> Built:
    text = CORNER.replace('profile = "base"', 'profile = "base"\nfinish = "oak"')
    return build(parse_scene(text, Path("corner.toml")))


def made(views: list[StillView]) -> tuple[list[bytes], list[int]]:
    told: list[int] = []
    with begin(views, "quick") as rendering:
        return rendering.results(lambda _, done, __: told.append(done)), told


def test_views_of_one_job_are_the_pictures_made_one_by_one_but_for_their_exposure(
    corner: Built, oak: Built, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """With the exposure fixed, to the byte: whatever was set up for another view leaves no trace.

    So does the order: the second view is of other bodies, the third of the first's again.
    """
    fixed = tmp_path / "renderer.py"
    fixed.write_bytes(pictures.RENDERER.read_bytes())
    alone = "def scales_of(found, together):\n    return [1.0] * len(found)\n"
    darkroom = pictures.RENDERER.with_name("darkroom.py").read_text(encoding="utf-8")
    (tmp_path / "darkroom.py").write_text(f"{darkroom}\n\n{alone}", encoding="utf-8")
    monkeypatch.setattr(pictures, "RENDERER", fixed)
    views = [StillView(corner, None, TINY), StillView(oak, NEAR, (50, 30)), StillView(corner, ASIDE, TINY)]
    together, told = made(views)
    assert together[1:] == [made([view])[0][0] for view in views[1:]]  # the first is made before anything else is
    assert len(set(together)) == 3
    assert told == sorted(set(told))
    assert told[-1] == 100


def test_views_from_one_camera_share_an_exposure_and_the_same_job_gives_the_same_bytes(
    corner: Built, oak: Built
) -> None:
    views = [StillView(corner, NEAR, TINY), StillView(oak, NEAR, TINY), StillView(oak, ASIDE, TINY)]
    first, _ = made(views)
    assert made(views)[0] == first
    # By itself the darker oak is made brighter, from the same camera as the white or from another.
    alone, _ = made([views[1], views[2]])
    assert np.mean(pixels(alone[0])) > np.mean(pixels(first[1])) + 2
    assert np.mean(pixels(first[2])) > np.mean(pixels(first[1])) + 2


def pixels(png: bytes) -> np.ndarray[Any, np.dtype[np.uint8]]:
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB"))


def test_the_renderer_works_while_nobody_waits_and_ends_with_its_block(corner: Built) -> None:
    with begin([StillView(corner, None, TINY)], "quick") as rendering:
        process = rendering._process
        for _ in range(600):
            if process.poll() is not None:
                break
            time.sleep(0.1)
        assert process.poll() == 0
        assert rendering.results()[0].startswith(b"\x89PNG")
    with begin([StillView(corner, None, (2000, 2000))], "final") as rendering:
        process, folder = rendering._process, Path(rendering._folder.name)
    assert process.poll() is not None
    assert not folder.exists()


def test_a_finished_still_becomes_a_poster_and_a_photo(corner: Built) -> None:
    large = Image.new("RGB", (1600, 1000), (200, 180, 150))
    out = io.BytesIO()
    large.save(out, "PNG")
    small, photo = (Image.open(io.BytesIO(made(out.getvalue()))) for made in (as_poster, as_photo))
    assert (small.format, small.size) == ("JPEG", pictures.POSTER)
    assert (photo.format, photo.size) == ("JPEG", large.size)


def test_a_finish_gives_back_its_own_share_of_the_light() -> None:
    """In light of one strength from all sides a surface shows its reflectance: with a coat, and 4 % sheen, as well.

    The gray of sRGB 0.5 gives back 21.4 % (IEC 61966-2-1), walnut brown far less; the sheen is Fresnel's
    reflectance ((n - 1) / (n + 1))^2 of a coat of index 1.5, seen square on. A texture of one tone is no other color.
    """
    code = """
import json, sys
import numpy as np, mitsuba as mi
sys.path.insert(0, sys.argv[1])
import renderer
mi.set_variant("scalar_rgb")
square = np.array([(-9, 0, -9), (9, 0, -9), (9, 0, 9), (-9, 0, 9)], np.float32)
arrays = {"points0": square, "normals0": square * 0 + np.array((0, -1, 0), np.float32),
          "places0": square[:, ::2] / 18 + 0.5, "triangles0": np.array([(0, 1, 2), (0, 2, 3)], np.uint32),
          "tones0": np.full((4, 4), 255, np.uint8)}
camera = {"eye": [0, -9, 0], "target": [0, 0, 0], "across": 10}
view = {"size": [8, 8], "camera": camera, "lamps": [], "bodies": [0]}
found = []
for color, roughness, texture in json.loads(sys.argv[2]):
    body = {"color": [0.5 if texture else color] * 3, "roughness": roughness, "metallic": 0, "layer": -1}
    body["texture"] = 0 if texture else None
    said = {"effort": {"filter": "Fast"}, "everywhere": [1, 1, 1], "bodies": [body]}
    said["textures"] = [{"dark": [0] * 3, "light": [color] * 3}]
    tracer = renderer._Tracer(mi, renderer.Job(said, arrays), None)
    tracer._set_up(view)
    light = tracer._pass(tracer._lit(view), view, [8, 8], 256, 5)
    sight = tracer._sight(view, [16, 16])
    assert (sight.body == 1).all() and abs(sight.depth - 9).max() < 1e-3
    assert abs(sight.normal - [0, 0, 1]).max() < 1e-3
    found.append([float(light.mean()), float(tracer._albedo(view, [8, 8], sight).mean())])
print(json.dumps(found))
"""
    asked = [(color, roughness, False) for color in (0.05, linear(0.5), 0.8) for roughness in (0.2, 0.5, 0.95)]
    asked += [(linear(0.5), 0.5, True), (0.8, 0.95, True)]
    command = [sys.executable, "-c", code, str(pictures.RENDERER.parent), json.dumps(asked)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    assert linear(0.5) == pytest.approx(0.214, abs=5e-4)
    for (color, roughness, _), (light, albedo) in zip(asked, json.loads(done.stdout), strict=True):
        sheen = 0.04 if roughness < 0.8 else 0.0
        assert light == pytest.approx(color + sheen, rel=0.06, abs=0.01), (color, roughness)
        assert albedo == pytest.approx(color, rel=2e-3)


def test_exposure_makes_best_lit_white_nearly_white_and_keeps_gray_gray() -> None:
    """A gray of 18 % lit like white comes out at its own sRGB value, 118 of 255 (IEC 61966-2-1), or a bit above."""
    for strength in (0.1, 1.0, 20.0):
        albedo = np.full((10, 10, 3), 0.18, np.float32)
        albedo[:, 5:] = 1.0
        light = albedo * np.float32(strength)
        shown = exposed(light, scale_of([brightness(light, albedo, np.ones((10, 10), bool))]))
        assert 110 < shown[0, 0, 0] < 135
        assert 235 < shown[0, 9, 0] < 253
    dark = np.zeros((2, 2, 3), np.float32)
    assert exposed(dark, scale_of([brightness(dark, dark, np.zeros((2, 2), bool))])).max() == 0


def test_even_light_is_no_bright_light() -> None:
    """A gray of 40 % that gets the same light everywhere comes out as 34 %: 158 of 255 (IEC 61966-2-1)."""
    light = np.full((10, 10, 3), 0.4 * 7, np.float32)
    found = brightness(light, np.full_like(light, 0.36), np.ones((10, 10), bool))
    assert exposed(light, scale_of([found]))[0, 0, 0] == 158


def test_pictures_of_one_job_count_alike_in_its_exposure() -> None:
    """Beside a picture lit twice as well, four times as large: the best lit tenth of both is its best lit fifth."""
    rows = np.linspace(0.1, 1, 400, dtype=np.float32).reshape(20, 20)
    small = 0.3 * np.stack([rows] * 3, axis=2)  # a gray of 0.3
    gray, everywhere = np.full_like(small, 0.3), np.ones((20, 20), bool)
    one = brightness(small, gray, everywhere)
    large = np.repeat(np.repeat(2 * small, 2, axis=0), 2, axis=1)
    two = brightness(large, np.full_like(large, 0.3), np.ones((40, 40), bool))
    assert scale_of([one, two]) == scale_of([two, one])
    tenth, fifth = float(np.percentile(rows, 90)), float(np.percentile(2 * rows, 80))
    assert scale_of([one, two]) == pytest.approx(scale_of([one]) * tenth / fifth, rel=0.01)


def lit(strength: float) -> Floats:
    """What the exposure of a picture goes by in which white things get light of one strength."""
    light = np.full((4, 4, 3), strength, np.float32)
    return brightness(light, np.ones_like(light), np.ones((4, 4), bool))


def test_each_view_has_an_exposure_of_its_own_near_that_of_all() -> None:
    """Light of 1, 1 and 2: alone half the light asks for twice the exposure; a stop and a half is a factor of 2^1.5."""
    together = scale_of([lit(1), lit(1), lit(2)])
    own = scales_of([lit(1), lit(1), lit(2)], [0, 0, 2])
    assert own == [scale_of([lit(1)]), scale_of([lit(1)]), scale_of([lit(2)])]
    assert own[0] == pytest.approx(2 * own[2])
    assert own[2] <= together <= own[0]
    every, numbers = [lit(0.01), *[lit(1)] * 98, lit(100)], [0, *[1] * 98, 99]
    pooled, found = scale_of(every), scales_of(every, numbers)
    assert found[0] == pytest.approx(pooled * 2**1.5)
    assert found[50] == pooled
    assert found[99] == pytest.approx(pooled / 2**1.5)
    # What belongs together is exposed alike, and as if it were one picture.
    assert scales_of([lit(1), lit(2)], [5, 5]) == [scale_of([lit(1), lit(2)])] * 2


def test_a_pixel_where_a_ray_slipped_through_is_mended() -> None:
    albedo = np.full((5, 6, 3), 0.5, np.float32)
    normal = np.zeros((5, 6, 3), np.float32) + np.array([0, 0, 1], np.float32)
    hurt, bent = albedo.copy(), normal.copy()
    hurt[2, 3], bent[2, 3] = 0.3, -0.4
    np.testing.assert_allclose(mended(hurt, bent), (albedo, normal))
    # A step from light to dark is no such pixel.
    step = albedo.copy()
    step[:, 3:] = 0.1
    np.testing.assert_array_equal(mended(step, normal)[0], step)


def test_a_hairline_runs_where_two_pieces_of_a_layer_meet_and_nowhere_else() -> None:
    """Bodies 1 and 2 are of one layer, 3 is of another, 4 stands round them; 2 also stands far behind 1."""
    body = np.array([[1, 1, 2, 2, 3, 4], [1, 1, 2, 2, 3, 4], [1, 2, 2, 2, 3, 4]], np.int32)
    depth = np.full(body.shape, 1000.0, np.float32)
    layers = np.array([-1, 0, 0, 1, -1])
    normal = np.zeros((*body.shape, 3), np.float32)
    found = seams(Sight(body, normal, depth, 0.001), layers)
    expected = np.zeros(body.shape, bool)
    expected[0, 1] = expected[1, 1] = expected[2, 0] = True
    np.testing.assert_array_equal(found, expected)
    far = depth + 50.0 * (body == 2).astype(np.float32)
    assert not seams(Sight(body, normal, far, 0.001), layers).any()


def test_a_hairline_has_soft_edges_and_is_never_more_than_whole() -> None:
    lines = np.zeros((9, 9), bool)
    lines[:, 4] = True
    soft = softened(lines)
    np.testing.assert_allclose(soft[4], [0, 0, 0, 0.5, 1, 0.5, 0, 0, 0])
    lines[4] = True
    assert softened(lines).max() == 1


def test_what_several_cameras_see_is_written_once(corner: Built, oak: Built, tmp_path: Path) -> None:
    def written(views: list[StillView]) -> dict[str, Any]:
        pictures._write(tmp_path / "job.npz", views, "quick")
        with np.load(tmp_path / "job.npz") as arrays:
            return dict(arrays)

    one, two = written([StillView(corner, NEAR)]), written([StillView(corner, NEAR)] * 2)
    assert {name for name in two if name != "job"} == {name for name in one if name != "job"}
    told = json.loads(str(two["job"]))
    assert [view["bodies"] for view in told["views"]] == [list(range(len(told["bodies"])))] * 2
    both = written([StillView(corner, NEAR), StillView(oak, NEAR), StillView(oak, NEAR, TINY)])
    told = json.loads(str(both["job"]))
    assert len(told["textures"]) == 1
    assert [body["texture"] for body in told["bodies"]] == [None] * 4 + [0, 0, None, None]
    assert both["tones0"].dtype == np.uint8
    assert set(job.EFFORTS) == {"final", "quick"}
