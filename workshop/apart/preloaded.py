"""Loaded once by the process that workers are made from, so that each begins at once and shares what is loaded."""

from __future__ import annotations

import gc

from workshop.apart.inside import load_modules
from workshop.apart.kinds import KINDS

for _kind in KINDS:
    load_modules(_kind.needs)
gc.freeze()  # collecting rubbish would write to every page that is shared
