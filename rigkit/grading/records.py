"""What may leave the box: messages of one line of JSON each, made of plain values only.

The box writes messages, the trusted side reads them. Nothing is unpickled, no
class is built, no name is looked up. A value is None, bool, int, float, complex,
str, list, tuple, dict or an array of plain numbers; anything else is refused with
a reason. Whole numbers, texts and finite floats stand for themselves in JSON; every
other value is an object with a tag `t`. NaN and infinity are values like others: a
claim says what is wrong with them.

This file is copied into the box beside the program that runs there, so it imports
nothing but numpy and the standard library.
"""

import base64
import binascii
import json
import math
from dataclasses import dataclass, field

import numpy as np

LINE = 4 << 20  # bytes in one message
DEPTH = 12  # containers inside each other
ITEMS = 100_000  # values in one message
ELEMENTS = 200_000  # numbers in one array
TEXT = 20_000  # letters in one text
WORDS = 300  # letters in a line about an answer
DIGITS = 400  # digits of a whole number
CALLS = 2_000  # calls in one record
NAMES = 100  # names in one record

OUTCOMES = frozenset(
    {
        "ok",
        "not started",
        "name missing",
        "stopped with an error",
        "took too long",
        "wrong kind",
        "wrong shape",
        "not a number",
        "changed its input",
        "closed book",
    }
)  # what an answer may be before it is judged: never "look", never "awaits a reader"
DTYPES = {"b1": np.dtype("?"), "i8": np.dtype("<i8"), "f8": np.dtype("<f8"), "c16": np.dtype("<c16")}
KINDS = {
    "ready": {},
    "cell": {"number": int, "state": str, "error": str},
    "called": {"what": str, "checkpoint": str},
    "early": {"checkpoint": str, "record": dict},
    "frozen": {},
    "begin": {"checkpoint": str},
    "answer": {"checkpoint": str, "record": dict},
    "done": {},
}
KEYS = (str, int, float, bool)  # what a dict's keys may be
RECORD = {"outcome", "line", "calls", "values"}


class Refused(ValueError):
    """A message or a value that may not pass; the text says why."""


@dataclass(frozen=True)
class Message:
    """One message of the box: its kind and its fields, records still as plain data."""

    kind: str
    fields: dict = field(default_factory=dict)


@dataclass(frozen=True)
class RawCall:
    """What one call or one name gave: an outcome, the plain value, a line about it."""

    outcome: str
    value: object
    line: str


@dataclass(frozen=True)
class RawRecord:
    """An answer as it left the box, decoded and bounded, not yet checked against its form."""

    outcome: str
    line: str
    calls: tuple
    values: dict


# --- writing, in the box ---------------------------------------------------------------------------------------------


def message(kind, **fields):
    """A message as one line of bytes.

    >>> message("begin", checkpoint="06.2")
    b'{"kind":"begin","checkpoint":"06.2"}\\n'
    """
    return json.dumps({"kind": kind, **fields}, separators=(",", ":"), allow_nan=False).encode("ascii") + b"\n"


def pack(value, depth=0):
    """A plain value as JSON data; Refused where it isn't plain.

    >>> pack((1, float("inf")))
    {'t': 'tuple', 'v': [1, {'t': 'float', 'v': 'inf'}]}
    """
    if depth > DEPTH:
        raise Refused(f"it is nested deeper than {DEPTH} levels")
    kind = type(value)
    if value is None or kind is bool:
        return value
    if kind is int:
        if value.bit_length() > 3 * DIGITS:
            raise Refused("it is a whole number of more digits than we read")
        return value
    if kind is float:
        return value if math.isfinite(value) else {"t": "float", "v": repr(value)}
    if kind is complex:
        return {"t": "complex", "v": [pack(value.real), pack(value.imag)]}
    if kind is str:
        if len(value) > TEXT:
            raise Refused(f"it is a text of {len(value)} letters; we read {TEXT}")
        return value
    if kind is list or kind is tuple:
        if len(value) > ITEMS:
            raise Refused(f"it has {len(value)} members; we read {ITEMS}")
        packed = [pack(member, depth + 1) for member in value]
        return packed if kind is list else {"t": "tuple", "v": packed}
    if kind is dict:
        if len(value) > ITEMS:
            raise Refused(f"it has {len(value)} entries; we read {ITEMS}")
        if any(type(key) not in KEYS for key in value):
            raise Refused("it is a dict with a key that is no text and no number")
        return {"t": "dict", "v": [[pack(k, depth + 1), pack(v, depth + 1)] for k, v in value.items()]}
    if isinstance(value, np.generic):
        return pack(_plain_number(value), depth)
    if kind is np.ndarray:
        return _pack_array(value)
    raise Refused(f"it is a {kind.__name__}, which is not plain data")


