"""The list of everything a shop is made of and checked with: .requirements/sbom.cdx.json, in CycloneDX 1.6.

Python packages from the locks with the hashes of their files, what static/ hands out of others, and what checks the
scripts; each with its licence. What a shop runs on is `required`, what only makes and checks it `excluded`.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from cyclonedx.model import HashAlgorithm, HashType
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentScope, ComponentType
from cyclonedx.model.license import LicenseExpression
from cyclonedx.output.json import JsonV1Dot6
from packageurl import PackageURL

from workshop.management.licences import ShippedFile
from workshop.management.pins import Pin, ScriptTool


def make_bill(
    base: Path,
    *,
    pins: Iterable[Pin],
    licence_of: Mapping[tuple[str, str], str],
    shipped: Iterable[ShippedFile],
    tools: Iterable[ScriptTool],
    made_at: dt.datetime,
) -> str:
    """The list as text, the same for the same parts but for `made_at` and its number.

    Args:
        base: the project's folder, that of pyproject.toml.
        licence_of: an SPDX expression for each pin, by name and version.
    """
    said = tomllib.loads((base / "pyproject.toml").read_text())["project"]
    project = Component(name=said["name"], version=said["version"], type=ComponentType.APPLICATION, bom_ref="project")
    parts = [
        *(_package(pin, licence_of[pin.key]) for pin in pins),
        *(_shipped(base, one) for one in shipped),
        *(_tool(tool) for tool in tools),
    ]
    bill = Bom(components=parts)
    bill.metadata.component, bill.metadata.timestamp = project, made_at
    bill.register_dependency(project, [part for part in parts if part.scope == ComponentScope.REQUIRED])
    return JsonV1Dot6(bill).output_as_string(indent=1) + "\n"


def parts_alone(bill: str) -> Any:
    """A list without when it was made and under which number."""
    read = json.loads(bill)
    return {**read, "serialNumber": "", "metadata": {**read["metadata"], "timestamp": ""}}


def _package(pin: Pin, licence: str) -> Component:
    address = PackageURL("pypi", None, pin.name, pin.version)
    hashes = [HashType(alg=HashAlgorithm.SHA_256, content=one) for one in pin.sha256]
    scope = ComponentScope.REQUIRED if pin.in_shop else ComponentScope.EXCLUDED
    return _component(address, pin.name, pin.version, licence, hashes, scope)


def _tool(tool: ScriptTool) -> Component:
    group, _, name = tool.name.rpartition("/")
    address = PackageURL("npm", group or None, name, tool.version)
    hashes = [HashType(alg=HashAlgorithm.SHA_512, content=tool.sha512)]
    return _component(address, tool.name, tool.version, tool.licence, hashes, ComponentScope.EXCLUDED)


def _component(
    address: PackageURL, name: str, version: str, licence: str, hashes: list[HashType], scope: ComponentScope
) -> Component:
    licences = [LicenseExpression(licence)]
    return Component(
        name=name, version=version, purl=address, bom_ref=address.to_string(), hashes=hashes, licenses=licences,
        scope=scope,
    )  # fmt: skip


def _shipped(base: Path, one: ShippedFile) -> Component:
    kind, _, name = one.package.partition("/")
    digest = hashlib.sha256((base / one.path).read_bytes()).hexdigest()
    return Component(
        name=one.path, version=one.version, type=ComponentType.FILE, bom_ref=one.path, description=one.name,
        purl=PackageURL(kind, None, name, one.version) if name else None, scope=ComponentScope.REQUIRED,
        hashes=[HashType(alg=HashAlgorithm.SHA_256, content=digest)], licenses=[LicenseExpression(one.licence)],
    )  # fmt: skip
