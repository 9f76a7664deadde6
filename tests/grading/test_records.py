"""What may leave the box: plain values come back as they were, anything else is refused, whatever the bytes are."""

import copy
import json
import math
import random
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from rigkit.course.checkpoint import Call, Record
from rigkit.course.collect import same
from rigkit.grading import records

ARRAYS = st.one_of(
    arrays.arrays(np.float64, arrays.array_shapes(min_dims=0, max_dims=3, min_side=0, max_side=4)),
    arrays.arrays(np.int64, arrays.array_shapes(max_dims=2, max_side=4)),
    arrays.arrays(np.bool_, arrays.array_shapes(max_dims=2, max_side=4)),
    arrays.arrays(np.complex128, arrays.array_shapes(max_dims=2, max_side=3)),
)
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
PLAIN = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(-(2**70), 2**70), st.floats(), st.complex_numbers(), TEXTS, ARRAYS),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.lists(inner, max_size=4).map(tuple),
        st.dictionaries(st.one_of(TEXTS, st.integers(), st.booleans()), inner, max_size=4),
    ),
    max_leaves=12,
)
EXACT = (type(None), bool, int, float, complex, str, list, tuple, dict, np.ndarray)


def through(value):
    """A value written to a line of bytes and read again."""
    record = Record("90.1", values={"x": Call("ok", value)})
    line = records.message("answer", checkpoint="90.1", record=records.pack_record(record))
    return records.read_record(records.read_message(line).fields["record"]).values["x"]


@given(PLAIN)
def test_plain_values_come_back_as_they_were(value):
    """Types and numbers, nan and infinity among them."""
    back = through(value)
    assert back.outcome == "ok"
    assert type(back.value) is type(value)
    assert same(back.value, value)


class Equal(float):
    """Equals everything, as a float that is none."""

    def __eq__(self, other):
        return True

    __hash__ = float.__hash__


@pytest.mark.parametrize(
    "value",
    [
        Equal(1.0),
        object(),
        {1, 2},
        b"bytes",
        lambda: 1,
        np.array([object()]),
        np.array(["a"]),
        np.ma.array([1.0]),
        type("List", (list,), {})([1]),
        range(3),
        10**2000,
        "x" * 30_000,
        np.zeros(300_000),
        {(1, 2): 3},
    ],
    ids=lambda value: type(value).__name__,
)
def test_what_is_not_plain_becomes_a_wrong_kind(value):
    """It never raises, and never passes."""
    back = through(value)
    assert (back.outcome, back.value) == ("wrong kind", None)


def test_deep_and_cyclic_values_are_refused_not_followed():
    """A list in itself has no end."""
    cycle = []
    cycle.append(cycle)
    assert through(cycle).outcome == "wrong kind"
    deep = 1
    for _ in range(50):
        deep = [deep]
    assert through(deep).outcome == "wrong kind"


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b"", "not JSON"),
        (b"\xff\xfe", "not JSON"),
        (b"[]", "not an object"),
        (b"3", "not an object"),
        (b'{"kind":"points","points":3}', "no message is of the kind"),
        (b'{"kind":["answer"]}', "no message is of the kind"),
        (b'{"kind":"done","points":3}', "other fields"),
        (b'{"kind":"begin","checkpoint":3}', "other fields"),
        (b'{"kind":"cell","number":true,"state":"","error":""}', "other fields"),
        (b'{"kind":"cell","number":-1,"state":"","error":""}', "out of range"),
        (b'{"kind":"begin","checkpoint":"a","checkpoint":"b"}', "doubled key"),
        (b'{"kind":"done"' + b" " * records.LINE + b"}", "more than"),
        (b'{"kind":"begin","checkpoint":NaN}', "bare word"),
        (b"[" * 100_000, "nested"),
        (b'{"kind":"cell","number":' + b"9" * 1000 + b',"state":"","error":""}', "digits"),
    ],
)
def test_lines_that_are_no_message_are_refused_with_a_reason(line, why):
    """One reason each."""
    with pytest.raises(records.Refused, match=why):
        records.read_message(line)


