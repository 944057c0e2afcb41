"""Tables as the text of a case file."""

import json


def toml(value):
    """A value as TOML; tables inline."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(k)} = {toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(toml(item) for item in value) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return str(value).lower() if isinstance(value, bool) else repr(value)


def case_text(data):
    """A whole case file; one line for each key at the top."""
    return "".join(f"{key} = {toml(value)}\n" for key, value in data.items())
