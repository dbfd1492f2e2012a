"""A missing library of the PDF layout is named by its Debian package."""

from workshop.documents import rendering
from workshop.pdf_libraries import advice, missing_packages


def test_nothing_is_missing_where_every_library_opens() -> None:
    assert missing_packages(lambda library: True) == []


def test_each_missing_library_names_its_package() -> None:
    # Package names as in Debian 12's own package index.
    everything = ["libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"]
    assert missing_packages(lambda library: False) == everything
    assert missing_packages(lambda library: "pango" in library) == ["libharfbuzz-subset0"]


def test_the_name_of_another_system_counts() -> None:
    assert missing_packages(lambda library: library.endswith(".dylib")) == []


def test_the_advice_says_what_to_type() -> None:
    assert advice(["libpango-1.0-0"]).endswith("apt-get install libpango-1.0-0")


def test_where_weasyprint_works_nothing_is_called_missing() -> None:
    HTML = rendering._weasyprint().HTML  # noqa: N806  skips where the libraries are missing
    assert HTML(string="<p>Hello</p>").write_pdf().startswith(b"%PDF")
    assert missing_packages() == []
