"""Compressed vertices and triangles, ours and the reference's: each decoder reads what the other's encoder wrote.

The specification is EXT_meshopt_compression (Khronos, glTF 2.0 extensions); the reference is meshoptimizer (npm).
"""

from __future__ import annotations

import contextlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from preview.build import build
from preview.checks.meshopt import decoded
from preview.exports.meshopt import encoded_triangles, encoded_vertices
from preview.scene import load_scene
from preview.shipped import folder
from reference_meshopt import Task, reference

COUNTS = (1, 15, 16, 17, 255, 256, 257, 700)
STRIDES = (4, 8, 16, 48, 256)


def kinds_of_vertices() -> list[np.ndarray]:
    """Noise, short steps, and nothing at all, in every length at which a block or a group ends."""
    chance = np.random.default_rng(1)
    found = []
    for count in COUNTS:
        for stride in STRIDES:
            for most in (1, 3, 20, 256):
                rows = chance.integers(0, most, (count, stride)).astype(np.uint8)
                found.append(rows if most == 256 else np.cumsum(rows, axis=0, dtype=np.uint8))
    return found


def grid(rows: int, columns: int) -> np.ndarray:
    """Two triangles for each cell of a grid of vertices, cell by cell."""
    a = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    b, c, d = a + columns, a + columns + 1, a + 1
    return np.stack([np.stack([a, c, b], axis=1), np.stack([a, d, c], axis=1)], axis=1).reshape(-1, 3)


def kinds_of_triangles() -> list[np.ndarray]:
    """Grids, fans, arrays one after another, and any numbers at all, some of them the same twice."""
    chance = np.random.default_rng(2)
    fan = np.stack([np.zeros(40, np.int64), np.arange(1, 41), np.arange(2, 42)], axis=1)
    several = np.concatenate([grid(4, 30), fan, [[0, 1, 2]], grid(2, 9), [[1, 2, 0], [0, 1, 2], [2, 1, 0]]])
    any_at_all = [chance.integers(0, most, (count, 3)) for count in (1, 2, 300) for most in (1, 2, 4, 20, 60000)]
    return [grid(9, 40), fan, several, grid(9, 40)[::-1, ::-1], *any_at_all]


def turned(triangles: np.ndarray) -> np.ndarray:
    """Triangles begun at their lowest corner, or where that stands twice before it."""
    ways = np.stack([np.roll(triangles, -by, axis=1) for by in range(3)], axis=1)
    key = ways @ np.array([1 << 40, 1 << 20, 1])
    return ways[np.arange(len(triangles)), key.argmin(axis=1)]


def numbers(stream: bytes, stride: int) -> np.ndarray:
    return np.frombuffer(stream, f"<u{stride}").reshape(-1, 3).astype(np.int64)


def test_the_reference_reads_our_vertices() -> None:
    kinds = kinds_of_vertices()
    tasks = [Task("decode", "ATTRIBUTES", *rows.shape, encoded_vertices(rows)) for rows in kinds]
    assert reference(tasks) == [rows.tobytes() for rows in kinds]


def test_we_read_the_reference_s_vertices() -> None:
    kinds = kinds_of_vertices()
    streams = reference([Task("encode", "ATTRIBUTES", *rows.shape, rows.tobytes()) for rows in kinds])
    for rows, stream in zip(kinds, streams, strict=True):
        assert np.array_equal(decoded(stream, "ATTRIBUTES", *rows.shape), rows)


@pytest.mark.parametrize("stride", [2, 4])
def test_the_reference_reads_our_triangles(stride: int) -> None:
    kinds = kinds_of_triangles()
    streams = [encoded_triangles(triangles) for triangles in kinds]
    found = reference(
        [Task("decode", "TRIANGLES", each.size, stride, s) for each, s in zip(kinds, streams, strict=True)]
    )
    for triangles, stream, laid in zip(kinds, streams, found, strict=True):
        assert np.array_equal(turned(numbers(laid, stride)), turned(triangles))
        assert decoded(stream, "TRIANGLES", triangles.size, stride).tobytes() == laid


@pytest.mark.parametrize("mode", ["TRIANGLES", "INDICES"])
def test_we_read_the_reference_s_triangles(mode: str) -> None:
    sizes = [(triangles, stride) for triangles in kinds_of_triangles() for stride in (2, 4)]
    plain = [(each.size, stride, each.astype(f"<u{stride}").tobytes()) for each, stride in sizes]
    streams = reference([Task("encode", mode, *each) for each in plain])
    tasks = [Task("decode", mode, *each[:2], stream) for each, stream in zip(plain, streams, strict=True)]
    for task, laid in zip(tasks, reference(tasks), strict=True):
        assert laid
        assert decoded(task.data, mode, task.count, task.stride).tobytes() == laid


