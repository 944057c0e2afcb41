"""From a TOML file to a Case, with every problem of the file at once."""
