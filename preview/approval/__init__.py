"""The client's answer: the short code of a model, the answer file, and the records beside a scene.

code, reading -> answer; kept -> record
"""

from preview.approval.answer import Answer, Says, read_answer
from preview.approval.code import read_code, short_code
from preview.approval.kept import KeptFile, keep, restored
from preview.approval.reading import harmless
from preview.approval.record import NOT_A_SIGNATURE, Record, add_record, records, records_path

__all__ = [
    "NOT_A_SIGNATURE",
    "Answer",
    "KeptFile",
    "Record",
    "Says",
    "add_record",
    "harmless",
    "keep",
    "read_answer",
    "read_code",
    "records",
    "records_path",
    "restored",
    "short_code",
]
