"""What somebody sits at, in words, from what the browser says of itself. It may say anything: nothing rests on it."""

from __future__ import annotations

_SYSTEMS = (
    ("iPad", "iPadOS"),
    ("iPhone", "iOS"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("Mac OS X", "macOS"),
    ("CrOS", "ChromeOS"),
    ("Linux", "Linux"),
)
UNKNOWN = "Unknown device"


def browser_words(user_agent: str) -> str:
    """“Tablet with Android”, “Computer with Linux”; what says nothing is an unknown device."""
    system = next((words for part, words in _SYSTEMS if part in user_agent), "")
    if not system:
        return UNKNOWN
    if system == "iPadOS" or "Tablet" in user_agent or (system == "Android" and "Mobile" not in user_agent):
        kind = "Tablet"
    elif "Mobile" in user_agent or system == "iOS":
        kind = "Phone"
    else:
        kind = "Computer"
    return f"{kind} with {system}"
