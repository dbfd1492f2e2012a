"""The quick sums as people and links reach them: each sum, each error, inputs kept, no query string that breaks one."""

from __future__ import annotations

from typing import Any
from urllib.parse import unquote_plus, urlencode

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from pytest_django.asserts import assertContains, assertNotContains, assertTemplateUsed

from specs.lookup import GEOMETRY
from specs.models import SuspensionModel
from specs.typed_measures import beside_unit
from specs.units import parse
from tests.factories import (
    OilFactory,
    PartFactory,
    ShopFactory,
    SpecValueFactory,
    StockItemFactory,
    SuspensionModelFactory,
    UserFactory,
)
from workshop.staff.models import User
from workshop.sums.subjects import SUBJECTS
from workshop.web.fields import DepthField, QuantityField

pytestmark = pytest.mark.django_db

HTMX: dict[str, Any] = {"HX-Request": "true"}
_SPRING = {
    "piston_bore": ("length", "32 mm"),
    "air_shaft": ("length", "10 mm"),
    "damper_shaft": ("length", "10 mm"),
    "stanchion": ("length", "35 mm"),
    "positive_volume": ("volume", "180 ml"),
    "negative_volume": ("volume", "25 ml"),
    "lower_leg_volume": ("volume", "450 ml"),
    "port_travel": ("length", "4 mm"),
    "seal_friction": ("force", "25 N"),
    "max_pressure": ("pressure", "120 psi"),
}


@pytest.fixture
def signed_in(client: Client) -> Client:
    client.force_login(UserFactory(mechanic=True))
    return client


def known_fork(**left_out: None) -> SuspensionModel:
    """A fork of one travel whose spring is known, but for what is left out."""
    model: SuspensionModel = SuspensionModelFactory(travels_mm=[160])
    for key, (dimension, typed) in _SPRING.items():
        if key not in left_out:
            SpecValueFactory(model=model, quantity=key, typed=typed, magnitude_si=parse(typed, dimension, ""))
    return model


def ask(client: Client, key: str, htmx: bool = False, **query: Any) -> Any:
    address = f"{reverse('sums:sum', args=[key])}?{urlencode(query)}"
    return client.get(address, headers=HTMX if htmx else {})


@pytest.mark.parametrize("role", User.Role.values)
def test_every_role_finds_the_sums_on_the_board(client: Client, role: str) -> None:
    client.force_login(UserFactory(role=role))
    response = client.get(reverse("sums:index"))
    assertContains(response, f'href="{reverse("sums:index")}" aria-current="true"')
    for subject in SUBJECTS.values():
        assertContains(response, reverse("sums:sum", args=[subject.key]))


@pytest.mark.parametrize("key", SUBJECTS)
def test_an_empty_sum_asks_and_complains_of_nothing(signed_in: Client, key: str) -> None:
    response = ask(signed_in, key)
    assertContains(response, "The result appears here")
    assertNotContains(response, "field__error")


def test_a_sum_there_is_not(signed_in: Client) -> None:
    assert signed_in.get(reverse("sums:sum", args=["weather"])).status_code == 404


# Each sum plainly.


def test_units(signed_in: Client) -> None:
    response = ask(signed_in, "units", value="82 psi")
    assertContains(response, "82 psi is 5.6537 bar or 565.37 kPa.")
    assertContains(response, "NIST SP 811")


def test_torque(signed_in: Client) -> None:
    response = ask(signed_in, "torque", torque="30", wrench="300", extension="5 cm", angle="0")
    assertContains(response, "Set the wrench to 25.7 N·m to put 30 N·m on the bolt.")


def test_o_rings(signed_in: Client) -> None:
    response = ask(signed_in, "o-rings", inside="10.8", section="2.6", depth="2.2", width="3.4", motion="dynamic")
    assertContains(response, "Most likely size 111")
    assertContains(response, "In the groove")


