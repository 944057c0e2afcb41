"""From a TOML file to a Case, with every problem of the file at once."""

from preloadmc.case_file.load import load_case, load_pairs, read_case

__all__ = ["load_case", "load_pairs", "read_case"]
