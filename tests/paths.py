"""Where the tests find things."""

from pathlib import Path

HOME = Path(__file__).parent.parent
REFERENCE = HOME / "tests" / "reference"  # published values, each with its source
SAMPLES = HOME / "sample_images"
