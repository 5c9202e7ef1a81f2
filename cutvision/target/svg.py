"""The page as an SVG in millimetres."""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape

from cutvision.target.page import Page, Point, Text


def svg_text(page: Page) -> str:
    """One drawing whose user unit is the millimetre. Texts are held to their width whatever typeface the viewer has."""
    wide, high = _number(page.width_mm), _number(page.height_mm)
    greys = sorted({area.grey for area in page.areas})
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" viewBox="0 0 {wide} {high}">',
        f"<title>{escape(page.title)}</title>",
        '<rect width="100%" height="100%" fill="#fff"/>',
    ]
    for grey in greys:
        loops = (loop for area in page.areas if area.grey == grey for loop in area.loops)
        level = round(255 * grey)
        parts.append(f'<path fill="#{level:02x}{level:02x}{level:02x}" fill-rule="evenodd" d="\n{_path(loops)}"/>')
    parts.append('<g font-family="Bitstream Vera Sans,DejaVu Sans,Verdana,sans-serif" fill="#000">')
    parts += [_text(text) for text in page.texts]
    parts += ["</g>", "</svg>", ""]
    return "\n".join(parts)


def _number(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _path(loops: Iterable[tuple[Point, ...]]) -> str:
    return "\n".join("M" + "L".join(f"{_number(x)} {_number(y)}" for x, y in loop) + "Z" for loop in loops)


def _text(text: Text) -> str:
    at = f'x="{_number(text.x)}" y="{_number(text.y)}"'
    turn = f' transform="rotate({-90 * text.turn} {_number(text.x)} {_number(text.y)})"' if text.turn else ""
    weight = ' font-weight="bold"' if text.bold else ""
    return (
        f'<text {at}{turn}{weight} font-size="{_number(text.size_mm)}" textLength="{_number(text.width_mm)}" '
        f'lengthAdjust="spacingAndGlyphs">{escape(text.words)}</text>'
    )
