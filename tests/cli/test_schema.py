"""The schema of the case file, on standard output and in a file."""

import json

from preloadmc.case_file.schema import case_schema


def test_the_schema_on_standard_output_and_in_a_file(call, tmp_path):
    shown = call("schema")
    assert shown.exit_code == 0
    assert json.loads(shown.output) == case_schema()
    file = tmp_path / "preloadmc.schema.json"
    told = call("schema", "--out", file)
    assert (told.exit_code, told.output) == (0, f"Written: {file}\n")
    assert file.read_text(encoding="utf-8") == shown.output
    again = call("schema", "--out", file)
    assert again.exit_code == 2
    assert "exists; name another file, or replace it with --overwrite" in again.stderr
    file.write_text("old", encoding="utf-8")
    assert call("schema", "--out", file, "--overwrite").exit_code == 0
    assert file.read_text(encoding="utf-8") == shown.output
    alone = call("schema", "--overwrite")
    assert (alone.exit_code, alone.stdout) == (2, "")