def call(value):
    """A record that holds one JSON value as the answer x."""
    return {"outcome": "ok", "line": "", "calls": [], "values": {"x": {"outcome": "ok", "line": "", "value": value}}}


ARRAY = {"t": "array", "d": "f8", "s": [1], "v": "AAAAAAAA8D8="}


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (call({"t": "object", "v": []}), "tag"),
        (call({"t": "float", "v": "0x1p3"}), "holds no list"),
        (call({"t": ["float"], "v": "nan"}), "tag"),
        (call({"t": "tuple", "v": {}}), "holds no list"),
        (call({"t": "dict", "v": [[1]]}), "not pairs"),
        (call({"t": "dict", "v": [[[1], 2]]}), "not plain"),
        (call({"t": "complex", "v": [1.0, "2"]}), "tag"),
        (call({}), "tag"),
        (call("\ud800"), "half a character"),
        (call("x" * 30_000), "letters"),
        (call({**ARRAY, "s": [2]}), "don't fill"),
        (call({**ARRAY, "s": [-1]}), "impossible"),
        (call({**ARRAY, "s": [True]}), "impossible"),
        (call({**ARRAY, "s": [100_000, 100_000, 0]}), "don't fill"),
        (call({**ARRAY, "s": [1000, 1000]}), "more than"),
        (call({**ARRAY, "d": "O"}), "without type"),
        (call({**ARRAY, "d": "object"}), "without type"),
        (call({**ARRAY, "v": "????"}), "can't be read"),
        (call({**ARRAY, "s": [1] * 40}), "without type"),
        (call({"t": "array", "d": "b1", "s": [1], "v": "Ag=="}), "truth values"),
        (call([[]] * 200_000), "more than"),
        ({**call(1), "points": 5}, "other fields"),
        ({**call(1), "outcome": "look"}, "outcome"),
        ({**call(1), "outcome": "awaits a reader"}, "outcome"),
        ({**call(1), "calls": {}}, "calls are not"),
        ({**call(1), "values": []}, "values are not"),
        ({**call(1), "line": 3}, "not a text"),
        ({**call(1), "values": {"x": 5}}, "a call with"),
        ({**call(1), "values": {str(i): 0 for i in range(200)}}, "values are not"),
        ([], "other fields"),
    ],
)
def test_records_that_are_not_ours_are_refused_with_a_reason(data, why):
    """One reason each."""
    with pytest.raises(records.Refused, match=why):
        records.read_record(data)


def test_lines_of_the_box_hold_no_terminal_codes():
    """A report is read in a terminal too."""
    data = {**call(1), "line": "\x1b]0;owned\x07 \u202e evil\r\n"}
    assert records.read_record(data).line.isprintable()


SEEDS = [
    records.message(
        "answer",
        checkpoint="06.2",
        record=records.pack_record(
            Record(
                "06.2",
                calls=(
                    Call("ok", np.arange(6.0).reshape(2, 3)),
                    Call("ok", (1, 2.5, [True, None, "a"])),
                    Call("stopped with an error", None, "ValueError: no"),
                ),
            )
        ),
    ),
    records.message(
        "early",
        checkpoint="01.1",
        record=records.pack_record(
            Record(
                "01.1",
                values={"a": Call("ok", {"x": math.nan, 3: [1j, np.array([True])]}), "b": Call("name missing", None, "there is no b yet")},
            )
        ),
    ),
    records.message("cell", number=3, state="end", error="NameError: x"),
]


def plain_through_and_through(value):
    """Whether a decoded value holds nothing but exact plain types."""
    if type(value) not in EXACT:
        return False
    if type(value) is np.ndarray:
        return value.dtype.kind in "bifc" and value.size <= records.ELEMENTS
    if type(value) in (list, tuple):
        return all(map(plain_through_and_through, value))
    if type(value) is dict:
        return all(plain_through_and_through(k) and plain_through_and_through(v) for k, v in value.items())
    return True


