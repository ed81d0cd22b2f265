"""A file on the disk, edited: written whole or not at all, conflicts told, nothing lost, everything undone."""

from __future__ import annotations

import hashlib
import os
import stat
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from edited_scenes import RUN, SHIPPED, START, is_accepted
from preview.editing import MOST_UNDONE, Conflict, Desk, fields
from preview.errors import PreviewError

TEXT = START + RUN
STRAIGHT = "/run/0/steps/0/straight"
OUT = "/member/base/out"


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    path = tmp_path / "pantry.toml"
    path.write_bytes(TEXT.encode())
    return path


def only_the_scene(scene: Path) -> bool:
    """Whether nothing is left beside it."""
    return [path.name for path in scene.parent.iterdir()] == [scene.name]


def test_version_and_fields_are_those_of_the_file(scene: Path) -> None:
    desk = Desk(scene)
    assert desk.version() == sha(scene.read_bytes())
    assert desk.fields() == fields(TEXT, scene)
    sheet = desk.sheet()
    assert (sheet.version, sheet.undo, sheet.fields) == (desk.version(), 0, desk.fields())


def test_an_edit_is_written_and_undone(scene: Path) -> None:
    desk = Desk(scene)
    first = desk.version()
    second = desk.edit(first, STRAIGHT, "61")
    assert scene.read_bytes() == TEXT.replace("straight = 60", "straight = 61").encode()
    assert second == desk.version() == sha(scene.read_bytes())
    third = desk.edit(second, OUT, 12.7)
    assert b"out = 0.5\n" in scene.read_bytes()
    assert desk.sheet().undo == 2
    assert desk.undo(third) == second
    assert desk.undo(second) == first
    assert scene.read_bytes() == TEXT.encode()
    assert desk.sheet().undo == 0
    with pytest.raises(PreviewError, match="there is nothing to undo"):
        desk.undo(first)
    assert only_the_scene(scene)


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "byte order mark"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("end", ["", "\n", "\n\n"])
def test_marks_line_ends_and_the_end_of_the_file_stay(scene: Path, mark: bytes, newline: str, end: str) -> None:
    data = mark + (TEXT.strip() + end).replace("\n", newline).encode()
    scene.write_bytes(data)
    desk = Desk(scene)
    changed = desk.edit(desk.version(), STRAIGHT, "61")
    assert scene.read_bytes() == data.replace(b"straight = 60", b"straight = 61")
    desk.undo(changed)
    assert scene.read_bytes() == data


def test_a_slider_does_not_run_away_from_the_hand(scene: Path) -> None:
    """60 in is 1524 mm: half of it is 762, one and a half of it 2286; of 70 in, 889 and 2667."""

    def ends() -> tuple[float | None, float | None]:
        field = next(field for field in desk.fields() if field.id == STRAIGHT)
        return field.low, field.high

    desk = Desk(scene)
    assert ends() == (762.0, 2286.0)
    version = desk.edit(desk.version(), STRAIGHT, 1778.0)
    assert ends() == (762.0, 2286.0)
    desk.undo(version)
    assert ends() == (762.0, 2286.0)
    # At its end, or in other steps, or after a change from outside, there is a new one.
    desk.edit(desk.version(), STRAIGHT, 2286.0)
    assert ends() == (1143.0, 3429.0)
    desk.edit(desk.version(), STRAIGHT, "2000 mm")
    assert ends() == (1000.0, 3000.0)
    scene.write_bytes(TEXT.encode())
    assert ends() == (762.0, 2286.0)
    scene.write_bytes(TEXT.replace("straight = 60", "straight = 70").encode())
    assert ends() == (889.0, 2667.0)


