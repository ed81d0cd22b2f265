"""Exports: models and profiles as open files, the report, and folders that appear whole or not at all."""

from preview.drafting import (
    EdgeFacts,
    contact_sheet_png,
    contact_sheet_svg,
    edge_facts,
    profile_dxf,
    profile_pdf,
    profile_sheet_png,
    profile_sheet_svg,
    profile_svg,
)
from preview.exports.formats import FORMATS, USUAL, Writer, files_of, formats_named, read_back
from preview.exports.glb import Part, built_glb, glb_bytes
from preview.exports.glb_levels import levels_of
from preview.exports.gltf_files import gltf_files
from preview.exports.joint_drawing import JointDrawing, joint_files, joint_svg
from preview.exports.joint_drawing_notes import JointFigure
from preview.exports.joint_drawing_shapes import outline_of
from preview.exports.joint_pictures import drawn_joints
from preview.exports.names import file_names, picked_of, stem_of
from preview.exports.obj import obj_files
from preview.exports.ply import ply_bytes
from preview.exports.raked import RakedProfile, raked_files, raked_profiles
from preview.exports.report import REPORT, LeftOut, Report, ShownFile, WrittenFile, by_check, report_json, worst
from preview.exports.report_options import OptionReport
from preview.exports.staging import Stage, refuse_listed, refuse_other_scene, staged
from preview.exports.stl import stl_blocks, stl_bytes
from preview.exports.threemf import threemf_bytes
from preview.exports.writing import Content, refuse_unwritable, told, write_file, write_files

__all__ = [
    "FORMATS",
    "REPORT",
    "USUAL",
    "Content",
    "EdgeFacts",
    "JointDrawing",
    "JointFigure",
    "LeftOut",
    "OptionReport",
    "Part",
    "RakedProfile",
    "Report",
    "ShownFile",
    "Stage",
    "Writer",
    "WrittenFile",
    "built_glb",
    "by_check",
    "contact_sheet_png",
    "contact_sheet_svg",
    "drawn_joints",
    "edge_facts",
    "file_names",
    "files_of",
    "formats_named",
    "glb_bytes",
    "gltf_files",
    "joint_files",
    "joint_svg",
    "levels_of",
    "obj_files",
    "outline_of",
    "picked_of",
    "ply_bytes",
    "profile_dxf",
    "profile_pdf",
    "profile_sheet_png",
    "profile_sheet_svg",
    "profile_svg",
    "raked_files",
    "raked_profiles",
    "read_back",
    "refuse_listed",
    "refuse_other_scene",
    "refuse_unwritable",
    "report_json",
    "staged",
    "stem_of",
    "stl_blocks",
    "stl_bytes",
    "threemf_bytes",
    "told",
    "worst",
    "write_file",
    "write_files",
]
