"""The specs in the browser: pages are accessible and fit; a value is entered and checked as people do it."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from specs.models import SpecValue, SuspensionModel
from tests.factories import ServiceKitFactory, SpecValueFactory, SuspensionModelFactory, UserFactory

if TYPE_CHECKING:
    from workshop.models import User


@pytest.fixture
def owner(transactional_db: None) -> User:
    return UserFactory(owner=True)


@pytest.fixture
def plume(owner: User) -> SuspensionModel:
    """A fork with two values to check, one of them the owner's own, and the rest missing."""
    model = SuspensionModelFactory(maker="Kestrigan", name="Plume", travels_mm=[130, 140])
    SpecValueFactory(model=model, quantity="axle_torque", typed="12 N·m", magnitude_si=12.0, entered_by=UserFactory())
    SpecValueFactory(model=model, quantity="stem_torque", typed="5 N·m", magnitude_si=5.0, entered_by=owner)
    ServiceKitFactory(model=model)
    return model


@pytest.mark.any_database
@pytest.mark.parametrize("screen", ["desktop", "tablet", "phone"])
def test_every_page_is_accessible_and_fits(
    open_screen: Callable[..., Page],
    sign_in: Callable[..., None],
    axe: Callable[..., None],
    owner: User,
    plume: SuspensionModel,
    screen: str,
) -> None:
    page = open_screen(screen)
    sign_in(page, owner)
    value: list[object] = [plume.pk, "axle_torque"]
    pages: list[tuple[str, list[object]]] = [
        ("specs", []), ("specs_model", [plume.pk]), ("specs_unchecked", []), ("specs_value", value),
        ("specs_versions", value), ("specs_model_edit", [plume.pk]),
        ("specs_page", [plume.pk]), ("specs_manual", [plume.pk]),
    ]  # fmt: skip
    for name, args in pages:
        page.goto(reverse(f"office:{name}", args=args))
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), name


def test_a_value_is_entered_refused_and_mended_by_keyboard(
    desktop: Page,
    sign_in: Callable[..., None],
    axe: Callable[..., None],
    allowed_problems: list[str],
    owner: User,
    plume: SuspensionModel,
) -> None:
    allowed_problems.append("status of 422")
    sign_in(desktop, owner)
    desktop.goto(reverse("office:specs_model", args=[plume.pk]))
    desktop.get_by_role("link", name="Enter Foot fastener, spring side").press("Enter")
    desktop.get_by_label("Value").fill("80")
    desktop.get_by_label("Source", exact=True).fill("Service manual")
    desktop.keyboard.press("Enter")
    expect(desktop.get_by_role("alert")).to_contain_text("was the decimal point lost")
    expect(desktop.get_by_label("Source", exact=True)).to_have_value("Service manual")
    axe(desktop)
    desktop.get_by_label("Value").fill("8.0")
    desktop.keyboard.press("Enter")
    expect(desktop.get_by_text("Foot fastener, spring side: 8.0 N·m is saved.")).to_be_visible()


def test_a_run_of_values_is_typed_down_the_page_by_keyboard(
    desktop: Page, sign_in: Callable[..., None], allowed_problems: list[str], owner: User, plume: SuspensionModel,
) -> None:  # fmt: skip
    """Enter goes to the next value and saves nothing by itself; what is refused is marked, and nothing is lost."""
    allowed_problems.append("status of 422")
    sign_in(desktop, owner)
    desktop.goto(reverse("office:specs_page", args=[plume.pk]))
    desktop.get_by_label("Source", exact=True).fill("Service manual")
    desktop.get_by_label("Foot fastener, spring side, in N·m", exact=True).focus()
    for typed in ("80", "8"):
        desktop.keyboard.type(typed)
        desktop.keyboard.press("Enter")
    expect(desktop.get_by_label("Top cap, spring side, in N·m", exact=True)).to_be_focused()
    assert SpecValue.objects.count() == 2
    desktop.get_by_label("Full service, months, in months").press("Enter")
    save = desktop.get_by_role("button", name="Save all")
    expect(save).to_be_focused()
    save.press("Enter")
    expect(desktop.get_by_role("alert")).to_contain_text("was the decimal point lost")
    foot = desktop.get_by_label("Foot fastener, spring side, in N·m", exact=True)
    expect(foot).to_have_attribute("aria-invalid", "true")
    expect(desktop.get_by_label("Foot fastener, damper side, in N·m", exact=True)).to_have_value("8")
    foot.fill("8.0")
    save.press("Enter")
    expect(desktop.get_by_text("2 values are saved.")).to_be_visible()
    assert SpecValue.objects.filter(source_document="Service manual").count() == 2


def test_a_value_is_checked_in_place(
    desktop: Page,
    sign_in: Callable[..., None],
    axe: Callable[..., None],
    owner: User,
    plume: SuspensionModel,
) -> None:
    sign_in(desktop, owner)
    desktop.goto(reverse("office:specs_unchecked"))
    expect(desktop.get_by_text("You entered it yourself.")).to_be_visible()
    desktop.get_by_role("button", name="I compared this with the source").click()
    expect(desktop.get_by_text("Checked by you, just now.")).to_be_visible()
    axe(desktop)
    assert SpecValue.objects.get(quantity="axle_torque").checked_by == owner


def test_the_list_narrows_while_typing(desktop: Page, sign_in: Callable[..., None], owner: User) -> None:
    for name in ("Plume", "Quern"):
        SuspensionModelFactory(maker="Kestrigan", name=name)
    sign_in(desktop, owner)
    desktop.goto(reverse("office:specs"))
    box = desktop.get_by_label("Part of the maker’s or model’s name, or a year")
    box.press_sequentially("quer")
    expect(desktop.get_by_role("link", name="Kestrigan Plume")).to_have_count(0)
    expect(desktop.get_by_role("link", name="Kestrigan Quern")).to_be_visible()
    expect(box).to_be_focused()
    expect(desktop).to_have_url(re.compile(r"\?q=quer$"))


def test_checking_works_without_script(
    open_screen: Callable[..., Page], sign_in: Callable[..., None], owner: User, plume: SuspensionModel
) -> None:
    page = open_screen("desktop", java_script_enabled=False)
    sign_in(page, owner)
    page.goto(reverse("office:specs_unchecked"))
    page.get_by_role("button", name="I compared this with the source").click()
    expect(page.get_by_text("is checked.")).to_be_visible()
