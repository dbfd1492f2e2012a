"""The app's icons as PNG, drawn by the browser from the one drawing there is."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from playwright.sync_api import Browser

DRAWING = Path(settings.BASE_DIR) / "static" / "img" / "app-icon.svg"


def draw_icon(chromium: Browser, side_px: int, *, rounded: bool) -> bytes:
    """A square PNG. Rounded at its corners for who shows it as it is; whole for who cuts it to a shape of its own."""
    page = chromium.new_page(viewport={"width": side_px, "height": side_px})
    try:
        corner = "18%" if rounded else "0"
        page.set_content(
            f"<style>html, body {{ margin: 0; background: none }} svg {{ display: block; width: {side_px}px; "
            f"border-radius: {corner} }}</style>{DRAWING.read_text()}"
        )
        return page.screenshot(omit_background=True)
    finally:
        page.close()
