"""Damage done to STEP files (ISO 10303-21): by their entities, their references, their numbers and their lists."""

from __future__ import annotations

import re
from collections.abc import Sequence
from random import Random

ENTITY = re.compile(rb"#(\d+)\s*=\s*(.*?);\s*", re.DOTALL)
REFERENCE = re.compile(rb"#\d+")
NUMBER = re.compile(rb"(?<![\w#.'+-])[-+]?\d+\.?\d*(?:E[-+]?\d+)?", re.IGNORECASE)
LIST = re.compile(rb"\([^()]*\)")
KEYWORD = re.compile(rb"[A-Z][A-Z_0-9]+(?=\()")
STRING = re.compile(rb"'[^']*'")
LOGICAL = re.compile(rb"\.[A-Z_]+\.")
NUMBERS = (
    b"0", b"0.", b"-0.", b"1.", b"-1.", b"1E-7", b"1E-300", b"1E300", b"-1E300", b"1E999", b"1E-999", b"NAN", b"INF",
    b"-1", b"2", b"3", b"25", b"26", b"1000", b"65536", b"2147483647", b"2147483648", b"-2147483648", b"4294967296",
    b"9223372036854775808", b"1" + b"0" * 400, b"9" * 5000 + b".", b"0." + b"0" * 3000 + b"1", b"1E+", b"1.5.5", b"$",
    b"*", b"1E7", b"1E10", b"1E16", b"6.283185307179586", b"3.141592653589793", b"1.5707963267948966", b"0.9999999",
)  # fmt: skip
WORDS = tuple(
    b"CARTESIAN_POINT DIRECTION VECTOR LINE CIRCLE ELLIPSE HYPERBOLA PARABOLA POLYLINE TRIMMED_CURVE COMPOSITE_CURVE "
    b"B_SPLINE_CURVE_WITH_KNOTS BEZIER_CURVE PCURVE SURFACE_CURVE SEAM_CURVE OFFSET_CURVE_3D PLANE CYLINDRICAL_SURFACE "
    b"CONICAL_SURFACE SPHERICAL_SURFACE TOROIDAL_SURFACE DEGENERATE_TOROIDAL_SURFACE SURFACE_OF_REVOLUTION "
    b"SURFACE_OF_LINEAR_EXTRUSION B_SPLINE_SURFACE_WITH_KNOTS RECTANGULAR_TRIMMED_SURFACE OFFSET_SURFACE CURVE_BOUNDED_"
    b"SURFACE EDGE_CURVE ORIENTED_EDGE EDGE_LOOP VERTEX_LOOP POLY_LOOP FACE_BOUND FACE_OUTER_BOUND ADVANCED_FACE "
    b"FACE_SURFACE CLOSED_SHELL OPEN_SHELL ORIENTED_CLOSED_SHELL MANIFOLD_SOLID_BREP BREP_WITH_VOIDS FACETED_BREP "
    b"SHELL_BASED_SURFACE_MODEL GEOMETRIC_SET MAPPED_ITEM REPRESENTATION_MAP AXIS1_PLACEMENT AXIS2_PLACEMENT_2D "
    b"AXIS2_PLACEMENT_3D SHAPE_REPRESENTATION NEXT_ASSEMBLY_USAGE_OCCURRENCE ITEM_DEFINED_TRANSFORMATION "
    b"CARTESIAN_TRANSFORMATION_OPERATOR_3D TESSELLATED_SHELL TRIANGULATED_FACE COORDINATES_LIST".split()
)
MADE = (
    b"B_SPLINE_CURVE_WITH_KNOTS('',%d,(%s),.UNSPECIFIED.,.F.,.F.,(%d,%d),(%s,%s),.UNSPECIFIED.)",
    b"B_SPLINE_SURFACE_WITH_KNOTS('',%d,1,((%s),(%s)),.$.,.F.,.F.,.F.,(%d,%d),(2,2),(%s,%s),(0.,1.),.$.)".replace(
        b"$", b"UNSPECIFIED"
    ),
)
TEXTS = (
    b"''", b"$", b"'" + b"a" * 20_000 + b"'", rb"'\X2\D800\X0\'", rb"'\S\\X\FF'", rb"'\X4\FFFFFFFF\X0\'",
    b"'\x00\x1b[31m'", b"'''", b'"0F"', b"'%s%n'",
)  # fmt: skip
ONCE = (
    b"OFFSET_SURFACE('',#%s,1.,.F.)", b"OFFSET_CURVE_3D('',#%s,1.,.F.,#1)", b"SHAPE_REPRESENTATION('',(#%s),#23)",
    b"TRIMMED_CURVE('',#%s,(0.),(1.),.T.,.PARAMETER.)", b"RECTANGULAR_TRIMMED_SURFACE('',#%s,0.,1.,0.,1.,.T.,.T.)",
    b"ORIENTED_CLOSED_SHELL('',*,#%s,.T.)", b"GEOMETRIC_SET('',(#%s))", b"COMPOSITE_CURVE('',(#%s),.F.)",
)  # fmt: skip
TWICE = (
    b"GEOMETRIC_SET('',(#%s,#%s))", b"COMPOSITE_CURVE('',(#%s,#%s),.F.)", b"SHAPE_REPRESENTATION('',(#%s,#%s),#23)",
    b"MAPPED_ITEM('',#%s,#%s)", b"SURFACE_CURVE('',#%s,(#%s),.CURVE_3D.)",
)  # fmt: skip
"""Entities that refer to one of their own kind, and to two, which doubles what there is to do at every step."""
MOST = 3_000
"""Entities of a file that a bomb of references is made of."""


