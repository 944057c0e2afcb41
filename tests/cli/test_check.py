def test_a_case_in_words(call, case):
    result = call("check", case)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("Test joint\n\nAn M12 fastener is tightened")
    assert "Cautions:" in result.stdout


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
