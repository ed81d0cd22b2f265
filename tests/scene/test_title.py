"""The [job] and the [[picture]]s of a scene: what is read, and that neither changes what is built."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from pathlib import Path

import pytest

from preview.build import build, refinished
from preview.errors import PreviewError
from preview.scene import JobDetails, Viewpoint, load_scene, title, viewpoint
from scene_sample import MEMBER, PROFILE, RUN, TOP, scene

SCENES = Path(__file__).parents[2] / "scenes"
JOB = """
[job]
client = "R. and M. Oduya"
place = "14 Quay Lane, reading room"
number = "1187"
drawn_by = "L. Brandt"
revision = "B"
date = 2026-11-29
species = "poplar, paint grade"
includes = ["Supply of the base", "Fitting"]
excludes = ["Painting on site"]
notes = ["Measured again before cutting"]
brand = "shop/shop.toml"
paper = "a4"
"""
PICTURES = """
[[picture]]
name = "From the door"
eye = [60, "-6' 8", "62 in"]
target = [30, 0, "100 mm"]
across = "22 1/2"

[[picture]]
name = "Left pier, kneeling"
corner = 2
height = "knee"

[[picture]]
name = "Ende ½"
view = "end"
"""


def test_a_whole_job() -> None:
    assert scene(more=JOB, path=Path("jobs/pantry.toml")).job == JobDetails(
        client="R. and M. Oduya",
        place="14 Quay Lane, reading room",
        number="1187",
        drawn_by="L. Brandt",
        revision="B",
        date="2026-11-29",
        species="poplar, paint grade",
        notes=("Measured again before cutting",),
        includes=("Supply of the base", "Fitting"),
        excludes=("Painting on site",),
        brand=Path("jobs/shop/shop.toml"),
        paper="a4",
    )
    assert set(title.KEYS) == {field.name for field in fields(JobDetails)}
    assert all(f"\n{key} = " in JOB for key in title.KEYS)


def test_what_a_job_leaves_out() -> None:
    bare = JobDetails()
    assert scene().job == scene(more="[job]\n").job == bare
    assert {getattr(bare, field.name) for field in fields(bare)} == {"", (), None}
    assert scene().pictures == ()


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("2026-11-29", "2026-11-29"),
        ("0900-01-02", "0900-01-02"),
        ('"29 November 2026"', "29 November 2026"),
        ('"11/29/26, for talking over"', "11/29/26, for talking over"),
    ],
)
def test_dates(written: str, read: str) -> None:
    assert scene(more=f"[job]\ndate = {written}\n").job.date == read


def test_as_long_as_may_be() -> None:
    lines = ", ".join(['"' + "x" * 500 + '"'] * 40)
    text = f'[job]\nclient = "{"c" * 200}"\nnumber = "{"n" * 60}"\nnotes = [{lines}]\n'
    job = scene(more=text).job
    assert (len(job.client), len(job.number), len(job.notes), {len(note) for note in job.notes}) == (200, 60, 40, {500})


def test_the_brand_is_not_needed_to_read_or_approve_a_scene(tmp_path: Path) -> None:
    """An approval record holds the scene's files, from which the model is built again without the shop's papers."""
    path = tmp_path / "pantry.toml"
    path.write_text(TOP + PROFILE + MEMBER + RUN + "steps = [{ straight = 60 }]\n" + '[job]\nbrand = "gone.toml"\n')
    made = load_scene(path)
    assert made.job.brand == tmp_path / "gone.toml"
    assert made.files == (path,)


def test_pictures_of_every_kind() -> None:
    door, pier, end = scene(more=PICTURES).pictures
    assert door.eye == pytest.approx((1524.0, -2032.0, 1574.8), rel=1e-15)
    assert door.target == pytest.approx((762.0, 0.0, 100.0), rel=1e-15)
    assert door.across == pytest.approx(math.pi / 8, rel=1e-15)
    assert (door.name, door.corner, door.height, door.view) == ("From the door", None, None, None)
    assert pier == Viewpoint("Left pier, kneeling", corner=2, height="knee", view="corner")
    assert end == Viewpoint("Ende ½", view="end")
    assert pier.across == end.across == pytest.approx(math.radians(34), rel=1e-15)


def test_options_side_by_side_where_there_are_options() -> None:
    option = '[[option]]\nname = "thin"\nchanges = [{ member = "base", out = 1 }]\n'
    picture = '[[picture]]\nname = "Both"\nview = "options"\n'
    made = scene(more=picture + option)
    assert made.pictures == (Viewpoint("Both", view="options"),)
    assert [each.scene.pictures for each in made.variants] == [made.pictures] * 2


def test_the_limits_themselves_are_allowed() -> None:
    text = '[[picture]]\nname = "{0}"\neye = [0, -90, 60]\ntarget = [0, 0, 4]\nacross = {0}\n'
    wide = scene(more=text.format("10") + text.format("100.0")).pictures
    assert [each.across for each in wide] == [math.radians(10), math.radians(100)]
    many = "".join(f'[[picture]]\nname = "{i}"\nview = "whole"\n' for i in range(24))
    assert len(scene(more=many).pictures) == viewpoint.MOST_PICTURES == 24


@pytest.mark.parametrize(
    ("target", "is_straight"),
    [
        ("[30, 0, 4]", True),
        ("[31, 0, 4]", True),  # 1 in aside in 92: 89.4 degrees down
        ("[31.7, 0, 4]", False),  # 88.9 degrees
        ("[30, 1.7, 188]", False),
        ("[30, 1, 188]", True),
    ],
)
def test_how_steep_is_too_steep(target: str, is_straight: bool) -> None:
    more = f'[[picture]]\nname = "x"\neye = [30, 0, 96]\ntarget = {target}\n'
    if not is_straight:
        assert len(scene(more=more).pictures) == 1
        return
    with pytest.raises(PreviewError, match=r"straight (above|below) the eye"):
        scene(more=more)


def test_mistakes_are_told_once_beside_the_mistakes_of_options() -> None:
    """Every variant reads the whole scene again; what is wrong with the job is told for the scene alone."""
    option = '[[option]]\nname = "thin"\nchanges = [{ member = "base", out = "x" }]\n'
    wrong = '[job]\nnumber = 5\n[[picture]]\nname = "Both"\n'
    with pytest.raises(PreviewError) as caught:
        scene(more=wrong + option)
    places = [problem.place for problem in caught.value.problems]
    assert places == ["[job], number", 'picture "Both"', 'option "thin", change 1, out']


# Nothing that is built comes from them.


def test_job_and_pictures_never_enter_the_digest_nor_the_checks() -> None:
    bare = build(scene())
    told = build(scene(more=JOB + PICTURES))
    assert told.digest == bare.digest
    assert (told.pieces, told.joints, told.volumes) == (bare.pieces, bare.joints, bare.volumes)
    deeper = build(scene(member=MEMBER + "out = 1\n", more=JOB + PICTURES))
    assert deeper.digest != bare.digest


def test_a_scene_that_differs_in_them_alone_is_not_built_again() -> None:
    bare, told = scene(), scene(more=JOB + PICTURES)
    assert bare != told
    again = refinished(build(bare), told)
    assert again is not None
    assert again.scene is told
    assert refinished(build(bare), replace(told, chord=0.1)) is None


def test_every_variant_has_the_job_and_the_pictures_of_the_scene() -> None:
    seat = load_scene(SCENES / "window-seat.toml")
    assert len(seat.variants) == 8
    assert {each.scene.job for each in seat.variants} == {seat.job}
    assert {each.scene.pictures for each in seat.variants} == {seat.pictures}


def test_the_demo_tells_a_whole_job() -> None:
    job = load_scene(SCENES / "window-seat.toml").job
    assert all(getattr(job, key) for key in title.KEYS)
    assert any("measured again before" in note for note in job.notes)
