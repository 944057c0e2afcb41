"""The command line as a user meets it."""

import pytest
from click.testing import CliRunner

from preloadmc.cli.main import main

SCATTER = {
    "friction.thread": {"law": "lognormal", "mean": 0.13, "cov": "12 %"},
    "friction.bearing": {"law": "lognormal", "mean": 0.13, "cov": "14 %"},
    "requirement.minimum_preload": "33 kN",
    "requirement.allowed_under": "1 %",
    "requirement.allowed_over": "1 %",
    "clamped": [{"material": "steel", "thickness": "32 mm"}],
    "sampling": {"samples": 5000, "seed": 7},
}


@pytest.fixture
def scatter():
    """Overrides of the base case that make a few per cent of joints too loose."""
    return dict(SCATTER)


@pytest.fixture
def case(write_case, tmp_path, monkeypatch):
    """A case file in the current folder, which holds nothing else."""
    path = write_case(SCATTER)
    monkeypatch.chdir(tmp_path)
    return path.name


@pytest.fixture
def call():
    """A function that calls the command line with its arguments."""

    def call(*arguments):
        return CliRunner().invoke(main, [str(argument) for argument in arguments])

    return call
