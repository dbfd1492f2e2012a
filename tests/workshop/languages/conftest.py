"""The pseudo-languages as if a shop had them, made once of what is marked now."""

from __future__ import annotations

from pathlib import Path

import pytest
from pytest_django import Settings

from tests.pseudo import made_pseudo
from workshop.pseudo_names import PSEUDO_LANGUAGES


@pytest.fixture(scope="session")
def pseudo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made_pseudo(tmp_path_factory.mktemp("pseudo"))


@pytest.fixture
def pseudo(pseudo_folder: Path, settings: Settings) -> None:
    """Both languages can be chosen; Django forgets its catalogues with these settings, before and after."""
    settings.LANGUAGES = [*settings.LANGUAGES, *PSEUDO_LANGUAGES]
    settings.LOCALE_PATHS = [pseudo_folder]
