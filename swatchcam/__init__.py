"""Measure fabric screen-printing ink on cloth from a phone photo of a printed reference card."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from .errors import SwatchcamError
    from .library.library import open_library
    from .library.records import Record
    from .report.results import CheckResult, Measurement, Recommendation
    from .report.scripting import Target, check, correct, measure, recommend

__all__ = [
    "CheckResult",
    "Measurement",
    "Recommendation",
    "Record",
    "SwatchcamError",
    "Target",
    "check",
    "correct",
    "measure",
    "open_library",
    "recommend",
]

_HOMES = {"SwatchcamError": "errors", "open_library": "library.library", "Record": "library.records"}


def __getattr__(name: str) -> Any:
    """A public name, imported when it is first asked for (PEP 562): `import swatchcam` itself loads nothing."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f".{_HOMES.get(name, 'report.scripting')}", __name__), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