def some_entities(data: bytes, seeds: Sequence[bytes], random: Random) -> bytes:
    """One or a few of a STEP file's entities changed; what is no STEP file any more stays as it is."""
    head, entities, tail = _parted(data)
    if not entities:
        return data
    for _ in range(random.choice((1, 1, 1, 2, 4))):
        if not entities:
            break
        at = random.randrange(len(entities))
        random.choice(WAYS)(entities, at, seeds, random)
    return head + b"".join(b"#%s = %s;\n" % entity for entity in entities) + tail


Entities = list[tuple[bytes, bytes]]


def _parted(data: bytes) -> tuple[bytes, Entities, bytes]:
    begin = data.find(b"DATA;")
    end = data.find(b"ENDSEC;", begin)
    if begin < 0 or end < 0:
        return data, [], b""
    return data[: begin + 6], ENTITY.findall(data[begin + 5 : end]), data[end:]


def _replaced(pattern: re.Pattern[bytes], text: bytes, new: bytes, random: Random) -> bytes:
    found = list(pattern.finditer(text))
    if not found:
        return text
    one = random.choice(found)
    return text[: one.start()] + new + text[one.end() :]


def _same_kind(entities: Entities, text: bytes, random: Random) -> bytes:
    """The number of an entity of the same kind, so that the reference goes on making sense, or of any."""
    kind = text.partition(b"(")[0]
    alike = [number for number, other in entities if other.startswith(kind + b"(")]
    return random.choice(alike if alike and random.random() < 0.6 else [number for number, _ in entities])


def reference(entities: Entities, at: int, _seeds: Sequence[bytes], random: Random) -> None:
    """A reference to another entity: of the same kind, of any, itself, what refers to it, none that there is."""
    number, text = entities[at]
    found = REFERENCE.findall(text)
    if not found:
        return
    old = random.choice(found)
    like_old = dict(entities).get(old[1:], b"")
    back = [n for n, other in entities if re.search(rb"#%s\b" % number, other)]
    new = random.choice((
        _same_kind(entities, like_old, random), _same_kind(entities, like_old, random),
        number, random.choice(back) if back else number, random.choice(entities)[0],
        random.choice((b"0", b"999999", b"4294967297", b"-1", b"9" * 40)),
    ))  # fmt: skip
    entities[at] = number, re.sub(rb"%s\b" % old, b"#" + new, text, count=random.choice((0, 1)))


