"""What all tests share: the seed, and case files made from one base case and overrides."""

from __future__ import annotations

import copy
import os
from pathlib import Path

import pytest
from case_text import case_text

from preloadmc import load_case
from preloadmc.case_file import Rivals

REPOSITORY = Path(__file__).parent.parent

# M12 of class 10.9 through two steel plates; every value stated, nothing scatters but what a test
# makes scatter.
BASE = {
    "title": "Test joint",
    "fastener": {
        "thread": "M12",
        "property_class": "10.9",
        "material": "steel",
        "bearing_outer_diameter": "16.63 mm",
        "hole_diameter": "13.5 mm",
    },
    "friction": {"thread": 0.12, "bearing": 0.12},
    "tightening": {"method": "torque", "torque": "77.4 N·m"},
    "joint": {"fastener_compliance": "3 um/kN", "clamped_compliance": "1 um/kN"},
    "requirement": {"minimum_preload": "28 kN", "maximum_preload": "62 kN"},
    "sampling": {"samples": 20_000, "seed": 7},
}


@pytest.fixture
def with_rivals():
    """Asked for by a test that is about causes left out, where the others of its file are not."""


@pytest.fixture
def named_alone(monkeypatch, request):
    """Weigh the suspects named alone: what is left out takes most of the time of a short test."""
    if "with_rivals" in request.fixturenames:
        return
    none = Rivals((), (), None)
    monkeypatch.setattr("preloadmc.questions.infer.question.load_rivals", lambda case: none)


@pytest.fixture
def seed():
    """The seed of every statistical check; sweep it by PRELOADMC_TEST_SEED."""
    return int(os.environ.get("PRELOADMC_TEST_SEED", "20"))


def merged(overrides):
    """The base case with values put under dotted paths; None takes the key away."""
    data = copy.deepcopy(BASE)
    for path, value in overrides.items():
        *tables, key = path.split(".")
        table = data
        for name in tables:
            table = table.setdefault(name, {})
        if value is None:
            table.pop(key, None)
        else:
            table[key] = value
    return data


@pytest.fixture
def write_case(tmp_path):
    """A function that writes the base case with overrides by dotted path and returns its path."""

    def write(overrides=None, name="joint.toml"):
        path = tmp_path / name
        path.write_text(case_text(merged(overrides or {})), encoding="utf-8")
        return path

    return write


@pytest.fixture
def make_case(write_case):
    """A function that returns the base case with overrides, read as any case file is."""

    def make(overrides=None):
        return load_case(write_case(overrides))

    return make


@pytest.fixture(scope="session")
def session_case(tmp_path_factory):
    """As `make_case`, for a case that many examples of one test share."""

    def make(overrides=None):
        path = tmp_path_factory.mktemp("case") / "joint.toml"
        path.write_text(case_text(merged(overrides or {})), encoding="utf-8")
        return load_case(path)

    return make


@pytest.fixture(scope="session")
def case_files():
    """Paths of all shipped cases."""
    return sorted((REPOSITORY / "cases").glob("*.toml"))
