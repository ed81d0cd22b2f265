"""Stills chosen: what is in the picture by plain projection, where the eye stands, and what stands in its way.

Counts of distinct corners are made by hand from the scenes' files. What hides what is asked of rays against triangles
by T. Möller and B. Trumbore, J. Graphics Tools 2 (1997) 21, not of the code that chose.
"""

from __future__ import annotations

import dataclasses
import functools
import math
import re
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from preview.build import Built
from preview.client.stills import Frame, Still, stills_of, telling
from preview.client.stills.pictures import SIZE
from preview.client.stills.standing import HEIGHTS, setting_of, subject_of
from preview.errors import PreviewError
from preview.jobs import wanted_stills
from preview.models.mesh import mesh_surroundings
from preview.review import build_every
from preview.scene import Scene, Viewpoint, load_scene
from preview.vantage import Camera, aimed, corners_of, job_of, joint_places

Floats = NDArray[np.float64]

ROOT = Path(__file__).parent.parent.parent
SCENES = sorted((ROOT / "scenes").glob("*.toml"))
every_scene = pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)


@functools.cache
def made(path: Path) -> tuple[Scene, tuple[Built, ...], tuple[Still, ...]]:
    scene = load_scene(path)
    builts = build_every(scene)
    return scene, builts, stills_of(scene, builts)


def scene_of(stem: str) -> tuple[Scene, tuple[Built, ...], tuple[Still, ...]]:
    return made(ROOT / "scenes" / f"{stem}.toml")


def chosen(path: Path) -> list[Still]:
    """The stills that the tool chose itself."""
    scene, _, stills = made(path)
    return list(stills[len(scene.pictures) :])


def around(built: Built, walls: bool = True) -> Floats:
    """The triangles (t, 3, 3) of what stands round the molding; or but those of the walls behind runs."""
    scene = built.scene
    meshes = mesh_surroundings(scene.surroundings, scene.runs, scene.chord)
    mine = [mesh.points[mesh.triangles] for mesh in meshes if walls or mesh.kind != "wall"]
    return np.concatenate([np.zeros((0, 3, 3)), *mine])


def crossed(starts: Floats, ways: Floats, triangles: Floats) -> tuple[Floats, Floats]:
    """How many triangles (t, 3, 3) each segment (n, 3) from its start along its whole way crosses: seen from their
    outsides, and from their backs."""
    one, other = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    front, back = np.zeros(len(starts)), np.zeros(len(starts))
    for i, (start, way) in enumerate(zip(starts, ways, strict=True)):
        across = np.cross(way, other)
        det = (one * across).sum(axis=1)
        safe = np.where(np.abs(det) < 1e-9, np.inf, det)
        away = start - triangles[:, 0]
        turn = np.cross(away, one)
        u, v, t = ((a * b).sum(axis=1) / safe for a, b in ((away, across), (way[None], turn), (other, turn)))
        hit = (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 1e-6) & (t < 1 - 1e-6) & np.isfinite(safe)
        front[i], back[i] = (hit & (det > 0)).sum(), (hit & (det < 0)).sum()
    return front, back


def floor_of(built: Built) -> float:
    return min((thing.top for thing in built.scene.surroundings if thing.kind == "floor"), default=0.0)


@every_scene
def test_keys_are_names_of_files_and_each_has_its_own(path: Path) -> None:
    scene, builts, stills = made(path)
    keys = [still.key for still in stills]
    assert len(set(keys)) == len(keys)
    assert all(key == key.lower() and key.replace("-", "").isalnum() for key in keys)
    assert all(still.name and still.words.endswith(".") for still in stills)
    assert all(0 <= frame.variant < len(builts) for still in stills for frame in still.frames)
    assert [still.name for still in stills[: len(scene.pictures)]] == [view.name for view in scene.pictures]
    assert chosen(path)[0].key == "whole"


