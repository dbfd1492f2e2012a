"""Small drawings that stand beside a word, drawn for this project on a 24 by 24 grid. Never instead of the word."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.safestring import SafeString, mark_safe

_SHAPES: Mapping[str, str] = {
    "counter": '<path d="M3 11h18M5 11v9h14v-9M9 11V7a3 3 0 0 1 6 0M12 4V2"/>',
    "bench": '<path d="M2 13h20M5 13v8M19 13v8M8 13V9h8v4M6 9h12M12 9V4M9 4h6"/>',
    "stores": '<path d="M3 8l9-5 9 5v9l-9 5-9-5zM3 8l9 5 9-5M12 13v9"/>',
    "office": '<path d="M5 3h14v18H5zM9 8h6M9 12h6M9 16h3"/>',
    "sums": '<path d="M5 3h14v18H5zM8 7h8M8.5 12v.1M12 12v.1M15.5 12v.1M8.5 16.5v.1M12 16.5v.1M15.5 16.5v.1"/>',
    "search": '<circle cx="10.5" cy="10.5" r="6.5"/><path d="m15.5 15.5 5.5 5.5"/>',
    "person": '<circle cx="12" cy="8" r="4"/><path d="M4 21c.6-4.4 3.6-6.5 8-6.5s7.4 2.1 8 6.5"/>',
    "envelope": '<path d="M5 9V21h14V9l-4-6H9zM5 9h14"/><circle cx="12" cy="6" r=".6"/>',
    "wrench": '<path d="M14.5 4.2a5 5 0 0 0-4.3 7L3.5 17.9a1.8 1.8 0 0 0 2.6 2.6l6.7-6.7a5 5 0 0 0 6.9-5.6l-3 3-3.2-.7-.7-3.2z"/>',  # noqa: E501
    "hourglass": '<path d="M6 3h12M6 21h12M7 3c0 5 5 6 5 9s-5 4-5 9M17 3c0 5-5 6-5 9s5 4 5 9"/>',
    "tick": '<path d="m4 12.5 5.5 5.5L20 6.5"/>',
    "ticks": '<path d="m2 12.5 5 5 9-10.5M12 15.5l2 2 8.5-10.5"/>',
    "out": '<path d="M10 4H4v16h6M9 12h12M16 7l5 5-5 5"/>',
    "cross": '<path d="m5 5 14 14M19 5 5 19"/>',
    "slash": '<circle cx="12" cy="12" r="8.5"/><path d="M6 18 18 6"/>',
    "target": '<circle cx="12" cy="12" r="8.5"/><circle cx="12" cy="12" r="3" fill="currentColor"/>',
    "question": '<path d="M8 8.5C8 6 9.7 4.5 12 4.5s4 1.5 4 3.7c0 3-4 3-4 6.3M12 19v.5"/>',
    "dash": '<path d="M5 12h14"/>',
    "clock": '<circle cx="12" cy="12" r="8.5"/><path d="M12 7v5l3.5 2"/>',
    "send": '<path d="M12 20V5M6 11l6-6 6 6"/>',
    "caution": '<path d="M12 3.5 22 20.5H2zM12 10v4.5M12 17.3v.2"/>',
    "info": '<circle cx="12" cy="12" r="8.5"/><path d="M12 11v5.5M12 7.5v.2"/>',
    "plus": '<path d="M12 4v16M4 12h16"/>',
    "left": '<path d="M20 12H4M10 6l-6 6 6 6"/>',
    "right": '<path d="M4 12h16M14 6l6 6-6 6"/>',
    "print": '<path d="M7 8V3h10v5M7 17H3V8h18v9h-4M7 14h10v7H7z"/>',
    "camera": '<path d="M3 7h4l2-3h6l2 3h4v13H3z"/><circle cx="12" cy="13" r="4"/>',
    "phone": '<path d="M5 3h4l2 5-2.5 2a12 12 0 0 0 5.5 5.5l2-2.5 5 2v4c0 1.2-.8 2-2 2C10.7 21 3 13.3 3 5c0-1.2.8-2 2-2z"/>',  # noqa: E501
    "drop": '<path d="M12 3c4 5 6 7.8 6 11a6 6 0 0 1-12 0c0-3.2 2-6 6-11z"/>',
    "gauge": '<path d="M4 18a9 9 0 1 1 16 0M12 14l4-5M4 18h3M17 18h3"/>',
    "fork": '<path d="M12 2v4M6 6h12v3M6 6v15M18 9v12M6 14h0M4 21h4M16 21h4"/>',
}  # fmt: skip
_FRAME = (
    '<svg class="icon" viewBox="0 0 24 24" width="20" height="20" fill="none" stroke="currentColor" stroke-width="2" '
    'stroke-linecap="round" stroke-linejoin="round" aria-hidden="true" focusable="false">{}</svg>'
)

# Finished once: a page has dozens of them.
ICONS: Mapping[str, SafeString] = {name: mark_safe(_FRAME.format(shape)) for name, shape in _SHAPES.items()}  # noqa: S308  drawn above
