"""The work order as a sheet: what hangs at the bench stands on its first page, the steps after it, nothing twice."""

from __future__ import annotations

import io
import re

import pypdf
import pytest
from PIL import Image

from specs.expected import expected_keys
from specs.models import SuspensionModel
from specs.quantities import QUANTITIES
from tests.factories import (
    BikeFactory,
    PartFactory,
    PartLineFactory,
    SettingsRecordFactory,
    SpecValueFactory,
    SuspensionModelFactory,
    SuspensionUnitFactory,
    TicketFactory,
    UserFactory,
)
from tests.pdf_structure import elements_of
from tests.shipped import shipped_checklist, shipped_folder
from workshop.demo.specs_data import load_demo_specs
from workshop.documents.common import printed_quantities
from workshop.documents.rendering import html_of, pdf_of
from workshop.documents.work_order import asked_together, beside_its_steps, gather_work_order
from workshop.tickets.models import Ticket
from workshop.till.logo import logo_of

pytestmark = pytest.mark.django_db
FORKS = [plan for plan in shipped_folder().checklists if not plan.key.startswith("shock")]
LONGEST = max(FORKS, key=lambda plan: len(plan.steps)).key
NO_DRAWING = "PHN2ZyB4bWxucz0iaHR0cDovL3d3dy53My5vcmcvMjAwMC9zdmciIHdpZHRoPSI5IiBoZWlnaHQ9IjkiLz4="


def planned(key: str) -> Ticket:
    """A fork of a usual kind with every value that it can have, booked in for what that checklist is for."""
    model = SuspensionModelFactory(crowns="single", inverted=False, ramp_chamber=False, remote="none")
    for quantity in printed_quantities():
        if quantity not in expected_keys(model):
            continue
        if QUANTITIES[quantity].dimension is not None and quantity != "max_pressure":
            SpecValueFactory(model=model, quantity=quantity, magnitude_si=1e-5, typed="as invented")
    SpecValueFactory(model=model)
    unit = SuspensionUnitFactory(model=model, travel_m=0.160)
    bike = BikeFactory(customer=unit.customer)
    ticket = TicketFactory(shop=unit.shop, customer=unit.customer, unit=unit, bike=bike, complaint_words="It sits")
    ticket.complaints.add(shipped_checklist(key).complaint)
    SettingsRecordFactory(ticket=ticket)
    for _ in range(4):
        PartLineFactory(ticket=ticket, part=PartFactory())
    return Ticket.objects.with_names().get(pk=ticket.pk)


def printed(ticket: Ticket, paper: str = "A4", logo: str = "") -> pypdf.PdfReader:
    data = {**gather_work_order(ticket, "https://shop.example/bench/7/"), "data_digest": "0" * 12}
    return pypdf.PdfReader(io.BytesIO(pdf_of(html_of("documents/work_order.html", data, logo=logo), paper)))


def words_of(page: pypdf.PageObject) -> str:
    return " ".join(page.extract_text().split())


@pytest.mark.parametrize(
    ("key", "paper", "most"),
    [
        ("routine-lowers-service", "A4", 2),
        ("routine-lowers-service", "Letter", 3),
        (LONGEST, "A4", 3),
        (LONGEST, "Letter", 3),
    ],
)
def test_a_usual_job_fills_two_pages_and_the_longest_three(key: str, paper: str, most: int) -> None:
    pages = [words_of(page) for page in printed(planned(key), paper).pages]

    assert 2 <= len(pages) <= most
    for words in ("“It sits”", "Maximum pressure", "As it leaves", "Parts total", "Second-person check"):
        assert words in pages[0], words
    assert "Mechanic, date" in pages[-1]


@pytest.mark.parametrize("key", ["oil-at-seals", "loses-air"])
def test_a_fork_of_the_demo_fills_two_pages(key: str) -> None:
    clerk = UserFactory(owner=True)
    load_demo_specs(entered_by=clerk, checked_by=UserFactory(shop=clerk.shop, owner=True))
    model = SuspensionModel.objects.get(name="Moraine")
    unit = SuspensionUnitFactory(shop=clerk.shop, customer__shop=clerk.shop, model=model, travel_m=0.180)
    ticket = TicketFactory(shop=clerk.shop, customer=unit.customer, unit=unit)
    ticket.complaints.add(shipped_checklist(key).complaint)
    SettingsRecordFactory(ticket=ticket)
    assert len(printed(Ticket.objects.with_names().get(pk=ticket.pk)).pages) == 2


@pytest.mark.parametrize("size", [(480, 120), (120, 480)])
def test_a_logo_wide_or_high_costs_no_page(size: tuple[int, int]) -> None:
    picture = io.BytesIO()
    Image.new("RGB", size, "#204060").save(picture, "PNG")
    picture.seek(0)

    pages = printed(planned("routine-lowers-service"), logo=logo_of(picture)).pages

    assert len(pages) == 2
    assert len(pages[0].images) == 1 + len(printed(planned("routine-lowers-service")).pages[0].images)


def test_a_source_is_printed_once_and_named_by_its_number() -> None:
    data = gather_work_order(planned("routine-lowers-service"), "")

    assert data["sources"] == ["Invented manual for tests, A"]
    assert {row["note"] for row in data["values"] if row["value"]} == {"1, p. 12"}
    assert {bolt["note"] for bolt in data["bolts"]} == {"1, p. 12"}
    text = " ".join(words_of(page) for page in printed(planned("sits-low")).pages)
    assert text.count("Invented manual for tests") == 1


