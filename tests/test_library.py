"""The package as a library: the example in its heading, and each thing that a model is asked for."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import trimesh

import preview
from preview import library
from preview.errors import PreviewError
from preview.library import Model
from preview.runs import BEVELS

SEAT = Path(__file__).parent.parent / "scenes" / "window-seat.toml"


@pytest.fixture(scope="module")
def seat() -> Model:
    return preview.load(SEAT)


def test_the_example_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "scenes").symlink_to(SEAT.parent)
    (tmp_path / "profiles").symlink_to(SEAT.parent.parent / "profiles")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(BEVELS, "_entered", dict(BEVELS))  # where the example enters an end
    assert library.__doc__
    example = "\n".join(re.findall(r"(?m)^    (.*)$|^$", library.__doc__))
    exec(compile(example, "example", "exec"), {})
    assert "clipped" in BEVELS
    assert len(capsys.readouterr().out.splitlines()) == 11
    written = {path.name for path in (tmp_path / "out").rglob("*.*")}
    assert written == {"report.json", "window-seat.glb", "window-seat.usdz"}


def test_pieces_and_joints(seat: Model) -> None:
    # 44 1/2 in is the middle: 42 in on the wall and a quarter turn's miter of 1 1/4 in at both ends.
    longest = max(seat.pieces, key=lambda piece: piece.overall)
    assert (longest.name, longest.overall) == ("seat / base / 6 straight", pytest.approx(44.5 * 25.4))
    assert len(seat.joints) == 12
    assert seat.joints[1].pieces == ("seat / base / 1 straight", "seat / base / 2 curve")
    assert [joint.corner for joint in seat.joints if joint.corner is not None] == pytest.approx([90.0] * 6)
    assert seat.joints[0].corner is None
    assert repr(seat) == f"Window seat between stone piers, reading room: 11 pieces, model {seat.code}"


def test_meshes_are_closed_and_of_the_solids_volume(seat: Model) -> None:
    whole = seat.mesh()
    other = trimesh.Trimesh(whole.points, whole.triangles, process=False)
    assert other.is_watertight
    assert other.volume == pytest.approx(sum(mesh.volume for mesh in seat.built.meshes), rel=1e-9)
    one = seat.mesh("seat / base / 6 straight")
    assert np.ptp(one.points[:, 0]) == pytest.approx(44.5 * 25.4)
    assert seat.solid("seat / base / 6 straight").Volume() == pytest.approx(seat.built.volumes[5], rel=1e-9)
    assert seat.solid().Volume() == pytest.approx(sum(seat.built.volumes), rel=1e-9)


def test_options_and_the_shop(seat: Model) -> None:
    mitered = seat.option("mitered")
    assert len(mitered.pieces) == 9
    assert mitered.digest != seat.digest
    assert seat.shop().holds


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda seat: seat.mesh("seat / base / 6 strait"), "did you mean seat / base / 6 straight?"),
        (lambda seat: seat.export("out", "gbl"), "did you mean glb?"),
        (lambda seat: seat.option("round"), "round"),
        (lambda _: preview.load("missing.toml"), "missing.toml"),
    ],
)
def test_mistakes_are_told(seat: Model, ask: object, told: str) -> None:
    assert callable(ask)
    with pytest.raises(PreviewError, match=re.escape(told)):
        ask(seat)
    with pytest.raises(AttributeError, match="no attribute 'lode'"):
        preview.lode  # noqa: B018
