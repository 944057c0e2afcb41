import re


def test_a_case_in_words(call, case):
    result = call("check", case)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("Test joint\n\n- Warning: Not judged")
    assert "\n\nAn M12 fastener is tightened" in result.stdout
    assert "\nDefer to the applicable standard" in result.stdout


def test_full_has_every_caution_in_place_of_one_line(call, case):
    short, full = (call("check", case, *more).stdout for more in ((), ("--full",)))
    assert "\nCautions:\n" not in short
    assert "\nCautions:\n" in full
    # All that stands before is the same.
    assert full.startswith(short.partition("\nDefer to")[0])


def test_a_source_is_printed_once(call, case):
    text = " ".join(call("check", case).stdout.split())
    assert re.search(r"clamped\[1\]\.modulus: 207000 MPa \(steel\) \[\d\]", text)
    assert text.count("Shigley, 9th ed., Table 8-8") == 1


def test_assumed_values_are_in_the_units_asked_for(call, case):
    text = call("check", case, "--units", "inch").stdout
    assert "ksi (steel)" in text
    for unit in (" MPa", " mm", " kN", " N·m"):
        assert unit not in text


def test_in_the_units_asked_for_or_those_of_the_thread(call, write_case, scatter):
    metric = write_case(scatter)
    inch = write_case({**scatter, "fastener.thread": "1/2-13 UNC"}, "inch.toml")
    assert "minimum preload" in call("check", metric).stdout
    assert "33 kN" in call("check", metric).stdout
    assert "7419 lbf" in call("check", inch).stdout
    assert "7419 lbf" in call("check", metric, "--units", "inch").stdout
    assert "33 kN" in call("check", inch, "--units", "metric").stdout


def test_a_bad_case_is_told_on_standard_error(call, write_case):
    path = write_case({"tightening.tourque": "90 N·m", "friction.thread": -1})
    result = call("check", path)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith(f"preloadmc: {path}: 2 problems\n  - ")
    assert "nearest: 'torque'" in result.stderr