def test_oils(signed_in: Client) -> None:
    shop = User.objects.get().shop
    oil = OilFactory(name="Moor Oil", kv40_mm2_s=32.0, kv100_mm2_s=5.4)
    other = OilFactory(name="Fen Oil", kv40_mm2_s=30.0, kv100_mm2_s=5.2)
    StockItemFactory(shop=shop, part=PartFactory(oil=other))
    response = ask(signed_in, "oils", oil=oil.name, temperature="20")
    assertContains(response, "Moor Oil has viscosity index 102 and 86.3 mm²/s at 20 °C.")
    assertContains(response, "Fen Oil stands nearest")
    assertContains(response, '<td data-label="In Stores">yes</td>', html=True)


def test_another_shops_stores_do_not_count(signed_in: Client) -> None:
    other = OilFactory(name="Fen Oil", kv40_mm2_s=30.0, kv100_mm2_s=5.2)
    StockItemFactory(shop=ShopFactory(), part=PartFactory(oil=other))
    response = ask(signed_in, "oils", kv40="32", kv100="5.4")
    assertContains(response, '<td data-label="In Stores">no</td>', html=True)


SHOCK: dict[str, Any] = {
    "wheel_travel": "150",
    "stroke": "60",
    "rider_mass": "80 kg",
    "rear_share": "60",
    "wanted_sag": "30",
}
CAN: dict[str, Any] = {
    "bore": "44", "body": "36", "positive_volume": "125", "negative_volume": "14", "port_travel": "6",
    "max_pressure": "300 psi",
}  # fmt: skip


def test_shock(signed_in: Client) -> None:
    response = ask(signed_in, "shock", **SHOCK)
    assertContains(response, "A coil of 65.4\N{NO-BREAK SPACE}N/mm (373\N{NO-BREAK SPACE}lb/in).")
    assertContains(response, "is 18 mm at the shock and 45 mm at the wheel.")
    fitted = ask(signed_in, "shock", **SHOCK, rate="400 lb/in", preload="2")
    assertContains(fitted, "The coil that is fitted sags 14.8 mm")
    assertNotContains(fitted, "both chambers")  # a coil has none, and no port


def test_the_pressure_of_a_shocks_air_can(signed_in: Client) -> None:
    response = ask(signed_in, "shock", **SHOCK, **CAN)
    assertContains(response, "level in both chambers")
    assertNotContains(response, "A coil of")


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"stroke": "30"}, "stroke"),
        ({"bore": ""}, "bore"),
        ({"body": "50"}, "body"),
        ({"max_pressure": "60 psi"}, "rider_mass"),
        ({"rate": "65 psi"}, "rate"),
        ({"rate": "6"}, "rider_mass"),
        ({"preload": "90"}, "preload"),
    ],
)
def test_a_shock_that_cannot_be_is_refused_beside_its_field(
    signed_in: Client, changed: dict[str, str], field: str
) -> None:
    response = ask(signed_in, "shock", **(SHOCK | CAN | changed))
    assert field in response.context["form"].errors


def test_a_coil_too_stiff_for_the_sag_is_said(signed_in: Client) -> None:
    assertContains(ask(signed_in, "shock", **SHOCK, rate="90"), "it is too stiff")


def test_sag(signed_in: Client) -> None:
    model = known_fork()
    response = ask(signed_in, "sag", model=model.pk, wanted_sag="20", measured_sag="40", pressure="70", rider_mass="80")
    assertContains(response, "of sag, 20")
    assertContains(response, "The rule of thumb says 87.5 psi.")
    assertContains(response, "Not checked against the manual")


def test_pump(signed_in: Client) -> None:
    model = known_fork()
    response = ask(signed_in, "pump", pressure="82", hose="3", model=model.pk, to_altitude="2000")
    assertContains(response, "Round by round")
    assertContains(response, "Shown with the hose on")
    assertContains(response, "Shown there")


# The shop's units, and any other.


def test_the_shop_reads_its_own_units(client: Client) -> None:
    shop = ShopFactory(torque_unit="in·lbf", length_unit="in")
    client.force_login(UserFactory(shop=shop))
    response = ask(client, "torque", torque="8 N·m", wrench="300 mm", extension="50 mm")
    assertContains(response, "Set the wrench to 61 in·lbf to put 71 in·lbf on the bolt.")


