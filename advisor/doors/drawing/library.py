"""The one module that knows the drawing library: a specification in, an SVG or a PNG out, and nothing from a network.

What was drawn is kept by what it shows, so that the same state of a garden is not drawn twice.
"""

from __future__ import annotations

import hashlib
import json
import re
from functools import lru_cache
from html import escape
from typing import Any

VERSION = "5.20"
"""Of the specification's language; the same text is drawn the same for as long as this stands."""
MOST_KEPT = 192
"""Drawings that are kept, some 20 to 40 kB each: a garden's six in two sizes and two themes, eight gardens over."""
PNG_SCALE = 2.0
NOT_IN_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that no XML document may hold, escaped or not (XML 1.0, 5th ed., production 2)."""
OPENING = re.compile(r"<svg [^>]*>(?:<rect [^>]*/>)?")


def fingerprint(sheet: dict[str, Any]) -> str:
    """Return a name for what a sheet shows, the same for the same drawing."""
    return hashlib.sha256(f"{VERSION} {_as_text(sheet)}".encode()).hexdigest()[:24]


def svg(sheet: dict[str, Any]) -> str:
    """Return a sheet drawn as SVG, just as wide and high as it says."""
    return _svg(_as_text(sheet))


def png(sheet: dict[str, Any]) -> bytes:
    """Return a sheet drawn as PNG, twice as fine as it is wide, so that it is sharp on a phone."""
    return _png(_as_text(sheet))


def _as_text(sheet: dict[str, Any]) -> str:
    return json.dumps(_clean(sheet), ensure_ascii=False, sort_keys=True)


@lru_cache(maxsize=MOST_KEPT)
def _svg(text: str) -> str:
    import vl_convert  # here, since most programs that import us draw nothing

    drawn = str(vl_convert.vegalite_to_svg(text, vl_version=VERSION, allowed_base_urls=[]))
    sheet = json.loads(text)
    about, paper = sheet["usermeta"], sheet["background"]
    width, height = about["width"], about["height"]
    opening = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}"'
        f' role="img"><title>{escape(about.get("title", ""))}</title><desc>{escape(about.get("says", ""))}</desc>'
        f'<rect width="{width}" height="{height}" fill="{paper}"/>'
    )
    return OPENING.sub(lambda _: opening, drawn, count=1)  # the library sizes only its first panel


@lru_cache(maxsize=MOST_KEPT // 6)
def _png(text: str) -> bytes:
    import vl_convert

    return bytes(vl_convert.svg_to_png(_svg(text), scale=PNG_SCALE))


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return NOT_IN_XML.sub("", value)
    if isinstance(value, dict):
        return {key: _clean(one) for key, one in value.items()}
    return [_clean(one) for one in value] if isinstance(value, list | tuple) else value
