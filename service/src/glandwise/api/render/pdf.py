"""A sheet as PDF, for A4 or Letter, its fonts embedded. Needs the library of the extra ``pdf``.

Nothing is fetched: the page needs nothing from elsewhere, and the fonts are those that the plotting library brings along.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import matplotlib as mpl


class MissingError(Exception):
    """The library of the extra is not installed, or one that it needs of the system."""


_FACES = (
    ("DejaVuSans.ttf", "DejaVu Sans", "normal", "normal"),
    ("DejaVuSans-Bold.ttf", "DejaVu Sans", "bold", "normal"),
    ("DejaVuSans-Oblique.ttf", "DejaVu Sans", "normal", "italic"),
    ("DejaVuSansMono.ttf", "DejaVu Sans Mono", "normal", "normal"),
)


@cache
def _library() -> Any:
    """Return the library with a fetcher that lets nothing through but the fonts."""
    try:
        import weasyprint
        from weasyprint.urls import URLFetcher
    except (ImportError, OSError):  # the latter where a library of the system is not there
        raise MissingError from None
    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    fonts = {(folder / file).as_uri() for file, *_ in _FACES}

    class Closed(URLFetcher):  # type: ignore[misc, unused-ignore]
        """Opens the fonts and nothing else."""

        def fetch(self, url: str, headers: Any = None) -> Any:
            if url not in fonts:
                raise ValueError("nothing is fetched for a sheet")
            return super().fetch(url, headers)

    faces = "".join(
        f"@font-face {{ font-family: '{family}'; src: url('{(folder / file).as_uri()}'); font-weight: {weight}; "
        f"font-style: {style} }}\n"
        for file, family, weight, style in _FACES
    )
    return weasyprint, Closed(allowed_protocols=["file"]), faces


def write(page: bytes, *, letter: bool) -> bytes:
    """Return a sheet as PDF. Raises :class:`MissingError` without the library for it."""
    weasyprint, fetcher, faces = _library()
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()
    size = "letter" if letter else "A4"
    style = faces + f"@page {{ size: {size} }}"
    sheet = weasyprint.CSS(string=style, font_config=fonts, url_fetcher=fetcher)
    document = weasyprint.HTML(string=page.decode("utf-8"), url_fetcher=fetcher)
    made: bytes = document.write_pdf(stylesheets=[sheet], font_config=fonts, full_fonts=False)
    return made
