import os

import pytest


@pytest.fixture
def seed():
    """The seed of every statistical check here; sweep it by PRELOADMC_TEST_SEED."""
    return int(os.environ.get("PRELOADMC_TEST_SEED", "20"))
