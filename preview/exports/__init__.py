"""Exports: models as open files (GLB, STL), the report, and folders that appear whole or not at all."""

from preview.exports.glb import Part, glb_bytes
from preview.exports.names import file_names
from preview.exports.report import REPORT, LeftOut, Report, WrittenFile, by_check, piece_lengths, report_json, worst
from preview.exports.staging import Stage, staged
from preview.exports.stl import stl_blocks, stl_bytes
from preview.exports.writing import Content, told, write_file, write_files

__all__ = [
    "REPORT",
    "Content",
    "LeftOut",
    "Part",
    "Report",
    "Stage",
    "WrittenFile",
    "by_check",
    "file_names",
    "glb_bytes",
    "piece_lengths",
    "report_json",
    "staged",
    "stl_blocks",
    "stl_bytes",
    "told",
    "worst",
    "write_file",
    "write_files",
]
