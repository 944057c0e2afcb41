import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture
def seed():
    """The seed of every statistical check here; sweep it by PRELOADMC_TEST_SEED."""
    return int(os.environ.get("PRELOADMC_TEST_SEED", "20"))
