"""On which line each key of a TOML text stands, so that a refusal can point at it.

Works on texts that `tomllib` has accepted; it reads structure only and leaves values alone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

Path = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_PLAIN_VALUE = re.compile(r"[^,\]}\n#]*")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|\'\'\'[\s\S]*?\'{3,5}|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'', re.DOTALL
)
_ESCAPE = re.compile(r'\\(["\\])')


def places(text: str) -> dict[Path, int]:
    """Return the line (from 1) of every key, table and array element of a valid TOML text, by its path.

    >>> places('a = 1\\n[b]\\nc = [{ d = 2 },\\n     { d = 3 }]')[("b", "c", 1, "d")]
    4
    """
    scanner = _Scanner(text)
    scanner.run()
    return scanner.found


def line_of(found: Mapping[Path, int], path: Path) -> int:
    """Return the line of `path`, or of the nearest thing around it, or 1.

    >>> line_of({("a",): 7}, ("a", "b", 2)), line_of({}, ("x",))
    (7, 1)
    """
    while path:
        if path in found:
            return found[path]
        path = path[:-1]
    return 1


class _Scanner:
    """Walks the text once; `at` is the place, `table` the table under whose header it stands."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.table: Path = ()
        self.arrays: dict[Path, int] = {}
        self.found: dict[Path, int] = {}
        self._counted = (0, 1)

    def run(self) -> None:
        self._skip(_BLANK)
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                self._header()
            else:
                self._pair(self.table)
            self._skip(_BLANK)

    def _skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            return ""
        self.at = match.end()
        return match[0]

    def _mark(self, path: Path) -> None:
        before, line = self._counted
        line += self.text.count("\n", before, self.at)
        self._counted = (self.at, line)
        self.found.setdefault(path, line)

    def _header(self) -> None:
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        keys = self._keys()
        path: Path = ()
        for key in keys[:-1]:
            path = self._into_last((*path, key))
            self._mark(path)
        path = (*path, keys[-1])
        if many:
            self.arrays[path] = self.arrays.get(path, -1) + 1
        self._mark(path)
        self.table = self._into_last(path)
        self._mark(self.table)
        self.at += 2 if many else 1

    def _into_last(self, path: Path) -> Path:
        return (*path, self.arrays[path]) if path in self.arrays else path

    def _keys(self) -> list[str]:
        keys = [self._key()]
        while self.text.startswith(".", self.at):
            self.at += 1
            keys.append(self._key())
        return keys

    def _key(self) -> str:
        self._skip(_SPACE)
        quoted = self._skip(_STRING)
        key = _ESCAPE.sub(r"\1", quoted[1:-1]) if quoted else self._skip(_BARE)
        self._skip(_SPACE)
        return key

    def _pair(self, inside: Path) -> None:
        self._skip(_SPACE)
        start = self.at
        path = inside
        for key in self._keys():
            path = (*path, key)
            end, self.at = self.at, start
            self._mark(path)
            self.at = end
        self.at += 1
        self._skip(_SPACE)
        self._value(path)

    def _value(self, path: Path) -> None:
        self._mark(path)
        opening = self.text[self.at]
        if opening == "[":
            self._array(path)
        elif opening == "{":
            self._inline_table(path)
        elif not self._skip(_STRING):
            self._skip(_PLAIN_VALUE)

    def _array(self, path: Path) -> None:
        self.at += 1
        index = 0
        self._skip(_BLANK)
        while self.text[self.at] != "]":
            self._value((*path, index))
            index += 1
            self._skip(_BLANK)
            self._skip_comma()
        self.at += 1

    def _inline_table(self, path: Path) -> None:
        self.at += 1
        self._skip(_BLANK)
        while self.text[self.at] != "}":
            self._pair(path)
            self._skip(_BLANK)
            self._skip_comma()
        self.at += 1

    def _skip_comma(self) -> None:
        if self.text[self.at] == ",":
            self.at += 1
            self._skip(_BLANK)