@every_scene
def test_the_eye_is_above_the_floor_inside_nothing_and_on_the_room_side_of_walls(path: Path) -> None:
    """A way up from the eye leaves as many bodies as it enters. The way to the molding that is nearest to what is
    looked at passes through the back of nothing; of the whole, most ways do not."""
    _, builts, _ = made(path)
    bodies = around(builts[0], walls=False)
    everything = around(builts[0])
    molding = np.concatenate([mesh.points for mesh in builts[0].meshes])
    for still in chosen(path):
        eye, target = np.array(still.frames[0].camera.eye), np.array(still.frames[0].camera.target)
        assert eye[2] > floor_of(builts[0]) + 50, still.key
        enters, leaves = crossed(eye[None], np.array([[1.0, 2.0, 1e5]]), bodies)
        assert enters == leaves, still.key
        places = molding[:: len(molding) // 40 + 1]
        if still.key != "whole":
            places = molding[np.linalg.norm(molding - target, axis=1).argmin()][None]
        _, from_behind = crossed(np.repeat(eye[None], len(places), axis=0), places - eye, everything)
        assert (from_behind > 0).mean() <= 0.5 * (still.key == "whole"), still.key


@every_scene
def test_the_whole_is_all_in_the_picture(path: Path) -> None:
    _, builts, _ = made(path)
    camera = chosen(path)[0].frames[0].camera
    points = np.concatenate([mesh.points for mesh in builts[0].meshes])
    seen = camera.project(points, SIZE)
    inside = ((seen >= 0) & (seen <= SIZE)).all(axis=1)
    if chosen(path)[0].name == "The room from inside":
        assert builts[0].scene.path.stem == "six-sided-room"
        assert 0.4 < inside.mean() < 1.0
        assert camera.eye[2] in HEIGHTS.values()
    else:
        assert inside.all()


@every_scene
def test_corners_are_seen_at_the_heights_of_eye_and_knee_with_nothing_before_them(path: Path) -> None:
    """The eye stands 1575 or 500 mm above the floor. The corner and what runs on beside it lie inside the picture; most
    of the points of its pieces that face the eye have nothing before them."""
    _, builts, _ = made(path)
    built = builts[0]
    setting = setting_of(built)
    corners = corners_of(setting.job, joint_places(setting.job))
    pieces = [mesh.points[mesh.triangles] for mesh in built.meshes]
    everything = np.concatenate([*pieces, around(built)])
    numbers: dict[int, set[str]] = {}
    for still in chosen(path):
        if not still.key.startswith("corner-"):
            continue
        _, number, height = still.key.split("-")
        numbers.setdefault(int(number), set()).add(height)
        camera = still.frames[0].camera
        assert camera.eye[2] == pytest.approx(floor_of(built) + {"eye": 1575.0, "knee": 500.0}[height])
        assert math.radians(2) < camera.across < math.radians(41)
        corner = corners[int(number) - 1]
        subject = subject_of(setting, corner)
        places = camera.project(np.concatenate([subject.points, [corner.spot.target]]), SIZE)
        assert ((places >= 0) & (places <= SIZE)).all()
        assert re.match(rf"(Corner|Block) {number}\b", still.name)
        assert (np.ptp(places, axis=0) / SIZE).max() > 0.5  # it fills the picture one way, or most of it
        if height == "knee" and corner.spot.target[2] > 600:
            continue
        way = np.array(camera.eye) - subject.places
        turned = (way * subject.facing).sum(axis=1) > 0.15 * np.linalg.norm(way, axis=1)
        front, back = crossed(subject.places[turned], way[turned], everything)
        assert ((front + back) > 0).mean() < 0.35, still.key
    assert numbers


@pytest.mark.parametrize(
    ("stem", "numbers"),
    [
        # turned on the piers (1, 8); inside at piers and seat (2, 3, 6, 7); outside on the seat (4, 5)
        ("window-seat", [{1, 8}, {2, 3, 6, 7}, {4, 5}]),
        # four corners alike
        ("column", [{1, 2, 3, 4}]),
        # outside 135 twice, inside 133.6 and 136.2: within 3 degrees of each other
        ("bay", [{1, 4}, {2, 3}]),
        # a cope, three equal turns, a corner block, a return
        ("hall", [{1}, {2, 3, 4}, {5}, {6}]),
        # six measured corners, none more than 2 degrees off another
        ("six-sided-room", [{1, 2, 3, 4, 5, 6}]),
        # two curved miters alike, a bow of radius 36 in, a half round of 11 in
        ("bar-front", [{1, 3}, {2}, {4}]),
    ],
)
def test_each_kind_of_corner_is_shown_once(stem: str, numbers: list[set[int]]) -> None:
    found = {int(still.key.split("-")[1]) for still in scene_of(stem)[2] if still.key.startswith("corner-")}
    assert len(found) == len(numbers)
    assert all(len(found & alike) == 1 for alike in numbers)


def test_the_window_seat_in_four_pictures() -> None:
    scene, builts, _ = scene_of("window-seat")
    bare = dataclasses.replace(scene, pictures=())
    plain = (dataclasses.replace(builts[0], scene=bare), *builts[1:])
    found = telling(stills_of(bare, plain), 4)
    assert [still.key for still in found] == ["whole", found[1].key, found[2].key, "options"]
    assert found[1].key in ("corner-1-knee", "corner-8-knee")
    assert "turned" in found[1].name
    assert found[2].key in ("corner-4-knee", "corner-5-knee")
    assert "mitered, outside (seat, middle)" in found[2].name


def test_options_stand_side_by_side_from_one_camera_changed_one_at_a_time() -> None:
    scene, builts, stills = scene_of("window-seat")
    options = next(still for still in stills if still.key == "options")
    picks = [variant.picks for variant in scene.variants]
    assert [picks[frame.variant] for frame in options.frames] == [(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)]
    assert [frame.caption for frame in options.frames] == [
        "as drawn: cove and bead, turned, white",
        "ogee",
        "mitered",
        "oak",
    ]
    assert len({frame.camera for frame in options.frames}) == 1
    # It looks at the corner that is turned in the first and mitered in the third.
    camera = options.frames[0].camera
    job = job_of(builts[0])
    corner = corners_of(job, joint_places(job))[0]
    np.testing.assert_allclose(camera.target, corner.spot.target, atol=60)
    for frame in options.frames:
        points = np.concatenate([mesh.points for mesh in builts[frame.variant].meshes])
        near = points[np.linalg.norm(points - corner.spot.target, axis=1) < 100]
        seen = camera.project(near, SIZE)
        assert ((seen >= 0) & (seen <= SIZE)).all()
    assert not any(still.key == "options" for still in scene_of("bay")[2])


def test_pictures_that_the_scene_asks_for_come_first() -> None:
    scene, builts, _ = scene_of("window-seat")
    asked = dataclasses.replace(
        scene,
        pictures=(
            Viewpoint("From the door", (100.0, -2000.0, 1500.0), (1000.0, 0.0, 100.0), math.radians(40)),
            Viewpoint("Left pier", corner=1, height="knee", view="corner"),
            Viewpoint("All of it", view="whole"),
            Viewpoint("Side by side", view="options"),
            Viewpoint("The end", view="end"),
            Viewpoint("Whole", view="whole"),
        ),
    )
    stills = stills_of(asked, (dataclasses.replace(builts[0], scene=asked), *builts[1:]))
    assert [still.key for still in stills[:6]] == [
        "from-the-door",
        "left-pier",
        "all-of-it",
        "side-by-side",
        "the-end",
        "whole",
    ]
    first = stills[0].frames[0].camera
    assert (first.eye, first.target, first.across) == (
        (100.0, -2000.0, 1500.0),
        (1000.0, 0.0, 100.0),
        math.radians(40),
    )
    # What is asked for is not shown again under another name.
    frames = [still.frames for still in stills[6:]]
    assert all(still.frames not in frames for still in stills[:6])
    # Of a few, one shows the options that the client has to choose from; they move no further forward than needed.
    assert telling(stills, 3) == (stills[0], stills[1], stills[3])
    assert telling(stills, 4) == stills[:4]
    assert telling(stills, 1) == stills[:1]


def still(key: str, frames: int = 1) -> Still:
    camera = Camera((0.0, -1000.0, 500.0), (0.0, 0.0, 100.0))
    return Still(key, key.title(), tuple(Frame(i, camera) for i in range(frames)), f"{key.title()}.")


@pytest.mark.parametrize(
    ("keys", "count", "kept"),
    [
        ("whole corner-1 corner-2 options end", 4, "whole corner-1 corner-2 options"),
        ("whole corner-1 options end", 4, "whole corner-1 options end"),
        ("given whole corner-1 corner-2 options end", 4, "given whole corner-1 options"),
        ("given more whole corner-1 corner-2 options", 4, "given more whole options"),
        ("one two three four five options whole", 4, "one two three options"),
        ("options given whole corner-1 corner-2", 4, "options given whole corner-1"),
        ("given whole options", 1, "given"),
        ("given whole corner-1 corner-2 end", 4, "given whole corner-1 corner-2"),
        ("whole options", 4, "whole options"),
    ],
)
def test_options_keep_their_place_or_come_last(keys: str, count: int, kept: str) -> None:
    stills = tuple(still(key, 3 if key == "options" else 1) for key in keys.split())
    assert [each.key for each in telling(stills, count)] == kept.split()


def test_a_name_that_is_there_already_gets_a_number_and_either_finds_its_still() -> None:
    scene, builts, _ = scene_of("column")
    views = (
        Viewpoint("Corner", corner=1, view="corner"),
        Viewpoint("corner", corner=2, view="corner"),
        Viewpoint("Whole", view="whole"),
        Viewpoint("Options", corner=3, view="corner"),
    )
    asked = dataclasses.replace(scene, pictures=views)
    stills = stills_of(asked, (dataclasses.replace(builts[0], scene=asked), *builts[1:]))
    assert [(each.key, each.name) for each in stills[:4]] == [
        ("corner", "Corner"),
        ("corner-2", "corner 2"),
        ("whole", "Whole"),
        ("options", "Options"),
    ]
    # The tool's own picture of the options gives way to the scene's name; that of the whole is the scene's.
    assert [each.key for each in stills[4:] if len(each.frames) > 1] == ["options-2"]
    assert "whole-2" not in {each.key for each in stills}
    for each in stills:
        assert wanted_stills(stills, [each.key.upper()]) == wanted_stills(stills, [each.name]) == [each]


def test_a_corner_that_is_not_there_is_named_with_those_that_are() -> None:
    scene, builts, _ = scene_of("column")
    asked = dataclasses.replace(scene, pictures=(Viewpoint("The back", corner=9, view="corner"),))
    with pytest.raises(PreviewError) as found:
        stills_of(asked, (dataclasses.replace(builts[0], scene=asked), *builts[1:]))
    told = str(found.value)
    assert 'column.toml: picture "The back", corner = 9' in told
    assert "4 corners" in told
    assert "Corner 4: turned, outside (column)" in told
    assert "1 to 4" in told


def test_an_end_that_cannot_be_seen_is_refused() -> None:
    scene, builts, stills = scene_of("column")
    assert not any(still.key.startswith("end") for still in stills)
    asked = dataclasses.replace(scene, pictures=(Viewpoint("End", view="end"),))
    with pytest.raises(PreviewError, match="no run has an end"):
        stills_of(asked, (dataclasses.replace(builts[0], scene=asked), *builts[1:]))


def test_an_end_is_seen_from_beyond_it_and_from_the_room() -> None:
    """The seat's run starts at (0, 0) with travel along x and the room at y < 0: before it is x < 0."""
    end = next(still for still in scene_of("window-seat")[2] if still.key == "end-seat")
    x, y, z = end.frames[0].camera.eye
    assert x < 0
    assert y < 0
    assert z > 102  # above the base, which is 4 in high
    assert abs(x) > abs(y)


def test_a_crown_is_looked_up_at() -> None:
    for stem in ("cornice", "six-sided-room"):
        for still in scene_of(stem)[2]:
            camera = still.frames[0].camera
            assert camera.eye[2] < camera.target[2], (stem, still.key)


@pytest.mark.parametrize("stem", ["column", "hall"])
def test_the_same_scene_gives_the_same_cameras_again(stem: str) -> None:
    scene, builts, stills = scene_of(stem)
    assert stills_of(scene, builts) == stills


@pytest.mark.parametrize(
    ("stem", "once", "twice"),
    [
        ("stair-wall", {5}, {1, 2, 4}),  # 5 is high up the stair: from far off both eyes look up along one line
        ("cornice", {2}, {1}),
        ("stair-hall", {1, 2}, {3}),
    ],
)
def test_two_heights_that_give_nearly_one_picture_are_shown_once(stem: str, once: set[int], twice: set[int]) -> None:
    ways: dict[int, list[Floats]] = {}
    for still in chosen(ROOT / "scenes" / f"{stem}.toml"):
        if still.key.startswith("corner-"):
            camera = still.frames[0].camera
            way = np.subtract(camera.eye, camera.target)
            ways.setdefault(int(still.key.split("-")[1]), []).append(way / np.linalg.norm(way))
    assert {number for number, mine in ways.items() if len(mine) == 1} == once
    assert {number for number, mine in ways.items() if len(mine) == 2} == twice
    for number in twice:
        one, other = ways[number]
        assert math.degrees(math.acos(one @ other)) > 2


def test_the_whole_is_not_taken_from_where_walls_hide_its_corners() -> None:
    """A corner is in sight if a place just before the middle of its face is, by rays against triangles. From 30
    degrees aside, where the molding fills the picture best, piers and steps hide more of the seat's eight."""
    _, builts, stills = scene_of("window-seat")
    job = job_of(builts[0])
    spots = [corner.spot for corner in corners_of(job, joint_places(job))]
    places = np.array([spot.target + 2.0 * spot.room for spot in spots])
    everything = np.concatenate([mesh.points[mesh.triangles] for mesh in builts[0].meshes] + [around(builts[0])])

    def in_sight(eye: Floats) -> int:
        front, back = crossed(places, eye - places, everything)
        return int(((front + back) == 0).sum())

    camera = next(still for still in stills if still.key == "whole").frames[0].camera
    far = math.dist(camera.eye[:2], camera.target[:2])
    middle = (places.min(axis=0) + places.max(axis=0)) / 2
    others = [
        np.array([middle[0] + far * math.sin(turn), middle[1] - far * math.cos(turn), camera.eye[2]])
        for turn in np.radians([-30, 30])
    ]
    assert len(spots) == 8
    assert in_sight(np.array(camera.eye)) >= 7 > max(in_sight(eye) for eye in others)


def test_aiming_fits_points_to_the_picture() -> None:
    """Two points as far left as right of a line of sight, by hand: 45 degrees each way less the margin of 7 %."""
    points = np.array([(-10.0, 10.0, 0.0), (10.0, 10.0, 0.0)])
    camera = aimed(np.zeros(3), points, (160, 100))
    np.testing.assert_allclose(camera.target, (0.0, 10.0, 0.0), atol=1e-9)
    assert math.tan(camera.across / 2) == pytest.approx(1 / 0.93)
    assert aimed(np.zeros(3), points / [10, 1, 1], (160, 100), math.radians(30)).across == math.radians(30)
