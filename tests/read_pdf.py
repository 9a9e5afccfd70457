"""The words of a printed page, as a PDF reader finds them."""

from pathlib import Path

from pypdf import PdfReader


def words_of(path: Path) -> str:
    """Return all words of a PDF file in the order in which they were written, one space between any two."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())
