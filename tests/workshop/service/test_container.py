"""The container's files, read as a builder reads them: what they copy is there, and what they set means something.

Whether they build and run, `.ci/container` tries where there is a builder.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import yaml

from tests.workshop.test_settings_table import settings_of_the_readme

CODE = Path(__file__).resolve().parents[3]
FOLDER = CODE / ".container"


def instructions() -> list[tuple[str, str]]:
    """Each instruction and what follows it, over continued lines."""
    text = re.sub(r"\\\n", " ", (FOLDER / "Containerfile").read_text())
    lines = [line.strip() for line in text.splitlines() if line.strip() and not line.startswith("#")]
    return [(name, rest.strip()) for name, _, rest in (line.partition(" ") for line in lines)]


def compose() -> dict[str, Any]:
    found = yaml.safe_load((FOLDER / "compose.yaml").read_text())
    assert isinstance(found, dict)
    return found


def test_what_it_copies_is_there_and_is_all_that_runs() -> None:
    sources = [word for name, rest in instructions() if name == "COPY" for word in rest.split()[:-1]]
    assert [source for source in sources if not (CODE / source).exists()] == []
    assert {"manage.py", "pyproject.toml", "fixtures", "static", "templates", "specs", "diagnosis", "workshop"} <= set(
        sources
    )
    assert not {".git", ".venv", ".data", "."} & set(sources)


def test_it_runs_as_the_shops_user_and_listens_inside() -> None:
    found = dict(instructions())
    assert found["USER"] == "workshop"
    assert json.loads(found["ENTRYPOINT"]) == ["python3", "manage.py"]
    assert json.loads(found["CMD"]) == ["serve", "--address", "0.0.0.0", "--http"]  # noqa: S104  inside its container
    assert found["STOPSIGNAL"] == "SIGINT"
    volumes = json.loads(found["VOLUME"])
    assert f"DATA_DIR={volumes[0]}" in found["ENV"]
    assert f"BACKUP_DIR={volumes[1]}" in found["ENV"]


def test_every_variable_that_they_set_is_one_of_the_shops() -> None:
    known = settings_of_the_readme() | {"LANG", "PYTHONDONTWRITEBYTECODE"}
    inside = {word.partition("=")[0] for word in dict(instructions())["ENV"].split()}
    services = compose()["services"]
    composed = {name for service in ("shop", "chores") for name in services[service]["environment"]}
    assert inside | composed <= known
    assert "DATABASE_URL" in composed


def test_only_this_machine_reaches_it_and_the_database_nobody() -> None:
    services = compose()["services"]
    assert services["shop"]["ports"] == ["127.0.0.1:8000:8000"]
    assert "ports" not in services["database"]
    assert "ports" not in services["chores"]
    assert services["shop"]["cap_drop"] == services["chores"]["cap_drop"] == ["ALL"]


def test_volumes_and_files_that_compose_names_are_there() -> None:
    whole = compose()
    mounted = {mount.partition(":")[0] for one in whole["services"].values() for mount in one["volumes"]}
    assert mounted == set(whole["volumes"])
    build = whole["services"]["shop"]["build"]
    assert (FOLDER / build["context"] / build["dockerfile"]).is_file()