def test_a_sag_may_be_typed_as_a_share_or_a_depth(signed_in: Client) -> None:
    model = known_fork()
    as_share = ask(signed_in, "sag", model=model.pk, wanted_sag="20 %", measured_sag="25 %", pressure="70")
    as_depth = ask(signed_in, "sag", model=model.pk, wanted_sag="32 mm", measured_sag="40 mm", pressure="70")
    assert as_share.context["answer"] == as_depth.context["answer"]


def test_what_is_typed_goes_before_the_models_value(signed_in: Client) -> None:
    model = known_fork()
    asked: dict[str, Any] = {"model": model.pk, "wanted_sag": "20", "measured_sag": "40", "pressure": "70"}
    as_known = ask(signed_in, "sag", **asked).context["answer"]
    typed = ask(signed_in, "sag", **asked, negative_volume="40 ml").context["answer"]
    assert as_known.rows[0] != typed.rows[0]


def test_a_spring_can_be_typed_without_a_model(signed_in: Client) -> None:
    typed: dict[str, Any] = {key: text for key, (_, text) in _SPRING.items()}
    response = ask(signed_in, "sag", travel="160", wanted_sag="20", measured_sag="40", pressure="70", **typed)
    assertContains(response, "from the spring")


def test_missing_geometry_is_named_and_the_rule_given(signed_in: Client) -> None:
    model = known_fork(negative_volume=None)
    response = ask(signed_in, "sag", model=model.pk, wanted_sag="20", measured_sag="40", pressure="70")
    assertContains(response, "By the rule of thumb set 87.5 psi")
    assertContains(response, "not known: negative chamber volume, extended.")


def test_the_makers_sag_serves_where_none_is_wanted(signed_in: Client) -> None:
    model = known_fork()
    for key, share in (("sag_low", 0.15), ("sag_high", 0.25)):
        SpecValueFactory(model=model, quantity=key, typed=f"{share:.0%}", magnitude_si=share)
    response = ask(signed_in, "sag", model=model.pk, measured_sag="40", pressure="70")
    assertContains(response, "32 mm, 20")


# Each error, beside its field, with nothing lost.