def survives(line):
    """Read a line of any bytes; nothing but Refused may come, and nothing but plain data may pass. Whether it was read."""
    try:
        message = records.read_message(line)
        if "record" not in message.fields:
            return True
        record = records.read_record(message.fields["record"])
    except records.Refused as why:
        assert str(why).isprintable()
        return False
    assert all(
        call.outcome in records.OUTCOMES and plain_through_and_through(call.value) for call in [*record.calls, *record.values.values()]
    )
    return True


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(SEEDS), st.lists(st.tuples(st.integers(0, 5000), st.binary(max_size=3), st.integers(0, 4)), min_size=1, max_size=6))
def test_mutated_bytes_are_read_or_refused(seed, edits):
    """Bytes replaced, put in and taken out."""
    line = bytearray(seed)
    for place, new, cut in edits:
        place %= len(line) + 1
        line[place : place + cut] = new
    survives(bytes(line))


JSON = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-9, 10**30),
        st.floats(allow_nan=False, allow_infinity=False),
        st.text(max_size=5),
        st.sampled_from(["t", "v", "d", "s", "array", "f8", "tuple", "dict", "nan", "ok", "look"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.sampled_from(["t", "v", "d", "s", "outcome", "line", "x"]), inner, max_size=4)
    ),
    max_leaves=8,
)


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(SEEDS), st.randoms(use_true_random=False), st.lists(JSON, min_size=1, max_size=3))
def test_records_with_any_member_exchanged_are_read_or_refused(seed, chance, new):
    """The structure stays JSON; a member somewhere inside becomes another."""
    data = copy.deepcopy(json.loads(seed))
    for value in new:
        _exchange(data, value, chance)
    survives(json.dumps(data).encode())


def _exchange(data, value, chance: random.Random):
    """Put `value` in place of some member of nested dicts and lists."""
    while True:
        keys = list(data) if type(data) is dict else list(range(len(data)))
        if not keys:
            return
        key = chance.choice(keys)
        if type(data[key]) not in (dict, list) or chance.random() < 0.3:
            data[key] = value
            return
        data = data[key]


def fuzzed(rounds, seed):
    """Lines made from ours by chance, `rounds` of them; each is read or refused. Gives how many were read."""
    dice, read = random.Random(seed), 0
    tokens = [
        b'"t"',
        b'"v"',
        b'"array"',
        b'"f8"',
        b'"kind"',
        b"[",
        b"]",
        b"{",
        b"}",
        b",",
        b":",
        b"null",
        b"1e999",
        b"-0",
        b'"\\ud800"',
        b"\xff",
        b"NaN",
    ]
    for _ in range(rounds):
        line = bytearray(dice.choice(SEEDS))
        for _ in range(dice.choice((1, 1, 1, 2, 3, 8))):
            place = dice.randrange(len(line) + 1)
            what = dice.random()
            if what < 0.3:
                line[place : place + 1] = bytes([dice.randrange(256)])
            elif what < 0.6:
                line[place:place] = dice.choice(tokens)
            elif what < 0.8:
                del line[place : place + dice.randrange(1, 20)]
            else:  # a piece of another of ours
                other = dice.choice(SEEDS)
                start = dice.randrange(len(other))
                line[place : place + dice.randrange(20)] = other[start : start + dice.randrange(40)]
        read += survives(bytes(line))
    return read


def test_five_thousand_lines_made_by_chance_are_read_or_refused():
    """The same ones every time; some still pass as messages, so that more than the JSON is tried."""
    assert fuzzed(5_000, seed=1) > 100


if __name__ == "__main__":  # python -m tests.grading.test_records 1000000: as many lines, others on every run
    chosen = random.SystemRandom().randrange(1 << 32)
    print("seed", chosen)
    print(fuzzed(int(sys.argv[1]), chosen), "of", sys.argv[1], "lines were read as messages, the others refused")