def test_what_changes_nothing_is_not_written(scene: Path) -> None:
    desk = Desk(scene)
    before = scene.stat()
    assert desk.edit(desk.version(), STRAIGHT, "60") == desk.version()
    assert (scene.stat().st_ino, scene.stat().st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert desk.sheet().undo == 0


def test_what_is_refused_is_not_written(scene: Path) -> None:
    desk = Desk(scene)
    before = scene.stat().st_ino
    for value in ("-60", "sixty", "\ud800"):
        with pytest.raises(PreviewError) as refused:
            desk.edit(desk.version(), STRAIGHT, value)
        assert not isinstance(refused.value, Conflict)
        assert str(refused.value).startswith('pantry.toml: run "north wall", step 1, straight = ')
    assert scene.read_bytes() == TEXT.encode()
    assert scene.stat().st_ino == before
    assert only_the_scene(scene)


# Conflicts.


def test_an_edit_of_an_older_version_is_a_conflict(scene: Path) -> None:
    desk = Desk(scene)
    seen = desk.version()
    outside = TEXT.replace("Pantry", "Larder").encode()
    scene.write_bytes(outside)
    with pytest.raises(Conflict) as conflict:
        desk.edit(seen, STRAIGHT, "61")
    assert conflict.value.version == sha(outside)
    assert str(conflict.value).splitlines()[0] == "pantry.toml"
    assert "fix: nothing was written" in str(conflict.value)
    assert scene.read_bytes() == outside
    assert desk.edit(conflict.value.version, STRAIGHT, "61") == sha(scene.read_bytes())
    assert scene.read_bytes() == outside.replace(b"straight = 60", b"straight = 61")


def test_undo_does_not_touch_what_somebody_else_wrote(scene: Path) -> None:
    desk = Desk(scene)
    desk.edit(desk.version(), STRAIGHT, "61")
    ours = scene.read_bytes()
    outside = ours.replace(b"Pantry", b"Larder")
    scene.write_bytes(outside)
    assert desk.sheet().undo == 0
    for version in (sha(ours), sha(outside)):
        with pytest.raises(Conflict) as conflict:
            desk.undo(version)
        assert conflict.value.version == sha(outside)
        assert scene.read_bytes() == outside
    # An edit after it can be undone, and no further.
    last = desk.edit(sha(outside), STRAIGHT, "62")
    assert desk.sheet().undo == 1
    assert desk.undo(last) == sha(outside)
    with pytest.raises(Conflict):
        desk.undo(sha(outside))
    assert scene.read_bytes() == outside
    # Whoever else takes the change back opens the way again.
    scene.write_bytes(ours)
    assert desk.sheet().undo == 1
    desk.undo(sha(ours))
    assert scene.read_bytes() == TEXT.encode()


def test_of_two_desks_the_second_conflicts(scene: Path) -> None:
    one, two = Desk(scene), Desk(scene)
    seen = one.version()
    assert two.version() == seen
    one.edit(seen, STRAIGHT, "61")
    with pytest.raises(Conflict) as conflict:
        two.edit(seen, STRAIGHT, "62")
    assert b"straight = 61" in scene.read_bytes()
    two.edit(conflict.value.version, STRAIGHT, "62")
    with pytest.raises(Conflict):
        one.undo(one.version())
    assert b"straight = 62" in scene.read_bytes()


def test_a_change_while_the_new_file_is_being_written_is_a_conflict(
    scene: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = Desk(scene)
    seen = desk.version()
    outside = TEXT.replace("Pantry", "Larder").encode()
    honest = os.fsync

    def slow(handle: int) -> None:
        honest(handle)
        scene.write_bytes(outside)

    monkeypatch.setattr(os, "fsync", slow)
    with pytest.raises(Conflict) as conflict:
        desk.edit(seen, STRAIGHT, "61")
    assert conflict.value.version == sha(outside)
    assert scene.read_bytes() == outside
    assert desk.sheet().undo == 0
    assert only_the_scene(scene)


def test_of_many_edits_at_once_one_is_made(scene: Path) -> None:
    desk = Desk(scene)
    seen = desk.version()
    gate = threading.Barrier(8)

    def attempt(number: int) -> bool:
        gate.wait()
        try:
            desk.edit(seen, STRAIGHT, f"{61 + number}")
        except Conflict:
            return False
        return True

    with ThreadPoolExecutor(8) as pool:
        made = list(pool.map(attempt, range(8)))
    assert made.count(True) == 1
    assert f"straight = {61 + made.index(True)}".encode() in scene.read_bytes()
    assert desk.sheet().undo == 1


# Undo.


def test_only_the_last_edit_is_undone(scene: Path) -> None:
    """Where somebody else has gone back to an earlier text, the edits that led to it are not the last."""
    desk = Desk(scene)
    second = desk.edit(desk.version(), STRAIGHT, "61")
    earlier = scene.read_bytes()
    desk.edit(second, STRAIGHT, "62")
    scene.write_bytes(earlier)
    assert desk.sheet().undo == 0
    with pytest.raises(Conflict):
        desk.undo(second)
    assert scene.read_bytes() == earlier


def test_a_hundred_edits_are_remembered(scene: Path) -> None:
    desk = Desk(scene)
    version = desk.version()
    texts = [scene.read_bytes()]
    for number in range(MOST_UNDONE + 5):
        version = desk.edit(version, STRAIGHT, f"{61 + number}")
        texts.append(scene.read_bytes())
    assert desk.sheet().undo == MOST_UNDONE
    for before in reversed(texts[-MOST_UNDONE - 1 : -1]):
        version = desk.undo(version)
        assert scene.read_bytes() == before
    with pytest.raises(PreviewError, match="there is nothing to undo"):
        desk.undo(version)
    assert scene.read_bytes() == texts[5]


@settings(max_examples=25)
@given(st.sampled_from(SHIPPED), st.lists(st.tuples(st.integers(0, 10**6), st.sampled_from("euox")), max_size=8))
def test_whatever_is_done_nothing_is_lost(
    tmp_path_factory: pytest.TempPathFactory, shipped: Path, moves: list[tuple[int, str]]
) -> None:
    """Edits, undos, changes from outside and stale versions in any order, beside a list of what should be there."""
    folder = tmp_path_factory.mktemp("scenes")
    (folder / "profiles").symlink_to(shipped.parent.parent / "profiles")
    path = folder / "scenes" / shipped.name
    path.parent.mkdir()
    path.write_bytes(shipped.read_bytes())
    desk, stale = Desk(path), "0" * 64
    undoable: list[bytes] = []
    for number, move in moves:
        before = path.read_bytes()
        version = sha(before)
        if move == "e":
            field = desk.fields()[number % len(desk.fields())]
            value = f"{(field.number or 0) / 25.4 + 0.25:g}" if field.kind == "length" else field.value
            try:
                desk.edit(version, field.id, value)
            except PreviewError:
                assert path.read_bytes() == before
            if path.read_bytes() != before:
                undoable.append(before)
                assert is_accepted(path.read_bytes().decode(), path)
        elif move == "u":
            if undoable:
                desk.undo(version)
                assert path.read_bytes() == undoable.pop()
            else:
                with pytest.raises(PreviewError):
                    desk.undo(version)
                assert path.read_bytes() == before
        elif move == "o":
            path.write_bytes(before + b"# " + str(number).encode() + b"\n")
            undoable.clear()
        else:
            for call in (lambda: desk.edit(stale, desk.fields()[0].id, "1"), lambda: desk.undo(stale)):
                with pytest.raises(Conflict) as conflict:
                    call()
                assert conflict.value.version == version
            assert path.read_bytes() == before
        assert desk.sheet().undo == len(undoable)
        assert [each.name for each in path.parent.iterdir()] == [path.name]


# The disk.


@pytest.mark.skipif(os.name == "nt", reason="permissions are of another sort there")
@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755])
def test_permissions_stay(scene: Path, mode: int) -> None:
    scene.chmod(mode)
    desk = Desk(scene)
    version = desk.edit(desk.version(), STRAIGHT, "61")
    assert stat.S_IMODE(scene.stat().st_mode) == mode
    desk.undo(version)
    assert stat.S_IMODE(scene.stat().st_mode) == mode


