"""From a TOML file to a Case, with every problem of the file at once."""

from preloadmc.case_file.as_found import AS_FOUND, After, as_found, load_as_found
from preloadmc.case_file.load import Rivals, load_case, load_rivals, read_case
from preloadmc.case_file.load_records import RecordFile, load_records

__all__ = [
    "AS_FOUND",
    "After",
    "RecordFile",
    "Rivals",
    "as_found",
    "load_as_found",
    "load_case",
    "load_records",
    "load_rivals",
    "read_case",
]
