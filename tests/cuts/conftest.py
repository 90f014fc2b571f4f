"""Bodies that several test files share."""

import pytest

from profiles import Body, read
from tests.cuts.bodies import MODELS, body_of


@pytest.fixture(scope="session")
def boat() -> Body:
    """The flying boat in blocks of 40 mm."""
    return body_of(read(MODELS / "skerrywing.stl"), 40.0)