@settings(max_examples=8, deadline=None)
@given(st.lists(st.lists(st.integers(0, 2**32 - 1), min_size=1, max_size=60), min_size=1, max_size=30))
def test_the_reference_reads_any_numbers(lists: list[list[int]]) -> None:
    rows = [np.array(each, np.uint32) for each in lists]
    tasks = [Task("decode", "ATTRIBUTES", len(each), 4, encoded_vertices(each)) for each in rows]
    tri = [each[: len(each) // 3 * 3].reshape(-1, 3).astype(np.int64) for each in rows if len(each) >= 3]
    tasks += [Task("decode", "TRIANGLES", each.size, 4, encoded_triangles(each)) for each in tri]
    found = reference(tasks)
    assert found[: len(rows)] == [each.tobytes() for each in rows]
    for triangles, laid in zip(tri, found[len(rows) :], strict=True):
        whole = [sorted(tuple(np.roll(each, by)) for by in range(3)) for each in triangles.tolist()]
        assert [sorted(tuple(np.roll(each, by)) for by in range(3)) for each in numbers(laid, 4).tolist()] == whole


@pytest.mark.parametrize(
    ("what", "filtered", "stride"),
    [("octahedral", "OCTAHEDRAL", 4), ("octahedral", "OCTAHEDRAL", 8), ("exponential", "EXPONENTIAL", 12)],
)
def test_filters(what: str, filtered: str, stride: int) -> None:
    """Unit vectors, and numbers of many sizes. The reference's arithmetic is in 32 bits, so a last digit may differ."""
    values = np.random.default_rng(3).normal(size=(500, 4 if what == "octahedral" else 3)).astype("<f4")
    if what == "octahedral":
        values[:, :3] /= np.linalg.norm(values[:, :3], axis=1, keepdims=True)
        values[:, 3] = 1
    else:
        values *= 10.0 ** np.arange(-3, 2).repeat(100)[:, None]
    (plain,) = reference([Task(what, "", len(values), stride, values.astype("<f4").tobytes())])
    (stream,) = reference([Task("encode", "ATTRIBUTES", len(values), stride, plain)])
    (laid,) = reference([Task("decode", "ATTRIBUTES", len(values), stride, stream, filtered)])
    found = decoded(stream, "ATTRIBUTES", len(values), stride, filtered).tobytes()
    kind = {4: "i1", 8: "<i2", 12: "<f4"}[stride]
    ours, theirs = np.frombuffer(found, kind).astype(float), np.frombuffer(laid, kind).astype(float)
    assert np.abs(theirs).max() > 0
    assert np.abs(ours - theirs).max() <= (0 if what == "exponential" else 1)


def test_what_is_small() -> None:
    """A grid takes hardly more than a byte for each triangle, as the specification sets out to; the reference, which
    looks further back, no more than a tenth less. Vertices that do not change take two bits for sixteen."""
    triangles = grid(20, 60)
    ours = encoded_triangles(triangles)
    (theirs,) = reference([Task("encode", "TRIANGLES", triangles.size, 4, triangles.astype("<u4").tobytes())])
    assert len(ours) < 1.1 * len(triangles)
    assert len(ours) < 1.1 * len(theirs)
    assert len(encoded_vertices(np.full((4096, 4), 7, np.uint8))) == 1 + 4 * 4096 // 64 + 32


def test_a_shipped_scene() -> None:
    meshes = build(load_scene(folder("scenes") / "stair-wall.toml")).meshes
    arrays = list({id(each.shape): each.shape.render_triangles for each in meshes}.values())
    (laid,) = reference(
        [Task("decode", "TRIANGLES", sum(each.size for each in arrays), 2, encoded_triangles(np.concatenate(arrays)))]
    )
    assert np.array_equal(turned(numbers(laid, 2)), turned(np.concatenate(arrays).astype(np.int64)))


STREAMS = {
    "ATTRIBUTES": (encoded_vertices(kinds_of_vertices()[-30]), *kinds_of_vertices()[-30].shape),
    "TRIANGLES": (encoded_triangles(grid(4, 30)), grid(4, 30).size, 2),
    "INDICES": (bytes([0xD1, 4, 8, 12, 9, 248, 1, 0, 0, 0, 0]), 5, 2),
}


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(sorted(STREAMS)), st.data())
def test_a_broken_stream_is_refused_or_read(mode: str, data: st.DataObject) -> None:
    """Nothing else comes of it: no other fault, and no more than was asked for."""
    stream, count, stride = STREAMS[mode]
    broken = bytearray(stream)
    for _ in range(data.draw(st.integers(1, 4))):
        broken[data.draw(st.integers(0, len(broken) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.sampled_from([0, 0, 1, 7]))
    with contextlib.suppress(ValueError, IndexError):
        assert decoded(bytes(broken[: len(broken) - cut]), mode, count, stride).shape == (count, stride)


@pytest.mark.parametrize("mode", sorted(STREAMS))
def test_a_stream_that_is_cut_is_refused(mode: str) -> None:
    stream, count, stride = STREAMS[mode]
    assert decoded(stream, mode, count, stride).shape == (count, stride)
    for keep in range(len(stream)):
        with pytest.raises((ValueError, IndexError)):
            decoded(stream[:keep], mode, count, stride)
    with pytest.raises(ValueError, match=r"late|early"):
        decoded(stream[:1] + b"\0" + stream[1:], mode, count, stride)
