"""The tree, the names, the units and the colors of STEP files, as AP242 (ISO 10303-242) has them.

Read twice: by a reader of Part 21 that shares nothing with the kernel (`part21`), and by the kernel's own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any

import pytest

from part21 import Entity, Ref, Structure, Word, references, structure
from preview.build import Built, build
from preview.models.solid import Solids
from preview.models.solid import step as step_module
from preview.models.solid.measures import volume_of
from preview.runs import Straight
from preview.scene import load_scene
from solid_pieces import kernel, laid, solids

SCENES = Path(__file__).parents[2] / "scenes"
NAMES = ("door-casing", "stair-hall", "stair-wall")
"""Three runs, blocks, and pieces on the face of a wall; members in two finishes; a rake, whose edges are not exact."""

Tree = tuple[str, list[Any]]
"""A name, and the trees below it."""


@dataclass(frozen=True)
class Case:
    built: Built
    made: Solids
    path: Path
    file: Structure


@pytest.fixture(scope="module", params=NAMES)
def case(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Case:
    built = build(load_scene(SCENES / f"{request.param}.toml"))
    made = solids(built.pieces)
    path = tmp_path_factory.mktemp("step") / f"{request.param}.step"
    made.write_step(path, built.scene.title, [member.finish.color for member in built.members], built.digest)
    return Case(built, made, path, structure(path.read_text("ascii")))


def product(file: Structure, definition: Ref) -> list[Any]:
    """id, name, ... of the product that a PRODUCT_DEFINITION is of."""
    formation = file.of(definition, "PRODUCT_DEFINITION")[2]
    return file.of(file.of(formation, "PRODUCT_DEFINITION_FORMATION")[2], "PRODUCT")


def trees(file: Structure) -> list[Tree]:
    """What the assemblies hold; every occurrence must be called as its product is."""
    below: dict[Ref, list[Ref]] = {Ref(number): [] for number in file.all("PRODUCT_DEFINITION")}
    parts: set[Ref] = set()
    for _, name, _, whole, part, designator in file.all("NEXT_ASSEMBLY_USAGE_OCCURRENCE").values():
        below[whole].append(part)
        assert part not in parts
        parts.add(part)
        assert name == product(file, part)[1]
        assert designator is None

    def tree(definition: Ref) -> Tree:
        return product(file, definition)[1], [tree(part) for part in below[definition]]

    return [tree(each) for each in below if each not in parts]


def wanted(title: str, places: list[tuple[str, str, str]]) -> list[Tree]:
    runs: dict[str, dict[str, list[Tree]]] = {}
    for run, member, name in places:
        runs.setdefault(run, {}).setdefault(f"{run} / {member}", []).append((name, []))
    return [(title, [(run, list(members.items())) for run, members in runs.items()])]


def places(made: Solids) -> list[tuple[str, str, str]]:
    return [(piece.run, piece.member, piece.name) for piece in made.pieces]


def test_it_is_ap242(case: Case) -> None:
    """The schema's name and object identifier, and the protocol's name and year: ISO 10303-242:2014, its first edition
    (from memory, as the standard is sold)."""
    ((schema,),) = case.file.header["FILE_SCHEMA"]
    assert schema == "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF { 1 0 10303 442 1 1 4 }"
    ((status, protocol, year, context),) = case.file.all("APPLICATION_PROTOCOL_DEFINITION").values()
    assert (status, protocol, year) == ("international standard", "ap242_managed_model_based_3d_engineering", 2014)
    assert [Ref(number) for number in case.file.all("APPLICATION_CONTEXT")] == [context]
    assert case.file.header["FILE_DESCRIPTION"][0][0].endswith(case.built.digest)


def test_every_reference_leads_somewhere_and_nothing_hangs_loose(case: Case) -> None:
    """Instances that nothing refers to are those that tie others together."""
    referred = {ref.number for parts in case.file.instances.values() for ref in references(parts)}
    assert referred <= case.file.instances.keys()
    loose = {part.keyword for n in case.file.instances.keys() - referred for part in case.file.instances[n]}
    assert loose == {
        "APPLICATION_PROTOCOL_DEFINITION",
        "SHAPE_DEFINITION_REPRESENTATION",
        "PRODUCT_RELATED_PRODUCT_CATEGORY",
        "CONTEXT_DEPENDENT_SHAPE_REPRESENTATION",
        "MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION",
    }


def test_the_tree_goes_from_the_title_by_runs_and_members_to_pieces(case: Case) -> None:
    assert trees(case.file) == wanted(case.built.scene.title, places(case.made))
    numbers = [values[0] for values in case.file.all("NEXT_ASSEMBLY_USAGE_OCCURRENCE").values()]
    assert numbers == [str(n) for n in range(1, len(numbers) + 1)]


def shapes(file: Structure) -> dict[str, Ref]:
    """The representation of each product's shape."""
    found = {}
    for definition, representation in file.all("SHAPE_DEFINITION_REPRESENTATION").values():
        found[product(file, file.of(definition, "PRODUCT_DEFINITION_SHAPE")[2])[1]] = representation
    return found


