"""What the tests of the library share."""

from __future__ import annotations

import pytest

from swatchcam.library.library import open_library


@pytest.fixture
def library(place):
    """A new one, in either kind of database."""
    return open_library(place, create=True)