def test_a_caution_is_told_whole_at_its_first_step_and_named_at_the_next() -> None:
    (checklist,) = gather_work_order(planned("routine-lowers-service"), "")["checklists"]

    told = [caution for step in checklist["steps"] for caution in step["cautions"]]
    titles = {caution["title"] for caution in told}
    assert len(told) > len(titles) > 5
    whole = [caution["title"] for caution in told if caution["text"]]
    assert sorted(whole) == sorted(titles)
    assert whole == list(dict.fromkeys(caution["title"] for caution in told))
    for level in ("caution", "notice"):  # what hurts little stands there once
        named = [caution["title"] for caution in told if caution["level"] == level]
        assert len(named) == len(set(named)) > 0, level
    dangers = [caution for caution in told if caution["level"] == "danger"]
    assert len(dangers) > len({caution["title"] for caution in dangers})
    assert {caution["word"] for caution in dangers} == {"Danger"}


def step_like(**said: object) -> dict[str, object]:
    cautions = [
        {"title": "Air", "text": "It is pressed in.", "level": "danger", "word": "Danger"},
        {"title": "Glasses", "text": "Wear them.", "level": "warning", "word": "Warning"},
        {"title": "Oil", "text": "Wipe it.", "level": "caution", "word": ""},
    ]
    step = {"cautions": cautions, "shows": [], "readings": [], "counts_as_found": "It hisses.", "is_over": False}
    return step | said


def test_a_step_that_is_done_keeps_its_dangers_and_the_next_open_one_tells_what_they_are() -> None:
    steps = [step_like(is_over=True), step_like(), step_like(), step_like(is_over=True)]
    (checklist,) = beside_its_steps([{"steps": steps}], [])
    shown = [
        [(one["title"], one["word"], bool(one["text"])) for one in step["cautions"]] for step in checklist["steps"]
    ]
    assert shown == [
        [("Air", "Danger", False)],
        [("Air", "Danger", True), ("Glasses", "Warning", True), ("Oil", "", True)],
        [("Air", "Danger", False), ("Glasses", "", False)],
        [("Air", "Danger", False)],
    ]
    assert [step["counts_as_found"] for step in checklist["steps"]] == ["", "It hisses.", "It hisses.", ""]


@pytest.mark.parametrize(
    ("labels", "asked"),
    [
        (["Oil, left", "Oil, right"], [("Oil", "left", 1), ("Oil", "right", 1)]),
        (["Oil, left", "Oil", "Oil, right"], [("Oil, left", "", 1), ("Oil", "", 2), ("Oil, right", "", 3)]),
        (["Rest, first, now"], [("Rest, first, now", "", 1)]),
        (["Sag, from", "Sag, to", "Sag"], [("Sag", "from", 1), ("Sag", "to", 1), ("Sag", "", 2)]),
        ([], []),
    ],
)
def test_neighbours_that_differ_in_their_side_share_their_words(
    labels: list[str], asked: list[tuple[str, str, int]]
) -> None:
    rows = asked_together({"label": label} for label in labels)
    assert [(row["asks"], row["side"], row["together"]) for row in rows] == asked


def test_no_step_stands_apart_from_its_title_and_no_signature_without_a_step() -> None:
    ticket = planned(LONGEST)
    (checklist,) = gather_work_order(ticket, "")["checklists"]
    pages = [words_of(page) for page in printed(ticket).pages]
    told = [step for step in checklist["steps"] if step["counts_as_found"]]
    assert len(told) > 5
    for step in told:
        title, found = f"{step['number']}. {step['title']}", f"Found if: {step['counts_as_found']}"
        assert [title in page for page in pages] == [found in page for page in pages], title
    last = checklist["steps"][-1]
    assert f"{last['number']}. {last['title']}" in pages[-1]
    assert "Mechanic, date" in pages[-1]


def test_the_bolts_of_a_job_not_begun_have_room_for_torque_tool_and_two_names() -> None:
    data = gather_work_order(planned("routine-lowers-service"), "")

    assert {bolt["bolt"] for bolt in data["bolts"]} >= {"foot_air_leg", "foot_damper_leg", "axle"}
    assert not {row["key"] for row in data["values"]} & {"foot_torque_air_leg", "axle_torque"}
    torque = [row["key"] for step in data["checklists"][0]["steps"] for row in step["values"]]
    assert "foot_torque_air_leg" in torque


def test_only_values_that_the_job_needs_are_printed() -> None:
    data = gather_work_order(planned("routine-lowers-service"), "")

    shown = {key for step in data["checklists"][0]["steps"] for key in step["shows"]}
    bolts = {"axle_torque", "caliper_torque", "stem_torque", "foot_torque_air_leg", "foot_torque_damper_leg"}
    assert {row["key"] for row in data["spec_values"]} <= shown | bolts
    assert len(data["spec_values"]) < len(printed_quantities())


def test_no_table_stands_there_for_its_looks() -> None:
    """ISO 14289-1, 7.5: what is tagged as a table has header cells."""
    tables = [element for element in elements_of(printed(planned("sits-low"))) if element.get("/S") == "/Table"]

    assert len(tables) >= 5
    for table in tables:
        assert [element for element in elements_of(table) if element.get("/S") == "/TH"]


def test_the_drawing_of_the_spring_has_words() -> None:
    data = gather_work_order(planned("sits-low"), "https://shop.example/bench/7/")
    data["spring"] = {
        "headline": "It sits.",
        "drawing": f"data:image/svg+xml;base64,{NO_DRAWING}",
        "drawing_in_words": "Force over travel",
        "sentences": [],
    }
    pdf = pdf_of(html_of("documents/work_order.html", {**data, "data_digest": "0" * 12}), "A4")

    figures = [one for one in elements_of(pypdf.PdfReader(io.BytesIO(pdf))) if one.get("/S") == "/Figure"]
    assert [figure["/Alt"] for figure in figures if re.search("Force", str(figure["/Alt"]))] == ["Force over travel"]
    assert all(figure.get("/Alt") for figure in figures)