def _plain_number(value):
    if value.dtype.kind not in "biufcU":
        raise Refused(f"it is a number of type {value.dtype}")
    return value.item()


def _pack_array(value):
    if value.size > ELEMENTS:
        raise Refused(f"it is an array of {value.size} numbers; we read {ELEMENTS}")
    tag = {"b": "b1", "i": "i8", "u": "i8", "f": "f8", "c": "c16"}.get(value.dtype.kind)
    if tag is None:
        raise Refused(f"it is an array of {value.dtype}, not of numbers")
    plain = np.ascontiguousarray(value, dtype=DTYPES[tag])
    return {"t": "array", "d": tag, "s": list(value.shape), "v": base64.b64encode(plain.tobytes()).decode("ascii")}


def pack_record(record):
    """A course Record (outcome, line, calls, values) as JSON data; a value that is not plain becomes its own outcome."""
    return {
        "outcome": record.outcome,
        "line": _short(record.line),
        "calls": [_pack_call(call) for call in record.calls],
        "values": {str(name): _pack_call(call) for name, call in record.values.items()},
    }


def _pack_call(call):
    try:
        return {"outcome": call.outcome, "line": _short(call.line), "value": pack(call.value)}
    except Refused as why:
        return {"outcome": "wrong kind", "line": _short(why), "value": None}


def _short(text):
    return str(text)[:WORDS]


# --- reading, on the trusted side ------------------------------------------------------------------------------------


def read_message(line):
    """Decode one line of bytes into a Message; Refused with a reason for anything else.

    >>> read_message(b'{"kind":"begin","checkpoint":"06.2"}')
    Message(kind='begin', fields={'checkpoint': '06.2'})
    >>> read_message(b'{"kind":"points","points":5}')
    Traceback (most recent call last):
    ...
    rigkit.grading.records.Refused: no message is of the kind 'points'
    """
    if len(line) > LINE:
        raise Refused(f"a message of more than {LINE} bytes")
    data = _json(line)
    if type(data) is not dict:
        raise Refused("a message that is not an object")
    kind = data.pop("kind", None)
    expected = KINDS.get(kind) if type(kind) is str else None
    if expected is None:
        raise Refused(f"no message is of the kind {_told(kind)}")
    if set(data) != set(expected) or any(type(data[name]) is not typ for name, typ in expected.items()):
        raise Refused(f"a message of the kind {kind!r} with other fields than {sorted(expected)}")
    for name, typ in expected.items():
        if typ is str:
            data[name] = words(data[name])
        if typ is int and not 0 <= data[name] <= 100_000:
            raise Refused(f"{name} out of range")
    return Message(kind, data)


def read_record(data):
    """Decode a record (plain JSON data) into a RawRecord; Refused with a reason for anything else."""
    if type(data) is not dict or set(data) != RECORD:
        raise Refused(f"a record with other fields than {sorted(RECORD)}")
    calls, values = data["calls"], data["values"]
    if type(calls) is not list or len(calls) > CALLS:
        raise Refused(f"calls are not a list of at most {CALLS}")
    if type(values) is not dict or len(values) > NAMES:
        raise Refused(f"values are not an object of at most {NAMES} names")
    budget = [ITEMS]
    return RawRecord(
        _outcome(data["outcome"]),
        _words(data["line"]),
        tuple(_read_call(call, budget) for call in calls),
        {words(name): _read_call(call, budget) for name, call in values.items()},
    )


def _read_call(data, budget):
    if type(data) is not dict or set(data) != {"outcome", "line", "value"}:
        raise Refused("a call with other fields than outcome, line and value")
    return RawCall(_outcome(data["outcome"]), unpack(data["value"], budget), _words(data["line"]))


