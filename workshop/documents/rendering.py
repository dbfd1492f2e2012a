"""HTML to tagged PDF. Nothing is fetched: fonts and styles are the project's own files."""

from __future__ import annotations

import contextlib
import functools
import io
import logging
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.template.loader import render_to_string

from workshop.apart import kinds
from workshop.apart.working import NotDone, work_apart
from workshop.documents.reading_aloud import read_aloud

PAPERS: Mapping[str, str] = {
    "A4": "paper-a4.css",
    "Letter": "paper-letter.css",
    "100×62 mm": "paper-label.css",
}
# What labels are printed on, beside the tie-on label: a sheet that goes through any printer, and a roll.
LABEL_PAPERS: Mapping[str, str] = {
    "24 on A4": "paper-sheet-24.css",
    "12 on A4": "paper-sheet-12.css",
    "62×29 mm": "paper-roll.css",
}
_log = logging.getLogger(__name__)
# The kept font configuration may not be used by two threads at once.
_one_at_a_time = threading.Lock()
_STYLES = ("css/fonts.css", "documents/document.css")


class PdfUnavailable(RuntimeError):
    """PDFs cannot be made on this machine; the message says which system packages to install, or what to do."""


def html_of(template: str, data: Mapping[str, Any], *, logo: str = "") -> str:
    """The finished HTML of a document, from its frozen data and the shop's logo, an address that holds the picture.

    The logo is not frozen with the data: it is in the PDF, and would be kept once more with every paper.
    """
    return render_to_string(template, {"doc": data, "logo": logo})


def pdf_of(html: str, paper: str) -> bytes:
    """Lay out finished HTML on a paper of PAPERS or LABEL_PAPERS as PDF/UA-1.

    Raises:
        KeyError: an unknown paper.
        PdfUnavailable: the system libraries are missing, laying out failed or took too much, or others wait for theirs;
            nothing else may stop for that.
    """
    paper_style = {**PAPERS, **LABEL_PAPERS}[paper]
    try:
        return work_apart(kinds.PAPERS, _laid_out, html, paper_style)
    except PdfUnavailable:
        raise
    except NotDone as reason:
        raise PdfUnavailable(f"{reason} Nothing of it was kept.") from reason
    except Exception as error:  # whatever a library of fonts and pictures may raise
        _log.exception("A PDF could not be laid out")
        raise PdfUnavailable(
            "The PDF could not be made, and nothing of it was kept. Everything else works: try once more, then tell "
            "whoever looks after the shop’s computer."
        ) from error


def _laid_out(html: str, paper_style: str) -> bytes:
    return by_weasyprint(html, paper_style, finisher=read_aloud)


def by_weasyprint(html: str, paper_style: str, **options: Any) -> bytes:
    """WeasyPrint's own PDF, with the project's styles and fonts."""
    styles, font_configuration = _styles(paper_style)
    weasyprint = _weasyprint()
    options |= {"stylesheets": styles, "font_config": font_configuration, "pdf_variant": "pdf/ua-1"}
    with _one_at_a_time:
        document = weasyprint.HTML(string=html, base_url=_static_dir().as_uri() + "/", url_fetcher=_own_files_only())
        pdf: bytes = document.write_pdf(**options)
    return pdf


def _static_dir() -> Path:
    return Path(__file__).resolve().parents[2] / "static"  # settings are not read in a worker


@functools.cache
def _weasyprint() -> Any:
    try:
        with contextlib.redirect_stdout(io.StringIO()):  # where it cannot load, it prints how to install itself
            import weasyprint
    except (OSError, ImportError) as error:
        from workshop.pdf_libraries import missing_packages

        packages = " ".join(missing_packages()) or "the libraries of WeasyPrint"
        raise PdfUnavailable(f"PDFs need system libraries that are not here. Install: {packages}") from error
    return weasyprint


@functools.cache
def _own_files_only() -> Any:
    from weasyprint.urls import URLFetcher

    class OwnFilesOnly(URLFetcher):  # type: ignore[misc]
        """Fetch only files below static/."""

        def fetch(self, url: str, headers: Any = None) -> Any:
            if ".." in url or not url.startswith((_static_dir().as_uri() + "/", "data:")):
                raise ValueError(f"A document may not fetch {url}")
            return super().fetch(url, headers)

    return OwnFilesOnly(allowed_protocols=("file", "data"))


@functools.cache
def _styles(paper_style: str) -> tuple[list[Any], Any]:
    """Parsed style sheets and fonts, kept for the life of the worker."""
    weasyprint = _weasyprint()
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()
    sheets = [
        weasyprint.CSS(filename=str(_static_dir() / name), font_config=fonts, url_fetcher=_own_files_only())
        for name in (*_STYLES, f"documents/{paper_style}")
    ]
    return sheets, fonts
