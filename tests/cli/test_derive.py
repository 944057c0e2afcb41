"""`preloadmc derive`: text on standard output, in the asked units."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from preloadmc.cli.main import main


def test_derive_prints_the_hand_calculation(write_case):
    found = CliRunner().invoke(main, ["derive", str(write_case()), "--full"])
    assert found.exit_code == 0
    assert found.output.startswith("Test joint\n\n- Warning: Not judged, since the case does not ")
    assert "\n\nDerivation at nominal values\n" in found.output
    thread = "(P/π + mu_t·d_2/cos 30°)/(1 - P·mu_t/(π·d_2·cos 30°))/2"
    assert f"\n   B = {thread} + mu_b·D_b/2\n" in found.output
    assert "Cautions:" in found.output


def test_the_screen_is_the_chain_of_results(write_case):
    found = CliRunner().invoke(main, ["derive", str(write_case())])
    assert found.exit_code == 0
    assert "Tightening: torque: F_M = (T - T_p)/B = " in found.output
    assert "Derivation at nominal values" not in found.output


@pytest.mark.parametrize("full", [[], ["--full"]])
def test_derive_in_inch_units(write_case, full):
    found = CliRunner().invoke(main, ["derive", str(write_case()), "--units", "inch", *full])
    assert "lbf" in found.output
    assert "kN" not in found.output


def test_a_bad_case_is_told(write_case):
    found = CliRunner().invoke(main, ["derive", str(write_case({"friction.thread": None}))])
    assert found.exit_code == 2
    assert "friction.thread" in found.output
