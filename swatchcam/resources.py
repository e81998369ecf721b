"""Where data lies: what comes with the tool, and the user's own folders."""

from __future__ import annotations

import os
from pathlib import Path


def calibration_folder() -> Path:
    """The folder of designs and values that come with the tool, installed or in a checkout."""
    inside = Path(__file__).parent / "calibration"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "calibration"


def data_folder() -> Path:
    """The system's place for what the tool keeps of this user."""
    from platformdirs import user_data_path

    return user_data_path("swatchcam", appauthor=False)


def user_folder() -> Path:
    """The user's own folder of designs and values: SWATCHCAM_CARDS, or the system's place for user data."""
    chosen = os.environ.get("SWATCHCAM_CARDS")
    return Path(chosen) if chosen else data_folder() / "cards"