ERRORS: list[tuple[str, dict[str, str], str, str]] = [
    ("units", {"value": "82"}, "value", "Add the unit"),
    ("units", {"value": "82 qwertz"}, "value", "not known here"),
    ("units", {"value": "-300 C"}, "value", "absolute zero"),
    ("units", {"value": "82 psi", "kind": "torque"}, "value", "not a unit of torque"),
    ("units", {"value": "82 psi", "kind": "weather"}, "kind", "not in the list"),
    ("torque", {"torque": "80", "thread": "M6"}, "torque", "Was 8 N·m or 80 in·lbf (9 N·m) meant?"),
    ("torque", {"torque": "0"}, "torque", "Enter a value from 0.1 N·m to 400 N·m."),
    ("torque", {"torque": "8", "extension": "50"}, "wrench", "own length is needed"),
    ("torque", {"torque": "8", "wrench": "100", "extension": "200", "angle": "180"}, "extension", "past the hand"),
    ("torque", {"torque": "8", "angle": "200"}, "angle", "Enter a value from 0° to 180°."),
    ("torque", {"torque": "30", "tool_max": "20"}, "tool_max", "beyond where this tool ends"),
    ("torque", {"torque": "8", "thread": "M99"}, "thread", "not in the list"),
    ("torque", {"extension": "50"}, "torque", "Enter this."),
    ("o-rings", {"inside": "2.6", "section": "10.8"}, "section", "Enter a value from 0.5 mm to 10 mm."),
    ("o-rings", {"inside": "2", "section": "2.6"}, "section", "are the two swapped?"),
    ("o-rings", {"inside": "10.8", "section": "2.6", "width": "3"}, "depth", "its depth is needed"),
    ("o-rings", {"inside": "10.8", "section": "2.6", "groove_diameter": "ten"}, "groove_diameter", "Enter a number"),
    ("oils", {"oil": ""}, "oil", "Choose an oil"),
    ("oils", {"oil": "Bog Oil"}, "oil", "are not known"),
    ("oils", {"kv40": "32"}, "kv100", "by both viscosities"),
    ("oils", {"kv100": "5.4"}, "kv40", "by both viscosities"),
    ("oils", {"kv40": "5.4", "kv100": "32"}, "kv40", "are the two swapped?"),
    ("oils", {"kv40": "32", "kv100": "1"}, "kv100", "Below 2 mm²/s the index is not defined"),
    ("oils", {"kv40": "32 stokes", "kv100": "5"}, "kv40", "not known here"),
    ("oils", {"kv40": "15", "kv100": "3.8", "temperature": "200"}, "temperature", "It reaches from"),
    ("oils", {"kv40": "15", "kv100": "3.8", "mix_with": "Moor Oil"}, "share", "Say how much"),
    ("oils", {"kv40": "15", "kv100": "3.8", "mix_with": "Moor Oil", "wanted_kv40": "90"}, "wanted_kv40", "No mixture"),
    (
        "oils",
        {"kv40": "15", "kv100": "3.8", "mix_with": "Moor Oil", "wanted_kv40": "20", "share": "10"},
        "wanted_kv40",
        "not both",
    ),
    ("sag", {"wanted_sag": "20"}, "travel", "Choose a model, or give the travel"),
    ("sag", {"model": "fork", "travel": "150"}, "travel", "this model is made with 160 mm"),
    ("sag", {"model": "fork", "wanted_sag": "120"}, "wanted_sag", "Enter more than 0 and less than 100 %"),
    ("sag", {"model": "fork", "wanted_sag": "20"}, "measured_sag", "measure a sag at a known pressure"),
    ("sag", {"model": "fork", "wanted_sag": "20", "fork_share": "50"}, "rider_mass", "The share is of"),
    ("sag", {"model": "fork", "wanted_sag": "20", "measured_sag": "40"}, "pressure", "give the pressure"),
    ("sag", {"model": "fork", "wanted_sag": "20", "pressure": "70"}, "measured_sag", "give the sag"),
    ("sag", {"model": "fork", "measured_sag": "40", "pressure": "70"}, "wanted_sag", "Say what sag is wanted"),
    (
        "sag",
        {"model": "fork", "wanted_sag": "20", "measured_sag": "200 mm", "pressure": "70"},
        "measured_sag",
        "no more",
    ),
    ("sag", {"travel": "160", "wanted_sag": "20"}, "measured_sag", "geometry is not all known"),
    ("sag", {"model": "fork", "wanted_sag": "20", "trail_altitude": "9000"}, "trail_altitude", "from −500 to 5,000 m"),
    (
        "sag",
        {"model": "fork", "air_shaft": "33 mm", "wanted_sag": "20"},
        "air_shaft",
        "Enter a value from 4 mm to 30 mm.",
    ),
    (
        "sag",
        {"model": "fork", "piston_bore": "36 mm", "wanted_sag": "20"},
        "piston_bore",
        "not smaller than the stanchion",
    ),
    ("pump", {"pressure": "82"}, "chamber", "then there is a sum"),
    ("pump", {"pressure": "200", "model": "fork"}, "pressure", "never passed"),
    ("pump", {"pressure": "82", "from_altitude": "100"}, "to_altitude", "Say where it goes"),
    ("pump", {"pressure": "82", "to_temperature": "90 °C"}, "to_temperature", "Riding weather lies between these."),
    ("pump", {"hose": "3"}, "pressure", "Enter this."),
]


@pytest.mark.parametrize(("key", "query", "field", "reason"), ERRORS)
def test_an_error_stands_beside_its_field_and_nothing_typed_is_lost(
    signed_in: Client, key: str, query: dict[str, Any], field: str, reason: str
) -> None:
    OilFactory(name="Bog Oil", kv40_mm2_s=None, kv100_mm2_s=None)
    OilFactory(name="Moor Oil", kv40_mm2_s=32.0, kv100_mm2_s=5.4)
    if query.get("model") == "fork":
        query = query | {"model": str(known_fork().pk)}
    response = ask(signed_in, key, **query)
    form = response.context["form"]
    assert reason.lower() in " ".join(form.errors[field]).lower()
    assertContains(response, f'id="id_{field}_error"')
    assertContains(response, "No result yet")
    for name, typed in query.items():
        shown = form.fields[name]
        measured = isinstance(shown, QuantityField | DepthField)
        assert form[name].value() == (beside_unit(typed, shown.unit) if measured else typed)  # its unit stands beside


