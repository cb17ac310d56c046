"""JSON objects that keep their text: what is sent again, or within something else, is put into letters once."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any


class Written(dict[str, Any]):
    """An object with its text as JSON. Not to be changed."""

    def __init__(self, values: Mapping[str, Any], text: str = "") -> None:
        super().__init__(values)
        self._text = text

    @property
    def text(self) -> str:
        """Return the text; lists of objects that have theirs are put together from these."""
        if not self._text:
            members = (f"{json.dumps(name, ensure_ascii=False)}: {_text_of(value)}" for name, value in self.items())
            self._text = f"{{{', '.join(members)}}}"
        return self._text


def _text_of(value: Any) -> str:
    if isinstance(value, list) and value and all(isinstance(one, Written) for one in value):
        return f"[{', '.join(one.text for one in value)}]"
    return json.dumps(value, ensure_ascii=False)
