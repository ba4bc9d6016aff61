"""Where the data files lie: `grammars/` and `shared/`, beside the package in a checkout, inside it once installed."""

from __future__ import annotations

from pathlib import Path

from lesson.errors import DataError

_PACKAGE = Path(__file__).resolve().parent

# A checkout keeps the folders beside the package; there, site-packages may hold a stranger's folder of that name,
# so the package's own copy is asked first.
_ROOTS = (_PACKAGE, _PACKAGE.parent)


def data_path(name: str) -> Path:
    """The file or folder `name`, such as `"grammars/en.toml"` or `"shared"`.

    Raises DataError when this copy of the program does not carry it.
    """
    for root in _ROOTS:
        path = root / name
        if path.exists():
            return path
    raise DataError(f"{name}: this data file is missing from the installation at {_PACKAGE}; install lesson again")
