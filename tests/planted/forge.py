"""Plants one wrong edit at a time and asks checks about it; run as a program, it answers lines of JSON.

Nothing is written: a child process is forked for each question, whose import of the module (or reading of the table)
meets the edited text. What takes long to load, and is not ours, is loaded once before.
"""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import importlib.util
import io
import json
import os
import sys
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from types import CodeType, ModuleType

ROOT = Path(__file__).parents[2]
PASSED, FAILED, BROKEN = 0, 1, 2
"""What a child says: the checks passed, one failed (or could not even be read), or there was none to run."""

_LOADED_BEFORE = (
    "numpy", "scipy.stats", "scipy.optimize", "scipy.integrate", "hypothesis", "hypothesis.strategies", "pytest",
    "CoolProp.CoolProp", "chemicals.viscosity", "ambiance", "fluids", "pint", "mpmath", "gpxpy",
    "dateutil.relativedelta",
)  # fmt: skip
_OPTIONS = (
    "-q", "-x", "--noconftest", "-p", "no:django", "-p", "no:xdist", "-p", "no:cacheprovider", "-p", "no:randomly",
    "-o", "addopts=--import-mode=importlib", "-W", "ignore",
)  # fmt: skip


class _Edited(importlib.machinery.SourceFileLoader):
    """Loads a module from an edited text instead of its file."""

    def __init__(self, name: str, path: str, text: str) -> None:
        super().__init__(name, path)
        self._text = text

    def get_code(self, fullname: str) -> CodeType:
        return compile(self._text, self.path, "exec")


class _Finder(importlib.abc.MetaPathFinder):
    def __init__(self, module: str, path: Path, text: str) -> None:
        self._module, self._path, self._text = module, str(path), text

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if fullname != self._module:
            return None
        loader = _Edited(fullname, self._path, self._text)
        package = [str(Path(self._path).parent)] if self._path.endswith("__init__.py") else None
        return importlib.util.spec_from_file_location(
            fullname, self._path, loader=loader, submodule_search_locations=package
        )


def plant(path: str, old: str, new: str) -> None:
    """From here on, whoever imports or reads `path` in this process meets `new` where `old` stands once."""
    file = ROOT / path
    text = file.read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise ValueError(f"{path}: {old!r} stands there {text.count(old)} times")
    edited = text.replace(old, new)
    if file.suffix == ".py":
        sys.meta_path.insert(0, _Finder(".".join(Path(path).with_suffix("").parts), file, edited))
        return
    read_text = Path.read_text

    def reads(self: Path, *args: str | None, **kwargs: str | None) -> str:
        return edited if self == file else read_text(self, *args, **kwargs)

    Path.read_text = reads  # type: ignore[method-assign]


def _ask(path: str, old: str, new: str, targets: Sequence[str]) -> int:
    import pytest

    if path:
        plant(path, old, new)
    words = io.StringIO()
    with redirect_stdout(words), redirect_stderr(words):
        ended = int(pytest.main([*_OPTIONS, *targets]))
    if ended == pytest.ExitCode.OK:
        return PASSED
    # A check that cannot even be read (2: an error while collecting) has noticed; no check at all (4, 5) has not.
    return FAILED if ended in (pytest.ExitCode.TESTS_FAILED, pytest.ExitCode.INTERRUPTED) else BROKEN


def _in_a_child(question: Sequence[object]) -> int:
    child = os.fork()
    if child == 0:
        answer = BROKEN
        try:
            answer = _ask(*question)  # type: ignore[arg-type]
        finally:
            os._exit(answer)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def main() -> None:
    """Read a question a line, [path, old, new, [targets]], and answer each with a number."""
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    for name in _LOADED_BEFORE:
        importlib.import_module(name)
    import hypothesis

    hypothesis.settings.register_profile("planted", deadline=None, derandomize=True, database=None, max_examples=25)
    hypothesis.settings.load_profile("planted")
    answers = os.fdopen(os.dup(1), "w")
    for line in sys.stdin:
        print(_in_a_child(json.loads(line)), file=answers, flush=True)


if __name__ == "__main__":
    main()