def quantity(entities: Entities, at: int, _seeds: Sequence[bytes], random: Random) -> None:
    """A number that is enormous, tiny, none, or a little or a lot away from what it was."""
    number, text = entities[at]
    found = NUMBER.findall(text)
    if not found:
        numbered = [i for i, (_, other) in enumerate(entities) if NUMBER.search(other)]
        if not numbered:
            return
        at = random.choice(numbered)
        number, text = entities[at]
        found = NUMBER.findall(text)
    new = random.choice(NUMBERS)
    if random.random() < 0.4:
        try:
            old = float(random.choice(found))
        except ValueError:
            old = 0.0
        moved = random.choice((old + 1, old - 1, -old, old * 2, old * (1 + 1e-9), old + 1e-6, old * 1000, old / 1000))
        new = b"%d" % moved if random.random() < 0.3 and abs(moved) < 1e9 else b"%r" % moved
    entities[at] = number, _replaced(NUMBER, text, new, random)


def keyword(entities: Entities, at: int, _seeds: Sequence[bytes], random: Random) -> None:
    """An entity of another kind with the same attributes."""
    number, text = entities[at]
    entities[at] = number, _replaced(KEYWORD, text, random.choice(WORDS), random)


def listed(entities: Entities, at: int, _seeds: Sequence[bytes], random: Random) -> None:
    """A list that is empty, doubled, thousands long, nested deeply, shorter, or the other way round."""
    several = [i for i, (_, text) in enumerate(entities) if b"(#" in text or b"(0" in text]
    at = random.choice(several or [at])
    number, text = entities[at]
    found = LIST.findall(text)
    if not found:
        return
    old = random.choice(found)
    items = old[1:-1].split(b",")
    deep = random.choice((2, 30, 3000))
    new = random.choice((
        b"()", old[:-1] + b"," + old[1:], b"(" + b",".join(items[1:]) + b")", b"(" + b",".join(items[::-1]) + b")",
        b"(" + b",".join(items * random.choice((10, 3000 // max(1, len(items))))) + b")", b"$", b"*",
        b"(" * deep + old[1:-1] + b")" * deep,
        b"(" + b",".join(random.sample(items, len(items))) + b")",
    ))  # fmt: skip
    entities[at] = number, text.replace(old, new, 1)


def attribute(entities: Entities, at: int, _seeds: Sequence[bytes], random: Random) -> None:
    """A string, or a logical value, another; an attribute left out or one too many."""
    number, text = entities[at]
    way = random.randrange(5)
    if way == 0:
        new = random.choice(TEXTS)
        text = _replaced(STRING, text, new, random)
    elif way == 1:
        words = (b".T.", b".F.", b".U.", b".UNSPECIFIED.", b".MILLI.", b".KILO.", b".EXA.", b".METRE.", b"$", b"*")
        text = _replaced(LOGICAL, text, random.choice(words), random)
    elif way == 2:
        text = _replaced(re.compile(rb",[^,()]*"), text, b"", random)
    elif way == 3:
        text = _replaced(re.compile(rb","), text, random.choice((b",$,", b",,", b",*,", b",#1,", b",0,")), random)
    else:
        text = _replaced(REFERENCE, text, random.choice((b"$", b"*", b"''", b"0.", b"()")), random)
    entities[at] = number, text


def gone(entities: Entities, at: int, _seeds: Sequence[bytes], random: Random) -> None:
    """Entities left out, those with the others of their kind, or moved to another place."""
    if random.random() < 0.3:
        kind = entities[at][1].partition(b"(")[0]
        kept = [entity for entity in entities if not entity[1].startswith(kind) or random.random() < 0.5]
        entities[:] = kept
    elif random.random() < 0.3:
        entities.insert(random.randrange(len(entities)), entities.pop(at))
    else:
        del entities[at : at + random.choice((1, 1, 1, 2, 10))]


def doubled(entities: Entities, at: int, _seeds: Sequence[bytes], random: Random) -> None:
    """One entity under two numbers, or two entities under one."""
    number, text = entities[at]
    other = random.choice(entities)[0]
    entities.insert(random.randrange(len(entities) + 1), (random.choice((other, b"999%s" % number)), text))


def swapped(entities: Entities, at: int, _seeds: Sequence[bytes], random: Random) -> None:
    """Two entities that have exchanged their numbers, of one kind for the most part."""
    number, text = entities[at]
    kind = text.partition(b"(")[0]
    alike = [i for i, (_, other) in enumerate(entities) if other.startswith(kind + b"(") and i != at]
    other = random.choice(alike) if alike and random.random() < 0.7 else random.randrange(len(entities))
    entities[at], entities[other] = (number, entities[other][1]), (entities[other][0], text)


def foreign(entities: Entities, at: int, seeds: Sequence[bytes], random: Random) -> None:
    """What another file says under some number."""
    _, theirs, _ = _parted(random.choice(seeds))
    if theirs:
        alike = [text for _, text in theirs if text.startswith(entities[at][1].partition(b"(")[0])]
        entities[at] = entities[at][0], random.choice(alike or [text for _, text in theirs])


def spline(entities: Entities, at: int, _seeds: Sequence[bytes], random: Random) -> None:
    """A curve or a surface in place of what stands there: a spline whose counts promise more than it has."""
    points = [number for number, text in entities if text.startswith(b"CARTESIAN_POINT")]
    geometry = re.compile(rb"(LINE|CIRCLE|PLANE|CYLINDRICAL_SURFACE|TOROIDAL_SURFACE|CONICAL_SURFACE)\(")
    places = [i for i, (_, text) in enumerate(entities) if geometry.match(text)]
    if not points or not places:
        return
    at = random.choice(places)
    flat = entities[at][1].startswith((b"LINE", b"CIRCLE"))
    degree = random.choice((0, 1, 2, 3, 25, 26, 2147483647, -1))
    most = random.choice((1, 2, degree + 1 if 0 <= degree < 30 else 3, 400))
    row = b",".join(b"#" + random.choice(points) for _ in range(most))
    first, last = (random.choice((most, degree + 1, 0, 1, 2147483647)) for _ in range(2))
    low, high = random.choice(
        ((b"0.", b"1."), (b"1.", b"0."), (b"0.", b"0."), (b"0.", b"1E-12"), (b"-1E300", b"1E300"))
    )
    ends = (first, last, low, high)
    text = MADE[0] % (degree, row, *ends) if flat else MADE[1] % (degree, row, row, *ends)
    entities[at] = entities[at][0], text


def bomb(entities: Entities, at: int, _seeds: Sequence[bytes], random: Random) -> None:
    """A long chain of entities, each of which is the next one, or twice the next one, down to what stood there."""
    number, text = entities[at]
    most = random.choice((3, 40, MOST))
    names = [b"7%06d" % i for i in range(most)] + [b"%s77" % number]
    form = random.choice(TWICE if random.random() < 0.1 else ONCE)
    chain = [(names[i], form % ((names[i + 1],) * form.count(b"%s"))) for i in range(most)]
    if random.random() < 0.3:
        chain[-1] = chain[-1][0], form % ((names[0],) * form.count(b"%s"))  # and round again
    entities[at] = number, (form % ((names[0],) * form.count(b"%s")))
    entities += [*chain, (names[-1], text)]


WAYS = (
    reference, reference, reference, quantity, quantity, quantity, keyword, listed, listed, attribute, attribute, gone,
    doubled, swapped, foreign, spline, bomb,
)  # fmt: skip
