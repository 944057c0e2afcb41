"""From a TOML file to a Case, with every problem of the file at once."""

from preloadmc.case_file.load import Rivals, load_case, load_rivals, read_case

__all__ = ["Rivals", "load_case", "load_rivals", "read_case"]
