"""Exports: models and profiles as open files, the report, and folders that appear whole or not at all."""

from preview.exports.glb import Part, glb_bytes
from preview.exports.names import file_names
from preview.exports.profile_contact import contact_sheet_png, contact_sheet_svg
from preview.exports.profile_drawing import profile_sheet_png, profile_sheet_svg
from preview.exports.profile_facts import EdgeFacts, edge_facts
from preview.exports.profile_full_size import profile_dxf, profile_svg
from preview.exports.profile_template import profile_pdf
from preview.exports.report import REPORT, LeftOut, Report, WrittenFile, by_check, piece_lengths, report_json, worst
from preview.exports.staging import Stage, staged
from preview.exports.stl import stl_blocks, stl_bytes
from preview.exports.writing import Content, told, write_file, write_files

__all__ = [
    "REPORT",
    "Content",
    "EdgeFacts",
    "LeftOut",
    "Part",
    "Report",
    "Stage",
    "WrittenFile",
    "by_check",
    "contact_sheet_png",
    "contact_sheet_svg",
    "edge_facts",
    "file_names",
    "glb_bytes",
    "piece_lengths",
    "profile_dxf",
    "profile_pdf",
    "profile_sheet_png",
    "profile_sheet_svg",
    "profile_svg",
    "report_json",
    "staged",
    "stl_blocks",
    "stl_bytes",
    "told",
    "worst",
    "write_file",
    "write_files",
]
