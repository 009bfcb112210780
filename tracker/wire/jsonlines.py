"""JSON Lines: one fact a line, in UTF-8."""

from __future__ import annotations

import json
import math
from itertools import chain
from typing import Any, NoReturn

import msgspec

from tracker.domain.facts import Fact
from tracker.wire.faults import printable, shown
from tracker.wire.rows import Rows, Take, facts_of

_BOM = b"\xef\xbb\xbf"
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


class _Refused(ValueError):
    """JSON that we do not take: found, and expected."""


def read_json_lines(data: bytes | str, name: str) -> Rows:
    """The object of each line that is not blank, with its line, and a fault for each bad one.

    Never raises on any input. A byte order mark at the start is passed over.
    """
    read = Rows(name)
    raw = data.encode("utf-8", "surrogatepass") if isinstance(data, str) else data
    if raw.startswith(_UTF16):
        read.fault(1, None, "UTF-16", "UTF-8: save the file again in that encoding")
        return read
    raw = raw.removeprefix(_BOM).removesuffix(b"\n")
    lines = raw.split(b"\n")
    if (objects := _quickly(raw, lines)) is not None:
        read.rows.extend(enumerate(objects, start=1))
        return read
    for line, text in enumerate(lines, start=1):
        if not text.strip(b" \t\r"):
            continue
        try:
            obj = _quickly(text, [text])
            read.rows.append((line, obj[0] if obj else _object(text)))
        except _Refused as refused:
            read.fault(line, None, *refused.args)
    return read


def read_json_facts(data: bytes | str, name: str, take: Take) -> list[Fact]:
    """The facts of JSON Lines; BadInput with every fault of every line."""
    return facts_of(read_json_lines(data, name), take)


def write_json_line(obj: dict[str, Any]) -> str:
    """One object as a line, its line break included."""
    return json.dumps(obj, ensure_ascii=False, allow_nan=False, separators=(",", ":")) + "\n"


def parse_json(text: str) -> Any:
    """A JSON value; ValueError(found, expected) for all that is none or says a thing twice."""
    try:
        return _DECODER.decode(text)
    except _Refused:
        raise
    except RecursionError:
        raise _Refused("lists or objects nested without end", "a flat JSON object") from None
    except json.JSONDecodeError as error:
        found = f"{shown(text[error.pos : error.pos + 20])} at character {error.pos + 1}"
        raise _Refused(found, f"JSON ({error.msg[0].lower()}{error.msg[1:]})") from None
    except ValueError:
        raise _Refused("a number of thousands of digits", "a number that can be true") from None


def _quickly(raw: bytes, lines: list[bytes]) -> list[dict[str, Any]] | None:
    """Flat objects of texts, truths and small whole numbers; None: ask the slow way.

    That no field is said twice shows by counting: every name is followed by a colon, so that as
    many of them as there are fields leaves none over, in any line. What might hide one goes the
    slow way.
    """
    if b"\\u" in raw or b"\t" in raw or b"  " in raw or b"\r" in raw:
        return None
    try:
        objects = list(map(_quick, lines))
    except (msgspec.MsgspecError, ValueError, RecursionError):
        return None
    if not _DICT.issuperset(map(type, objects)):
        return None
    if not _FLAT.issuperset(map(type, chain.from_iterable(map(dict.values, objects)))):
        return None
    named = raw.count(b'":') + raw.count(b'" :')
    return objects if named == sum(map(len, objects)) else None


_quick = msgspec.json.Decoder().decode
_DICT = frozenset({dict})
_FLAT = frozenset({str, bool, int})


def _object(raw: bytes) -> dict[str, Any]:
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        found = f"the byte {raw[error.start]:#04x} at place {error.start + 1}"
        raise _Refused(found, "UTF-8: save the file again in that encoding") from None
    value = parse_json(text)
    if type(value) is not dict:
        raise _Refused(shown(value), "a JSON object, one fact on each line")
    return value


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    obj = dict(pairs)
    if len(obj) != len(pairs):
        seen: set[str] = set()
        twice = next(word for word, _ in pairs if word in seen or seen.add(word))  # type: ignore[func-returns-value]
        raise _Refused(f"the field {printable(twice)} twice", "each field once")
    return obj


def _constant(word: str) -> NoReturn:
    raise _Refused(word, "a number, or no such field where nobody knows")


def _float(digits: str) -> float:
    value = float(digits)
    if not math.isfinite(value):
        raise _Refused(printable(digits), "a number that is not beyond all bounds")
    return value


_DECODER = json.JSONDecoder(object_pairs_hook=_pairs, parse_constant=_constant, parse_float=_float)