def solid_in(file: Structure, representation: Ref) -> tuple[Ref, Ref]:
    """The one solid in a piece's representation, and the representation's context."""
    _, items, context = file.of(representation, "ADVANCED_BREP_SHAPE_REPRESENTATION")
    (solid,) = (item for item in items if file.instances[item.number][0].keyword == "MANIFOLD_SOLID_BREP")
    return solid, context


def placed(shape: Any) -> list[list[float]]:
    """Where a shape's own frame lies: its origin, mm, its z and its x direction."""
    move = shape.wrapped.Location().Transformation()
    return [[move.Value(row, column) for row in (1, 2, 3)] for column in (4, 3, 1)]


def test_each_occurrence_ties_the_shape_of_a_part_to_that_of_its_whole(case: Case) -> None:
    """Assemblies stand in the scene's own coordinates, and so do pieces, but for those that the kernel holds moved."""
    file, found = case.file, shapes(case.file)
    there = {piece.name: placed(shape) for piece, shape in zip(case.made.pieces, case.made.shapes, strict=True)}
    here = [[0, 0, 0], [0, 0, 1], [1, 0, 0]]
    ties = file.all("CONTEXT_DEPENDENT_SHAPE_REPRESENTATION")
    assert len(ties) == len(file.all("NEXT_ASSEMBLY_USAGE_OCCURRENCE"))

    def frame(placement: Ref) -> list[list[float]]:
        _, origin, axis, across = file.of(placement, "AXIS2_PLACEMENT_3D")
        directions = [file.of(each, "DIRECTION")[1] for each in (axis, across)]
        return [file.of(origin, "CARTESIAN_POINT")[1], *directions]

    for relation, definition in ties.values():
        occurrence = file.of(definition, "PRODUCT_DEFINITION_SHAPE")[2]
        _, _, _, whole, part, _ = file.of(occurrence, "NEXT_ASSEMBLY_USAGE_OCCURRENCE")
        name = product(file, part)[1]
        ends = file.of(relation, "REPRESENTATION_RELATIONSHIP")[2:]
        assert ends == [found[name], found[product(file, whole)[1]]]
        (move,) = file.of(relation, "REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION")
        of_part, of_whole = file.of(move, "ITEM_DEFINED_TRANSFORMATION")[2:]
        assert frame(of_part) == here
        for row, wanted_row in zip(frame(of_whole), there.get(name, here), strict=True):
            assert row == pytest.approx(wanted_row, abs=1e-9)


def test_every_shape_is_in_millimeters_and_states_what_its_edges_may_be_off(case: Case) -> None:
    """The uncertainty of a piece is the largest tolerance in its solid, in one digit."""
    from OCP.ShapeAnalysis import ShapeAnalysis_ShapeTolerance

    file = case.file
    contexts = file.all("GLOBAL_UNIT_ASSIGNED_CONTEXT")
    assert len(contexts) == len(shapes(file))
    stated = {}
    for number, (units,) in contexts.items():
        length, angle, _ = units
        assert file.of(length, "LENGTH_UNIT") == []
        assert file.of(length, "SI_UNIT") == [Word("MILLI"), Word("METRE")]
        assert file.of(angle, "SI_UNIT") == [None, Word("RADIAN")]
        ((uncertainty,),) = file.of(Ref(number), "GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT")
        measure, unit, *_ = file.of(uncertainty, "UNCERTAINTY_MEASURE_WITH_UNIT")
        assert unit == length
        assert isinstance(measure, Entity)
        (stated[number],) = measure.values
    found = shapes(file)
    for piece, shape in zip(case.made.pieces, case.made.shapes, strict=True):
        _, context = solid_in(file, found[piece.name])
        largest = ShapeAnalysis_ShapeTolerance().Tolerance(shape.wrapped, 1)
        assert stated[context.number] == pytest.approx(largest, rel=0.5)


