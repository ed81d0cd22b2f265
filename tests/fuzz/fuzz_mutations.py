"""Damage done to files: by bytes, by tokens of text, by the fields of binary models. A seed gives the same damage."""

from __future__ import annotations

import copy
import io
import json
import re
import struct
import warnings
import zipfile
from collections.abc import Callable, Sequence
from random import Random
from typing import Any

from fuzz_part21 import some_entities

LONGEST = 200_000
"""Bytes of a mutated file: what grows past this is cut."""
NUMBERS = (
    "0", "-0", "1", "-1", "nan", "-nan", "inf", "-inf", "1e308", "-1e308", "1e999", "1e-320", "5e-324", "1e-9",
    "0.1", "1e3", "1/0", "0/0", "1/3", "3 1/2", "2147483647", "2147483648", "-2147483648", "4294967295",
    "9223372036854775807", "18446744073709551616", "1" + "0" * 400, "9" * 5000, "0x7fffffff", "0x" + "f" * 3000,
    "0b1", "1_000", ".5", "5.", "+7", "007", "1e", "1,5", "10000000", "10000001", "1e-300", "45", "90", "180", "360",
    "89.9999", "359.99999999", "1e16", "0.30000000000000004", "65535", "65536", "255", "256", "-5",
)  # fmt: skip
STRINGS = (
    "", " ", "\0", "\x01", "\x1b[31m", "\x7f", "\x85", "\ufeff", "\u202e", "\u2028", "\ufffd", "\U0010ffff", "é" * 50,
    "e\u0301", "½", "٣", "²", "\\ud800", "\\u0000", "&#0;", "&amp;", "&x;", "]]>", "<![CDATA[", "<!--", "%s%n", "{}",
    "{0.__class__}", "../../../etc/hostname", "/dev/zero", "/dev/stdin", "C:\\x", "a" * 81, "b" * 600, "c" * 20_000,
    "true", "false", "null", "none", "NaN", "Infinity", "__proto__", "'", '"', "\"\"\"", "'''", "#", ";", ",", "\t",
    "\n",
    "\r", "\r\n", "\n\n\n", " / ", "1979-05-27T07:32:00Z", "1979-05-27", "25:61:00", "0000-00-00", "[", "]", "{", "}",
    "[[", "]]", "(", ")", "[" * 60, "[" * 3000, "{a=" * 500, "(" * 500, "a." * 49 + "a", "=", "==", ".", "..", "-", "$",
)  # fmt: skip


def _words(text: str) -> tuple[str, ...]:
    return tuple(text.split())


WORDS: dict[str, tuple[str, ...]] = {
    "scene": _words(
        "title units chord job profile finish member block run surrounding site option picture shop file library face "
        "foot wall ceiling blank cuts drawing spring flats straight inside outside left right curve_left curve_right "
        "radius sweep joint miter cope butt block points closed start heading level room begin end square return scarf "
        "rise rake easement reveal stand legs out up width height lap out in at on members name steps closing within "
        "arrives plumb pitch angle kind color finish roughness metallic brand paper date notes variants set "
        "ease relief back units layer thickness fit heal tolerance mm in ft cm m"
    ),
    "dxf": _words(
        "SECTION ENDSEC EOF HEADER TABLES BLOCKS BLOCK ENDBLK ENTITIES OBJECTS LINE ARC CIRCLE LWPOLYLINE POLYLINE "
        "VERTEX SEQEND ELLIPSE SPLINE INSERT TEXT MTEXT DIMENSION HATCH ATTRIB ACAD_PROXY_ENTITY TABLE LAYER ENDTAB "
        "LTYPE $INSUNITS $ACADVER $MEASUREMENT $HANDSEED AC1009 AC1015 AC1032 3DSOLID IMAGE DICTIONARY *MODEL_SPACE B "
        "POINT *U1 AcDbEntity BODY XLINE RAY MLINE HELIX WIPEOUT CLASSES"
    ),
    "svg": _words(
        "svg g path line rect circle ellipse polyline polygon use symbol defs text style d points x y x1 y1 x2 y2 "
        "cx cy "
        "r rx ry width height viewBox transform matrix( translate( scale( rotate( skewX( href xlink:href id class "
        "display visibility none hidden preserveAspectRatio mm in pt px % em M m L l H V C c S Q T A a Z z xmlns "
        "switch "
        "image clipPath mask pattern fill stroke inkscape:label <!DOCTYPE <!ENTITY <?xml encoding"
    ),
    "brand": _words("name lines logo color tint footer #000000 #ffffff #12345"),
}
WORDS["profile"] = WORDS["scene"]
GROUPS = tuple(map(str, (0, 2, 5, 6, 8, 9, 10, 11, 20, 21, 30, 31, 39, 40, 41, 42, 43, 44, 45, 50, 51, 60, 62, 66,
67, 70,
                         71, 72, 73, 74, 90, 100, 102, 210, 220, 230, 310, 330, 360, 1000, 1001, -1, 999)))  # fmt: skip
