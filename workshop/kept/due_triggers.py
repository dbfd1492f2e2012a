"""Whatever a place on the due list follows from, and the trigger that has the unit's place worked out anew.

Each writes a row of its own and none is left out as a repeat: a row that is there may be on its way out, taken by
someone who read the unit before this change.
"""

from __future__ import annotations

from collections.abc import Iterator

from workshop.kept.trigger import Trigger

_UNITS = "INSERT INTO workshop_unitchanged (shop_id, unit_id) SELECT shop_id, id FROM workshop_suspensionunit WHERE"
EVERY_UNIT = f"{_UNITS} 1 = 1;"
_OF_ROW = f"{_UNITS} id = {{row}}.{{column}};"
_OF_CUSTOMER = f"{_UNITS} customer_id = new.{{column}};"
_OF_SHOP = f"{_UNITS} shop_id = new.shop_id;"
_OF_MODEL = f"{_UNITS} model_id = {{row}}.model_id AND {{row}}.quantity LIKE '%interval%';"

# Tables with a unit in each row, and the columns of them that count.
_OF_UNITS = {
    "unitrule": "unit_id, level, hours, months",
    "servicedone": 'unit_id, level, "on"',
    "weeklyhours": "unit_id, hours_per_week, conditions, since",
    "ride": "unit_id, began_at, moving_s",
    "counterreading": 'unit_id, "on", counter_hours',
    "changeofowner": 'unit_id, "on"',
    "remindedservice": "unit_id, level, counted_from",
    "decision": "unit_id, level, counted_from, snoozed_until",
    "ticket": "unit_id, state, booked_at",
}


def _triggers() -> Iterator[Trigger]:
    new, old = (_OF_ROW.format(row=row, column="unit_id") for row in ("new", "old"))
    for table, columns in _OF_UNITS.items():
        yield Trigger(f"due_{table}_in", "INSERT", f"workshop_{table}", new)
        yield Trigger(f"due_{table}_out", "DELETE", f"workshop_{table}", old)
        yield Trigger(f"due_{table}_other", f"UPDATE OF {columns}", f"workshop_{table}", f"{old} {new}")
    of_unit = _OF_ROW.format(row="new", column="id")
    yield Trigger("due_unit_in", "INSERT", "workshop_suspensionunit", of_unit)
    gone = "DELETE FROM workshop_unitchanged WHERE unit_id = old.id;"
    yield Trigger("due_unit_out", "DELETE", "workshop_suspensionunit", gone)
    facts = "model_id, travel_m, customer_id, created_at"
    yield Trigger("due_unit_other", f"UPDATE OF {facts}", "workshop_suspensionunit", of_unit)
    agreed = _OF_CUSTOMER.format(column="id")
    yield Trigger("due_customer_agreed", "UPDATE OF agreed_to_reminders", "workshop_customer", agreed)
    yield Trigger("due_customer_erased", "INSERT", "workshop_erasure", _OF_CUSTOMER.format(column="customer_id"))
    yield Trigger("due_figures_in", "INSERT", "workshop_intervalpolicy", _OF_SHOP)
    yield Trigger("due_figures_other", "UPDATE", "workshop_intervalpolicy", _OF_SHOP)
    new, old = (_OF_MODEL.format(row=row) for row in ("new", "old"))
    yield Trigger("due_spec_in", "INSERT", "specs_specvalue", new)
    yield Trigger("due_spec_out", "DELETE", "specs_specvalue", old)
    yield Trigger("due_spec_other", "UPDATE", "specs_specvalue", new)


DUE_TRIGGERS = tuple(_triggers())
