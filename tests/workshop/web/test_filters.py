"""The project's own filters and tags stand beside Django's, never in their place."""

from __future__ import annotations

from django.template import Engine

OWN = "workshop."


def test_no_built_in_filter_or_tag_is_overridden() -> None:
    engine = Engine.get_default()
    own = [library for name, library in zip(engine.builtins, engine.template_builtins, strict=True) if OWN in name]
    own += engine.template_libraries.values()
    djangos = [library for library in engine.template_builtins if library not in own]

    assert own
    for kind in ("filters", "tags"):
        taken = {name for library in djangos for name in getattr(library, kind)}
        ours = {name for library in own for name in getattr(library, kind) if _is_ours(getattr(library, kind)[name])}
        assert ours
        assert not ours & taken, f"{kind} that Django has too: {sorted(ours & taken)}"


def _is_ours(made: object) -> bool:
    return getattr(getattr(made, "__wrapped__", made), "__module__", "").startswith(OWN)