@pytest.mark.skipif(os.name == "nt", reason="making links needs rights there")
def test_a_link_stays_a_link(scene: Path, tmp_path: Path) -> None:
    folder = tmp_path / "links"
    folder.mkdir()
    near, far = folder / "near.toml", folder / "far.toml"
    far.symlink_to(scene)
    near.symlink_to("far.toml")
    desk = Desk(near)
    version = desk.edit(desk.version(), STRAIGHT, "61")
    assert near.is_symlink()
    assert far.is_symlink()
    assert b"straight = 61" in scene.read_bytes()
    assert sorted(path.name for path in folder.iterdir()) == ["far.toml", "near.toml"]
    desk.undo(version)
    assert scene.read_bytes() == TEXT.encode()


def test_a_read_only_file_is_left_alone(scene: Path) -> None:
    scene.chmod(0o444)
    desk = Desk(scene)
    with pytest.raises(PreviewError) as refused:
        desk.edit(desk.version(), STRAIGHT, "61")
    assert str(refused.value) == (
        "pantry.toml\n  the file or its folder is read-only, so nothing was written\n"
        "  fix: allow writing there, or work on a copy of the scene"
    )
    assert scene.read_bytes() == TEXT.encode()
    assert only_the_scene(scene)


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="nothing is read-only to an administrator")
def test_a_read_only_folder_is_left_alone(scene: Path) -> None:
    scene.parent.chmod(0o555)
    try:
        desk = Desk(scene)
        with pytest.raises(PreviewError, match="read-only"):
            desk.edit(desk.version(), STRAIGHT, "61")
    finally:
        scene.parent.chmod(0o755)
    assert scene.read_bytes() == TEXT.encode()


