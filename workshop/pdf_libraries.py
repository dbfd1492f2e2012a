"""The system libraries that laying out a PDF takes, and the Debian packages that hold them."""

from __future__ import annotations

import ctypes
from collections.abc import Callable

# The names WeasyPrint opens, on Debian and on macOS.
_LIBRARIES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("libpango-1.0-0", ("libpango-1.0.so.0", "libpango-1.0.dylib")),
    ("libpangoft2-1.0-0", ("libpangoft2-1.0.so.0", "libpangoft2-1.0.dylib")),
    ("libharfbuzz-subset0", ("libharfbuzz-subset.so.0", "libharfbuzz-subset.0.dylib")),
)


def can_open(library: str) -> bool:
    """Whether this process can load a library of that name."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def missing_packages(can_open: Callable[[str], bool] = can_open) -> list[str]:
    """Debian packages to install before PDFs can be made; empty where everything is there."""
    return [package for package, names in _LIBRARIES if not any(can_open(name) for name in names)]


def advice(missing: list[str]) -> str:
    """What to tell whoever starts the server."""
    return f"Everything but PDFs works. For PDFs, on Debian: apt-get install {' '.join(missing)}"