def test_each_solid_has_its_name_and_the_color_of_its_member_s_finish(case: Case) -> None:
    """Through each step of ISO 10303-46, and in the context of the solid that it colors."""
    file, found = case.file, shapes(case.file)
    solid_of = {piece.name: solid_in(file, found[piece.name]) for piece in case.made.pieces}
    colors: dict[Ref, tuple[float, ...]] = {}
    for _, items, context in file.all("MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION").values():
        (item,) = items
        _, (style,), solid = file.of(item, "STYLED_ITEM")
        assert (solid, context) in solid_of.values()
        ((usage,),) = file.of(style, "PRESENTATION_STYLE_ASSIGNMENT")
        side, of_side = file.of(usage, "SURFACE_STYLE_USAGE")
        assert side == Word("BOTH")
        _, (fill,) = file.of(of_side, "SURFACE_SIDE_STYLE")
        (area,) = file.of(fill, "SURFACE_STYLE_FILL_AREA")
        _, (of_area,) = file.of(area, "FILL_AREA_STYLE")
        _, color = file.of(of_area, "FILL_AREA_STYLE_COLOUR")
        assert solid not in colors
        colors[solid] = tuple(file.of(color, "COLOUR_RGB")[1:])
    for piece, member in zip(case.made.pieces, case.built.members, strict=True):
        solid, _ = solid_of[piece.name]
        assert file.of(solid, "MANIFOLD_SOLID_BREP")[0] == piece.name
        assert colors[solid] == pytest.approx(member.finish.color, abs=5e-7)
    distinct = {member.finish.color for member in case.built.members}
    assert len(file.all("COLOUR_RGB")) == len(distinct)


def labels(ask: Any) -> list[Any]:
    from OCP.TDF import TDF_LabelSequence

    found = TDF_LabelSequence()
    ask(found)
    return [found.Value(i) for i in range(1, found.Length() + 1)]


def name_of(label: Any) -> str:
    from OCP.TDataStd import TDataStd_Name

    found = TDataStd_Name()
    assert label.FindAttribute(TDataStd_Name.GetID_s(), found)
    return str(found.Get().ToExtString())


def test_the_kernel_reads_the_same_tree_places_colors_and_volumes(case: Case) -> None:
    import cadquery
    from OCP.Quantity import Quantity_Color, Quantity_TOC_sRGB
    from OCP.STEPCAFControl import STEPCAFControl_Reader
    from OCP.TDF import TDF_Label
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFDoc import XCAFDoc_ColorSurf, XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

    document = step_module._document()
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.SetColorMode(True)
    reader.ReadFile(str(case.path))
    assert reader.Transfer(document)
    tool: Any = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    paint: Any = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    ends: dict[str, tuple[Any, Any]] = {}

    def tree(label: Any, place: Any) -> Tree:
        parts = []
        for part in labels(lambda found: XCAFDoc_ShapeTool.GetComponents_s(label, found)):
            referred = TDF_Label()
            assert XCAFDoc_ShapeTool.GetReferredShape_s(part, referred)
            assert name_of(part) == name_of(referred)
            parts.append(tree(referred, place.Multiplied(XCAFDoc_ShapeTool.GetLocation_s(part))))
        if not parts:
            ends[name_of(label)] = label, place
        return name_of(label), parts

    found = [tree(label, TopLoc_Location()) for label in labels(tool.GetFreeShapes)]
    assert found == wanted(case.built.scene.title, places(case.made))
    for piece, shape, member in zip(case.made.pieces, case.made.shapes, case.built.members, strict=True):
        label, place = ends[piece.name]
        bare = XCAFDoc_ShapeTool.GetShape_s(label)
        (solid,) = cadquery.Shape.cast(bare.Moved(place)).Solids()
        assert solid.Volume() == pytest.approx(shape.Volume(), rel=1e-7)
        assert solid.Center().toTuple() == pytest.approx(shape.Center().toTuple(), abs=1e-5)
        color = Quantity_Color()
        assert paint.GetColor(bare, XCAFDoc_ColorSurf, color)
        assert color.Values(Quantity_TOC_sRGB) == pytest.approx(member.finish.color, abs=1e-6)