def unpack(data, budget=None, depth=0):
    """JSON data back into the plain value; exact types, bounded in depth, count and size.

    >>> unpack({"t": "tuple", "v": [1, {"t": "float", "v": "inf"}]})
    (1, inf)
    """
    budget = budget if budget is not None else [ITEMS]
    budget[0] -= 1
    if budget[0] < 0:
        raise Refused(f"more than {ITEMS} values")
    if depth > DEPTH:
        raise Refused(f"nested deeper than {DEPTH} levels")
    kind = type(data)
    if data is None or kind is bool or kind is int or kind is float:
        return data
    if kind is str:
        return _text(data)
    if kind is list:
        return [unpack(member, budget, depth + 1) for member in data]
    return _tagged(data, budget, depth)


def _tagged(data, budget, depth):
    tag, keys = data.get("t"), set(data)
    if tag == "array" and type(tag) is str and keys == {"t", "d", "s", "v"}:
        return _read_array(data["d"], data["s"], data["v"])
    if keys != {"t", "v"} or type(tag) is not str:
        raise Refused("a value with a tag we don't know")
    value = data["v"]
    if tag == "float" and type(value) is str and value in ("nan", "inf", "-inf"):
        return float(value)
    if type(value) is not list:
        raise Refused(f"a value tagged {_told(tag)} that holds no list")
    if tag == "tuple":
        return tuple(unpack(member, budget, depth + 1) for member in value)
    if tag == "complex" and len(value) == 2:
        parts = [unpack(part, budget, depth + 1) for part in value]
        if all(type(part) is float for part in parts):
            return complex(*parts)
    if tag == "dict":
        return _read_dict(value, budget, depth)
    raise Refused(f"a value with a tag we don't know: {_told(tag)}")


def _read_dict(pairs, budget, depth):
    out = {}
    for pair in pairs:
        if type(pair) is not list or len(pair) != 2:
            raise Refused("a dict whose entries are not pairs")
        key = unpack(pair[0], budget, depth + 1)
        if type(key) not in KEYS:
            raise Refused("a dict with a key that is not plain")
        out[key] = unpack(pair[1], budget, depth + 1)
    return out


def _read_array(tag, shape, text):
    dtype = DTYPES.get(tag) if type(tag) is str else None
    if dtype is None or type(shape) is not list or type(text) is not str or len(shape) > DEPTH:
        raise Refused("an array without type, shape or numbers")
    if any(type(n) is not int or not 0 <= n <= ELEMENTS for n in shape):
        raise Refused("an array with an impossible shape")
    count = math.prod(shape)
    if count > ELEMENTS:
        raise Refused(f"an array of more than {ELEMENTS} numbers")
    try:
        raw = base64.b64decode(text.encode("ascii"), validate=True)
    except (UnicodeEncodeError, binascii.Error):
        raise Refused("an array whose numbers can't be read") from None
    if len(raw) != count * dtype.itemsize:
        raise Refused("an array whose numbers don't fill its shape")
    if tag == "b1" and raw.strip(b"\0\1"):
        raise Refused("an array of truth values that holds others")
    return np.frombuffer(raw, dtype=dtype).reshape(shape).copy()


def _json(line):
    try:
        return json.loads(line.decode("utf-8"), object_pairs_hook=_unique, parse_constant=_no_constant, parse_int=_whole)
    except Refused:
        raise
    except RecursionError:
        raise Refused("JSON nested too deep") from None
    except (ValueError, UnicodeDecodeError):
        raise Refused("a line that is not JSON") from None


def _unique(pairs):
    out = dict(pairs)
    if len(out) != len(pairs):
        raise Refused("JSON with a doubled key")
    return out


def _no_constant(name):
    raise Refused(f"JSON with the bare word {name}")


def _whole(digits):
    if len(digits) > DIGITS:
        raise Refused("a whole number of more digits than we read")
    return int(digits)


def _outcome(value):
    if type(value) is not str or value not in OUTCOMES:
        raise Refused(f"an outcome we don't know: {_told(value)}")
    return value


def _words(value):
    if type(value) is not str:
        raise Refused("a line that is not a text")
    return words(value)


def words(text, length=WORDS):
    """A text of the box as one printable line: no terminal codes, no directional marks, bounded.

    >>> words("up\\x1b[2J and\\nover")
    'up [2J and over'
    """
    return "".join(c if c.isprintable() else " " for c in text[:length])


def _text(value):
    if len(value) > TEXT:
        raise Refused(f"a text of more than {TEXT} letters")
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        raise Refused("a text with half a character") from None
    return value


def _told(value):
    return words(repr(value), 40)