TOKEN = re.compile(r"[A-Za-z_$*][\w:.-]*|[-+]?(?:\d[\d_]*\.?\d*|\.\d+)(?:[eE][-+]?\d+)?|\s+|.", re.DOTALL)
NUMBER = re.compile(r"[-+]?(?:\d[\d_]*\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
WHOLE = (0, 1, 2, 3, 7, 127, 128, 255, 256, 32767, 65535, 65536, 2**31 - 1, 2**31, 2**32 - 1, 2**32 - 2)
FLOATS = (0.0, -0.0, 1.0, -1.0, float("nan"), float("inf"), float("-inf"), 3.4e38, -3.4e38, 1e-45, 1e7, 1e-7, 1e30)

Damage = Callable[[bytes, Sequence[bytes], Random], bytes]


def mutated(kind: str, seeds: Sequence[bytes], random: Random) -> bytes:
    """One seed of a kind, damaged once or several times."""
    data = random.choice(seeds)
    ways = WAYS[kind]
    for _ in range(min(1 + int(random.expovariate(1.0)), 12)):
        data = random.choice(ways)(data, seeds, random)[:LONGEST]
    return data


# Bytes.


def some_bytes(data: bytes, seeds: Sequence[bytes], random: Random) -> bytes:
    """Bytes changed, left out, put in, moved or repeated; the end cut off; two files grown together."""
    made = bytearray(data)
    way = random.randrange(9)
    at = random.randrange(len(made) + 1)
    length = min(int(random.expovariate(0.08)) + 1, len(made))
    if way == 0 and made:
        made[at % len(made)] ^= 1 << random.randrange(8)
    elif way == 1 and made:
        made[at % len(made)] = random.choice((0, 0xFF, 0x80, 0x0A, 0x22, random.randrange(256)))
    elif way == 2:
        del made[at : at + length]
    elif way == 3:
        made[at:at] = random.randbytes(length)
    elif way == 4:
        made[at:at] = made[at : at + length] * random.choice((1, 2, 3, 50))
    elif way == 5:
        del made[at:]
    elif way == 6:
        other = random.choice(seeds)
        made[at:] = other[random.randrange(len(other) + 1) :]
    elif way == 7:
        made[at:at] = random.choice(
            (b"\xef\xbb\xbf", b"\xff\xfe", b"\0", b"\r\n", b"\xed\xa0\x80", b"\xc0\x80", b"\x1a")
        )
    else:
        size, value = random.choice((("<I", random.choice(WHOLE)), ("<H", random.choice(WHOLE) & 0xFFFF),
                                     ("<f", random.choice(FLOATS)), ("<d", random.choice(FLOATS))))  # fmt: skip
        made[at : at + struct.calcsize(size)] = struct.pack(size, value)
    return bytes(made)


# Text.


def some_tokens(words: Sequence[str]) -> Damage:
    """Damage to a text by its tokens; `words` are those of its format."""

    def damage(data: bytes, seeds: Sequence[bytes], random: Random) -> bytes:
        tokens = TOKEN.findall(data.decode("utf-8", "surrogateescape"))
        if not tokens:
            return random.choice(STRINGS).encode("utf-8")
        at = random.randrange(len(tokens))
        way = random.randrange(10)
        if way <= 2:
            numbers = [i for i, token in enumerate(tokens) if NUMBER.fullmatch(token)]
            if numbers:
                tokens[random.choice(numbers)] = random.choice(NUMBERS)
        elif way == 3:
            tokens[at] = random.choice((random.choice(STRINGS), random.choice(words), random.choice(NUMBERS)))
        elif way == 4:
            del tokens[at : at + random.choice((1, 1, 1, 2, 5, 20))]
        elif way == 5:
            tokens.insert(at, random.choice((random.choice(STRINGS), random.choice(words), random.choice(NUMBERS))))
        elif way == 6:
            piece = tokens[at : at + random.choice((1, 3, 10, 40))]
            where = random.choice((at, random.randrange(len(tokens))))
            tokens[where:where] = piece * random.choice((1, 1, 1, 2, 3, 30))
        elif way == 7:
            other = random.randrange(len(tokens))
            tokens[at], tokens[other] = tokens[other], tokens[at]
        elif way == 8:
            theirs = TOKEN.findall(random.choice(seeds).decode("utf-8", "surrogateescape"))
            first = random.randrange(len(theirs) + 1)
            tokens[at : at + random.choice((0, 1, 10))] = theirs[first : first + random.choice((1, 5, 30))]
        else:
            tokens[at] = random.choice(tokens)
        return "".join(tokens).encode("utf-8", "surrogateescape")

    return damage


def some_lines(data: bytes, seeds: Sequence[bytes], random: Random) -> bytes:
    """Lines doubled, left out, swapped, taken from another file, ended otherwise."""
    lines = data.split(b"\n")
    at, other = random.randrange(len(lines)), random.randrange(len(lines))
    way = random.randrange(6)
    if way == 0:
        lines.insert(other, lines[at])
    elif way == 1:
        del lines[at : at + random.choice((1, 1, 2, 6))]
    elif way == 2:
        lines[at], lines[other] = lines[other], lines[at]
    elif way == 3:
        theirs = random.choice(seeds).split(b"\n")
        first = random.randrange(len(theirs))
        lines[at:at] = theirs[first : first + random.choice((1, 2, 8, 30))]
    elif way == 4:
        return random.choice((b"\r\n", b"\r", b"\n\n", b"\x0b")).join(lines)
    else:
        lines[at:at] = lines[at : at + random.choice((1, 2, 10))] * random.choice((1, 2, 100))
    return b"\n".join(lines)


def some_groups(data: bytes, _seeds: Sequence[bytes], random: Random) -> bytes:
    """A DXF's pairs of lines: a group's code, or its value, another; a pair or an entity doubled or left out."""
    lines = data.replace(b"\r\n", b"\n").split(b"\n")
    pairs = [lines[i : i + 2] for i in range(0, len(lines) - 1, 2)]
    if not pairs:
        return data
    at = random.randrange(len(pairs))
    way = random.randrange(6)
    if way == 0:
        pairs[at] = [random.choice(GROUPS).encode(), pairs[at][1]]
    elif way == 1:
        pairs[at] = [
            pairs[at][0],
            random.choice((*NUMBERS, *STRINGS, *WORDS["dxf"])).encode("utf-8", "surrogateescape"),
        ]
    elif way == 2:
        pairs.insert(at, [random.choice(GROUPS).encode(), random.choice((*NUMBERS, *WORDS["dxf"])).encode()])
    elif way == 3:
        del pairs[at]
    else:
        starts = [i for i, pair in enumerate(pairs) if pair[0].strip() == b"0"] or [0]
        chosen = random.randrange(len(starts))
        stop = starts[chosen + 1] if chosen + 1 < len(starts) else len(pairs)
        entity = pairs[starts[chosen] : stop]
        where = random.choice(starts)
        if way == 4:
            del pairs[starts[chosen] : stop]
        pairs[where:where] = entity * random.choice((1, 1, 2, 40))
    return b"\n".join(line for pair in pairs for line in pair)


# JSON, and GLB round it.


def some_json(data: bytes, _seeds: Sequence[bytes], random: Random) -> bytes:
    """A JSON text with values replaced, keys doubled or gone, lists grown, things inside themselves."""
    try:
        document = json.loads(data)
    except (ValueError, RecursionError):
        return data
    return _dumped(_changed(document, random), random)


def _dumped(document: Any, random: Random) -> bytes:
    try:
        return json.dumps(document, ensure_ascii=random.random() < 0.8).encode("utf-8", "surrogatepass")
    except (ValueError, RecursionError):
        return b"{}"


def _changed(document: Any, random: Random) -> Any:
    for _ in range(random.choice((1, 1, 1, 2, 3, 6))):
        places = list(_places(document))
        if not places:
            return random.choice(_VALUES)
        holder, key = random.choice(places)
        way = random.randrange(7)
        if way <= 2:
            old = holder[key]
            value: Any = random.choice(_VALUES)
            if isinstance(old, int | float) and not isinstance(old, bool) and random.random() < 0.8:
                value = random.choice((old + 1, old - 1, -old, old * 2, 0, random.choice(_COUNTS)))
            holder[key] = copy.deepcopy(value)
        elif way == 3:
            del holder[key]
        elif way == 4:
            other, name = random.choice(places)
            holder[key] = copy.deepcopy(other[name]) if name in _keys(other) else 0
        elif way == 5 and isinstance(holder, list):
            holder[key:key] = [copy.deepcopy(holder[key])] * random.choice((1, 2, 30))
        elif isinstance(holder, dict):
            holder[random.choice(_KEYS)] = copy.deepcopy(random.choice(_VALUES))
    return document


def _keys(holder: Any) -> Any:
    return range(len(holder)) if isinstance(holder, list) else holder


def _places(document: Any) -> list[tuple[Any, Any]]:
    found: list[tuple[Any, Any]] = []
    waiting = [document]
    while waiting:
        holder = waiting.pop()
        if not isinstance(holder, dict | list):
            continue
        for key in list(_keys(holder)):
            found.append((holder, key))
            waiting.append(holder[key])
    return found


_COUNTS = (0, -1, 1, 2, 3, 255, 65535, 2**31 - 1, 2**31, 2**32, 10**9, 2**63, 10**30, 1e308, 0.5, -0.0, float("nan"),
           float("inf"), 5120, 5121, 5122, 5123, 5124, 5125, 5126)  # fmt: skip
_VALUES: tuple[Any, ...] = (None, True, False, "", "\ud800", "\0", "a" * 5000, "SCALAR", "VEC3", "VEC2", "MAT4", [], {},
           [[]], [0], [0, 0], [0, 0, 0], [1e308] * 3, [float("nan")] * 16, [0] * 16, [1] * 5, {"POSITION": 0},
           {"a": {}},
           {"sparse": {}}, [{}], "0", "data:application/octet-stream;base64,AAAA", *_COUNTS)  # fmt: skip
_KEYS = ("children", "mesh", "matrix", "rotation", "scale", "translation", "byteOffset", "byteStride", "count", "type",
         "componentType", "bufferView", "indices", "mode", "primitives", "attributes", "POSITION", "NORMAL", "nodes",
         "scene", "scenes", "asset", "generator", "extensionsUsed", "sparse", "name", "extras", "digest", "normalized",
         "extensions", "uri", "\ud800", "a" * 300)  # fmt: skip


def some_glb(data: bytes, seeds: Sequence[bytes], random: Random) -> bytes:
    """A GLB whose document was changed and whose header fits again, or whose sizes promise something else."""
    try:
        size = struct.unpack_from("<I", data, 12)[0]
        document, rest = json.loads(data[20 : 20 + size]), bytearray(data[20 + size :])
    except (ValueError, struct.error, RecursionError):
        return data
    if random.random() < 0.75:
        document = _changed(document, random)
    if rest and random.random() < 0.4:
        for _ in range(random.choice((1, 4, 30))):
            at = 8 + 4 * random.randrange(max(1, (len(rest) - 8) // 4))
            rest[at : at + 4] = random.choice(
                (struct.pack("<f", random.choice(FLOATS)), struct.pack("<I", random.choice(WHOLE)), rest[8:12])
            )
    return glb_of(_dumped(document, random), bytes(rest), random)


def glb_of(text: bytes, rest: bytes, random: Random | None = None) -> bytes:
    """A GLB of a document and its further chunks; with a random, one in ten has sizes that do not fit."""
    text += b" " * (-len(text) % 4)
    sizes = [2, 20 + len(text) + len(rest), len(text)]
    if random is not None and random.random() < 0.1:
        sizes[random.randrange(3)] = random.choice(WHOLE)
    return struct.pack("<4sIII4s", b"glTF", *sizes, b"JSON") + text + rest


# STL.


def some_facets(data: bytes, _seeds: Sequence[bytes], random: Random) -> bytes:
    """A binary STL's count or its numbers; facets left out, doubled, turned over."""
    if len(data) < 134 or data[:5] == b"solid":
        return data
    head, facets = data[:80], [bytearray(data[i : i + 50]) for i in range(84, len(data) - 49, 50)]
    at = random.randrange(len(facets))
    way = random.randrange(6)
    if way <= 1:
        for _ in range(random.choice((1, 3, 9))):
            place = 12 + 4 * random.randrange(9)
            facets[random.randrange(len(facets))][place : place + 4] = struct.pack("<f", random.choice(FLOATS))
    elif way == 2:
        del facets[at : at + random.choice((1, 5))]
    elif way == 3:
        facets[at:at] = [bytearray(each) for each in facets[at : at + random.choice((1, 5))]] * random.choice(
            (1, 2, 20)
        )
    elif way == 4:
        facets[at][12:24], facets[at][24:36] = facets[at][24:36], facets[at][12:24]
    else:
        moved = struct.pack("<f", random.uniform(-100, 100))
        for facet in facets[at : at + random.choice((1, 12, 40))]:
            facet[12:16] = facet[24:28] = facet[36:40] = moved
    count = len(facets) if random.random() < 0.9 else random.choice(WHOLE)
    return head + struct.pack("<I", count) + b"".join(map(bytes, facets))


# Packages.


def some_package(data: bytes, seeds: Sequence[bytes], random: Random) -> bytes:
    """A zip whose files were changed and packed again, so that its sums fit."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            files = [(info.filename, package.read(info)) for info in package.infolist()]
    except Exception:  # what is no zip any more is damaged further by its bytes
        return some_bytes(data, seeds, random)
    if not files:
        return data
    at = random.randrange(len(files))
    name, content = files[at]
    way = random.randrange(5)
    if way <= 2:
        content = random.choice((some_bytes, some_tokens(("metadata", "Target", "Type", "UTF-8"))))(
            content, [content], random
        )
    elif way == 3:
        name = random.choice((name + "x", "", "../" + name, "[Content_Types].xml", "_rels/.rels", name.upper()))
    else:
        files.insert(random.randrange(len(files)), (name, content))
    files[at] = (name, content)
    made = io.BytesIO()
    how = random.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))
    with warnings.catch_warnings(), zipfile.ZipFile(made, "w", how) as package:
        warnings.simplefilter("ignore")  # of two files of one name, which is meant
        for each, inside in files:
            try:
                package.writestr(each, inside)
            except Exception:  # a name that no zip can hold
                continue
    return made.getvalue()


def _text_ways(kind: str) -> tuple[Damage, ...]:
    by_token = some_tokens(WORDS.get(kind, ("vertex", "facet", "endfacet", "outer", "loop", "solid", "endsolid")))
    return (by_token, by_token, by_token, some_lines, some_bytes)


WAYS: dict[str, tuple[Damage, ...]] = {
    "answer": (*_text_ways("answer"), some_json, some_json, some_json),
    "brand": _text_ways("brand"),
    "csv": _text_ways("csv"),
    "digest": (*_text_ways("digest"), some_glb, some_json),
    "digest_3mf": (some_package, some_package, some_bytes),
    "digest_usdz": (some_package, some_bytes, some_bytes),
    "dxf": (some_groups, some_groups, some_groups, *_text_ways("dxf")),
    "glb": (some_glb, some_glb, some_glb, some_glb, some_bytes),
    "profile": _text_ways("profile"),
    "records": (*_text_ways("records"), some_json, some_json),
    "scene": _text_ways("scene"),
    "step": (*(some_entities,) * 6, *_text_ways("step")[1:]),
    "stl": (some_facets, some_facets, *_text_ways("stl")[1:]),
    "svg": _text_ways("svg"),
}