def test_colors_are_written_as_the_kernel_writes_srgb(tmp_path: Path) -> None:
    """COLOUR_RGB names no color space; sRGB in it is common practice, and the kernel's own writer does so."""
    from OCP.Quantity import Quantity_Color, Quantity_TOC_sRGB
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_AsIs
    from OCP.XCAFDoc import XCAFDoc_ColorGen, XCAFDoc_DocumentTool

    color = (0.00001, 0.25, 0.75)
    made = solids(laid([Straight(100)]).pieces)
    made.write_step(tmp_path / "ours.step", "seat", [color])
    document = step_module._document()
    label = XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).AddShape(made.shapes[0].wrapped, False)
    paint = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    paint.SetColor(label, Quantity_Color(*color, Quantity_TOC_sRGB), XCAFDoc_ColorGen)
    writer = STEPCAFControl_Writer()
    writer.SetColorMode(True)
    writer.Transfer(document, STEPControl_AsIs)
    writer.Write(str(tmp_path / "theirs.step"))
    ours, theirs = (
        [values[1:] for values in structure((tmp_path / name).read_text("ascii")).all("COLOUR_RGB").values()]
        for name in ("ours.step", "theirs.step")
    )
    assert ours == [pytest.approx(color, abs=1e-6)]
    assert theirs == [pytest.approx(color, abs=1e-6)]


def test_pieces_that_come_mixed_are_put_together_by_run_and_member(tmp_path: Path) -> None:
    """With their own colors and shapes."""
    built = build(load_scene(SCENES / "stair-hall.toml"))
    first = solids(built.pieces)
    order = sorted(range(len(built.pieces)), key=lambda i: (built.pieces[i].index, -i))
    assert order != sorted(order)
    mixed = Solids(tuple(first.pieces[i] for i in order), tuple(first.shapes[i] for i in order))
    path = tmp_path / "mixed.step"
    mixed.write_step(path, "mixed", [(i / 100, 0.0, 0.0) for i in order])
    file = structure(path.read_text("ascii"))
    assert trees(file) == wanted("mixed", places(mixed))
    color_of = {
        file.of(solid, "MANIFOLD_SOLID_BREP")[0]: red
        for (_, _, solid), (_, red, _, _) in zip(
            file.all("STYLED_ITEM").values(), file.all("COLOUR_RGB").values(), strict=True
        )
    }
    assert color_of == {piece.name: pytest.approx(i / 100) for i, piece in enumerate(built.pieces)}
    volumes = dict(step_module.read_step(path))
    for piece, shape in zip(first.pieces, first.shapes, strict=True):
        assert volumes[piece.name] == pytest.approx(volume_of(shape), rel=1e-9)


def names_below(tree: Tree) -> Iterator[str]:
    yield tree[0]
    yield from chain.from_iterable(map(names_below, tree[1]))


@pytest.mark.parametrize(
    "title", ["wall", "wall / base", "name-1-name", "= PRODUCT('name-1-name'", "Ä\\X2\\00C4\\X0\\ 木"]
)
def test_products_have_ids_of_their_own(title: str, tmp_path: Path) -> None:
    """Whatever the title is, which may be the name of a run: it keeps its name, and only its id is told apart."""
    made = solids(laid([Straight(100), Straight(50)]).pieces)
    path = tmp_path / "seat.step"
    made.write_step(path, title, [(0.5, 0.5, 0.5)] * 2)
    file = structure(path.read_text("ascii"))
    assert trees(file) == wanted(title, places(made))
    products = list(file.all("PRODUCT").values())
    assert len({values[0] for values in products}) == len(products) == 5
    for id_, name, *_ in products:
        assert re.fullmatch(re.escape(name) + r"( \(2\))?", id_)


def test_a_scene_without_pieces_is_a_title(tmp_path: Path) -> None:
    kernel()
    path = tmp_path / "empty.step"
    Solids((), ()).write_step(path, "nothing", [])
    assert trees(structure(path.read_text("ascii"))) == [("nothing", [])]


FILE = """ISO-10303-21;
HEADER;
ENDSEC;
DATA;
#1 = A('x',1.5E-05,(#1),$,*,.T.);
#2=(B() C(D(2)));
ENDSEC;
END-ISO-10303-21;
"""


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("#2=", "#1="),
        ("E-05", "e-05"),
        ("'x'", "'\xe4'"),
        ("'x'", "'\\S\\x'"),
        ("1.5", ".5"),
        (");\n", ")\n"),
        ("#2", "2"),
        ("*", "?"),
    ],
)
def test_the_reader_is_strict(right: str, wrong: str) -> None:
    read = structure(FILE)
    assert read.instances[1] == [Entity("A", ["x", 1.5e-05, [Ref(1)], None, Word("*"), Word("T")])]
    assert read.instances[2] == [Entity("B", []), Entity("C", [Entity("D", [2])])]
    assert right in FILE
    with pytest.raises(AssertionError):
        structure(FILE.replace(right, wrong, 1))