# Links, and htmx.


def test_the_address_keeps_what_was_asked(signed_in: Client) -> None:
    response = ask(signed_in, "torque", torque="70 in·lbf", wrench="300", extension="50", thread="M6")
    assertContains(response, 'value="70 in·lbf"')
    assertContains(response, '<option value="M6" selected>M6</option>', html=True)
    assertContains(response, 'method="get"')
    assertContains(response, 'hx-replace-url="true"')


def test_htmx_gets_the_answer_and_each_field_in_its_place(signed_in: Client) -> None:
    response = ask(signed_in, "torque", htmx=True, torque="80", thread="M6")
    assertTemplateUsed(response, "sums/_change.html")
    assertNotContains(response, "<html")
    assertContains(response, 'id="place-torque" hx-swap-oob="true"')
    assertContains(response, "Was 8 N·m")
    assertNotContains(response, "form-errors")


def test_while_filling_in_what_is_missing_is_asked_for_and_not_refused(signed_in: Client) -> None:
    response = ask(signed_in, "torque", htmx=True, torque="", extension="50")
    assertContains(response, "Still needed")
    assertContains(response, "Torque at the bolt.")
    assertNotContains(response, "field__error")
    response = ask(signed_in, "torque", htmx=True, torque="8", extension="50")
    assertContains(response, "Wrench, grip to drive: with an extension")
    assertNotContains(response, "field__error")


def test_used_groups_are_open_and_the_others_folded(signed_in: Client) -> None:
    response = ask(signed_in, "sag", travel="160", trail_altitude="2000")
    folded = {group.legend: group.folded for group in response.context["form"].shown_groups()}
    assert folded["From shop to trail"] is False
    assert folded["The spring, typed in"] is True


def test_posting_is_not_offered(signed_in: Client) -> None:
    assert signed_in.post(reverse("sums:sum", args=["units"])).status_code == 405


@pytest.mark.parametrize("key", ["oils", "sag", "pump"])
def test_queries_do_not_grow_with_oils_and_models(signed_in: Client, django_assert_num_queries: Any, key: str) -> None:
    model = known_fork()
    queries: dict[str, dict[str, Any]] = {
        "oils": {"kv40": "32", "kv100": "5.4"},
        "sag": {"model": model.pk, "wanted_sag": "20", "measured_sag": "40", "pressure": "70"},
        "pump": {"model": model.pk, "pressure": "82", "hose": "3"},
    }
    query = queries[key]
    wanted = {"oils": 3, "sag": 5, "pump": 5}[key]  # session, user with shop, then the sum's own
    for _ in range(2):
        with django_assert_num_queries(wanted):
            assert ask(signed_in, key, **query).context["answer"]
        for _ in range(5):
            StockItemFactory(part=PartFactory(oil=OilFactory()))
            SuspensionModelFactory()


# No query string breaks a sum.

_NUMBERS = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True).map(str),
    st.integers(-(10**25), 10**25).map(str),
    st.floats(-1e3, 1e3).map(lambda number: f"{number:.4g}"),
)
_UNITS = st.sampled_from(
    ["", " mm", " psi", " bar", " N·m", " °C", " %", " ml", " kg", "°", " m", " ft", " mm²/s", " N"]
)
_TYPED = st.one_of(
    st.tuples(_NUMBERS, _UNITS).map("".join),
    st.sampled_from(["", "M6", "8.8", "static", "pressure", "1", "0", "-0", "1e999", "٣", "\x00", "' OR 1=1", "²"]),
    st.text(max_size=60),
)
_NAMES = {key: sorted(n for plan in subject.form.groups for n in plan.names) for key, subject in SUBJECTS.items()}