@pytest.mark.parametrize(
    ("call", "number", "said"),
    [
        ("fsync", 28, "the disk is full"),  # ENOSPC
        ("fsync", 5, "the file cannot be written: "),  # EIO
        ("open", 30, "read-only"),  # EROFS
        ("replace", 13, "read-only"),  # EACCES
        ("replace", 16, "the file cannot be written: "),  # EBUSY
    ],
)
def test_whatever_the_disk_refuses_nothing_is_half_written(
    scene: Path, monkeypatch: pytest.MonkeyPatch, call: str, number: int, said: str
) -> None:
    desk = Desk(scene)
    seen = desk.version()
    honest = Path.open

    def refuse(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    def refuse_new(path: Path, mode: str = "r", *rest: object, **more: object) -> object:
        return refuse() if "x" in mode else honest(path, mode, *rest, **more)  # type: ignore[call-overload]

    if call == "fsync":
        monkeypatch.setattr(os, "fsync", refuse)
    elif call == "open":
        monkeypatch.setattr(Path, "open", refuse_new)
    else:
        monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(PreviewError, match=said):
        desk.edit(seen, STRAIGHT, "61")
    monkeypatch.undo()
    assert scene.read_bytes() == TEXT.encode()
    assert only_the_scene(scene)
    with pytest.raises(PreviewError, match="there is nothing to undo"):
        desk.undo(seen)
    desk.edit(seen, STRAIGHT, "61")


def test_an_undo_that_cannot_be_written_can_be_tried_again(scene: Path) -> None:
    desk = Desk(scene)
    version = desk.edit(desk.version(), STRAIGHT, "61")
    scene.chmod(0o444)
    with pytest.raises(PreviewError, match="read-only"):
        desk.undo(version)
    scene.chmod(0o644)
    assert desk.sheet().undo == 1
    desk.undo(version)
    assert scene.read_bytes() == TEXT.encode()


def test_a_file_that_is_gone_is_told_as_every_verb_tells_it(scene: Path) -> None:
    desk = Desk(scene)
    version = desk.edit(desk.version(), STRAIGHT, "61")
    scene.rename(scene.with_name("pantri.toml"))
    for call in (
        desk.version,
        desk.fields,
        lambda: desk.edit(version, STRAIGHT, "62"),
        lambda: desk.undo(version),
    ):
        with pytest.raises(PreviewError, match="there is no such scene file") as refused:
            call()
        assert "did you mean pantri.toml?" in str(refused.value)
    scene.with_name("pantri.toml").rename(scene)
    desk.undo(version)
    assert scene.read_bytes() == TEXT.encode()


@pytest.mark.parametrize(
    ("data", "said"), [(b"\xff\xfea\0", "not UTF-8 text"), (b"title = ", "line 1"), (b"", "empty")]
)
def test_what_is_no_scene_text_is_refused_and_left(scene: Path, data: bytes, said: str) -> None:
    scene.write_bytes(data)
    desk = Desk(scene)
    with pytest.raises(PreviewError, match=said):
        desk.edit(desk.version(), STRAIGHT, "61")
    assert scene.read_bytes() == data
