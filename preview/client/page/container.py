"""The container: a length, a JSON document, and the arrays that it names, each once."""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

Record = dict[str, Any]


class Arrays:
    """The binary part as it grows. The same bytes are stored once, however often they are added."""

    def __init__(self) -> None:
        self._parts: list[bytes] = []
        self._known: dict[bytes, int] = {}
        self._size = 0

    def add(self, array: NDArray[Any]) -> Record:
        """Store an array of 1 or 4 byte numbers, little-endian; where it lies and how many numbers it holds."""
        stored = np.ascontiguousarray(array, array.dtype.newbyteorder("<"))
        data = stored.tobytes()
        at = self._known.get(data)
        if at is None:
            at = self._known[data] = self._size
            padded = data + b"\0" * (-len(data) % 4)
            self._parts.append(padded)
            self._size += len(padded)
        return {"at": at, "count": stored.size}

    def data(self) -> bytes:
        """All that was added."""
        return b"".join(self._parts)


def container(document: Record, arrays: Arrays) -> bytes:
    """uint32 length of the JSON, little-endian; the JSON, UTF-8, padded with spaces to 4 bytes; the arrays."""
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()
    text += b" " * (-len(text) % 4)
    return struct.pack("<I", len(text)) + text + arrays.data()
