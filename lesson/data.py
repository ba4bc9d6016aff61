"""Where the data files lie: `grammars/` and `shared/`, beside the package in a checkout, inside it once installed; how
learned ones are read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar
from zipfile import BadZipFile

from lesson.errors import DataError

_PACKAGE = Path(__file__).resolve().parent

# A checkout keeps the folders beside the package; there, site-packages may hold a stranger's folder of that name,
# so the package's own copy is asked first.
_ROOTS = (_PACKAGE, _PACKAGE.parent)


Learned = TypeVar("Learned")


def read_learned(path: Path, parse: Callable[[bytes], Learned], what: str) -> Learned | None:
    """What was learned, of one file of arrays, None where there is none; `parse` may raise OSError, EOFError,
    ValueError, KeyError or BadZipFile where the bytes hold no `what`.

    Raises: DataError if the file is broken.
    """
    try:
        return parse(path.read_bytes())
    except FileNotFoundError:
        return None
    except (OSError, EOFError, ValueError, KeyError, BadZipFile) as error:
        raise DataError(f"{path}: not {what} ({error}); run `python -m lesson.learn` to make it") from error


def data_path(name: str) -> Path:
    """The file or folder `name`, such as `"grammars/en.toml"` or `"shared"`.

    Raises DataError when this copy of the program does not carry it.
    """
    for root in _ROOTS:
        path = root / name
        if path.exists():
            return path
    raise DataError(f"{name}: this data file is missing from the installation at {_PACKAGE}; install lesson again")
