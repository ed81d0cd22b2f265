"""File names from piece names: whatever a person writes, a name that every disk takes."""

from __future__ import annotations

import re
from pathlib import PurePosixPath, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from export_jobs import NASTY, jobs
from preview.exports import file_names

SAFE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*\.stl")


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("bench front / base / 3 curve", "bench-front-base-3-curve.stl"),
        (NASTY, "a-b-q-x.stl"),
        ("../../etc/passwd", "etc-passwd.stl"),
        ("C:\\wall\0\n", "c-wall.stl"),
        (".hidden", "hidden.stl"),
        ("Straße é", "strasse-e.stl"),
        ('1½" by ¾"', "1-1-2-by-3-4.stl"),
        ("Βάση / 1 straight", "1-straight.stl"),
        ("", "piece.stl"),
        ("NUL", "nul-piece.stl"),
        ("Com1", "com1-piece.stl"),
    ],
)
def test_names_by_hand(name: str, file: str) -> None:
    assert file_names([name], ".stl") == [file]


def test_alike_names_get_numbers() -> None:
    assert file_names(["a", "A", "a 2", "a-2", "á"], ".stl") == [
        "a.stl",
        "a-2.stl",
        "a-2-2.stl",
        "a-2-3.stl",
        "a-3.stl",
    ]


def test_a_long_name_keeps_its_ends() -> None:
    first, second = file_names([f"wall {'x' * 300} / base / 3 curve"] * 2, ".stl")
    assert (len(first), len(second)) == (100, 100)
    assert first.startswith("wall-xxx")
    assert first.endswith("-base-3-curve.stl")
    assert second.endswith("-base-3-curve-2.stl")


@given(st.lists(st.text(max_size=110) | st.sampled_from(["a", "A", "a-2", "x" * 97, "x" * 98]), max_size=8))
def test_any_names_make_safe_and_different_ones(names: list[str]) -> None:
    files = file_names(names, ".stl")
    assert len(set(files)) == len(names)
    for file in files:
        assert SAFE.fullmatch(file), file
        assert len(file) <= 100
        assert PurePosixPath(file).name == PureWindowsPath(file).name == file
        assert not PureWindowsPath(file).is_reserved()
    assert file_names(names, ".stl") == files


def test_a_scene_s_pieces() -> None:
    names = [mesh.piece.name for mesh in jobs()["nasty names"].meshes()]
    files = file_names(names, ".stl")
    assert len(set(files)) == len(names)
    assert "bench-front-sooe-1-straight.stl" in files