@pytest.mark.parametrize("key", SUBJECTS)
@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_query_string_breaks_a_sum(signed_in: Client, key: str, data: st.DataObject) -> None:
    query = data.draw(st.dictionaries(st.sampled_from(_NAMES[key]), _TYPED, max_size=12))
    response = ask(signed_in, key, data.draw(st.booleans()), **query)
    if any("\x00" in typed for typed in query.values()):  # no keyboard types it: refused before any page
        assert response.status_code == 400
        return
    assert response.status_code == 200
    form = response.context["form"]
    assert response.context["answer"] or form.errors or form.still_needed or not form.is_bound


_PLAUSIBLE = {
    "travel": st.integers(30, 300).map(lambda mm: f"{mm} mm"),
    "wanted_sag": st.floats(0.1, 99).map(lambda percent: f"{percent:.3g} %"),
    "measured_sag": st.floats(0.1, 99).map(lambda percent: f"{percent:.3g} %"),
    "pressure": st.floats(2, 400).map(lambda psi: f"{psi:.4g} psi"),
    "hose": st.floats(0, 50).map(lambda ml: f"{ml:.3g} ml"),
    "trail_altitude": st.integers(-500, 5000).map(str),
    "trail_temperature": st.integers(-30, 50).map(lambda c: f"{c} °C"),
    "to_altitude": st.integers(-500, 5000).map(str),
    "to_temperature": st.integers(-30, 50).map(lambda c: f"{c} °C"),
    "rider_mass": st.integers(15, 250).map(lambda kg: f"{kg} kg"),
    "fork_share": st.integers(10, 100).map(lambda percent: f"{percent} %"),
    "piston_bore": st.floats(20, 40).map(lambda mm: f"{mm:.4g} mm"),
    "air_shaft": st.floats(6, 14).map(lambda mm: f"{mm:.4g} mm"),
    "damper_shaft": st.floats(6, 14).map(lambda mm: f"{mm:.4g} mm"),
    "stanchion": st.floats(30, 45).map(lambda mm: f"{mm:.4g} mm"),
    "positive_volume": st.floats(50, 400).map(lambda ml: f"{ml:.4g} ml"),
    "negative_volume": st.floats(0.5, 80).map(lambda ml: f"{ml:.4g} ml"),
    "lower_leg_volume": st.floats(200, 900).map(lambda ml: f"{ml:.4g} ml"),
    "port_travel": st.floats(0, 40).map(lambda mm: f"{mm:.3g} mm"),
    "seal_friction": st.floats(1, 100).map(lambda n: f"{n:.3g} N"),
    "max_pressure": st.integers(20, 400).map(lambda psi: f"{psi} psi"),
}


@pytest.mark.parametrize("key", ["sag", "pump"])
@settings(max_examples=50, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_spring_that_can_be_typed_breaks_a_sum(signed_in: Client, key: str, data: st.DataObject) -> None:
    names = [name for name in _NAMES[key] if name in _PLAUSIBLE]
    always = {"travel", "pressure", *GEOMETRY} | ({"wanted_sag", "measured_sag"} if key == "sag" else set())
    query: dict[str, Any] = {
        name: data.draw(_PLAUSIBLE[name]) for name in names if name in always or data.draw(st.booleans())
    }
    response = ask(signed_in, key, **query)
    assert response.status_code == 200
    answer = response.context["answer"]
    if answer is not None and key == "sag":
        rows = {row.label: row.value for row in answer.rows}
        maximum = float(rows["The fork’s maximum"].split()[0])
        for label in ("Set in the shop", "By the rule of thumb"):
            if label in rows:
                assert float(rows[label].split()[0]) <= maximum + 0.05


@example(query="torque=8&torque=80&thread=M6&thread=M5")
@example(query="%00=%00&value=%ff")
@given(query=st.text(max_size=80))
@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_raw_query_string_breaks_a_page(signed_in: Client, query: str) -> None:
    address = reverse("sums:sum", args=["torque"])
    response = signed_in.get(address, QUERY_STRING=query.encode("utf-8", "replace").decode("latin-1"))
    assert response.status_code == (400 if "\x00" in unquote_plus(query) else 200)
