"""Watching a submission: what comes out of it, with bounds on every size, and when it must be ended.

The supervisor believes nothing it reads. Time runs out cell by cell and answer by
answer, memory and processes are counted from outside, and a run that sends more
than we read, or nothing that is a message, is over.
"""

import contextlib
import os
import pickle
import queue
import struct
import threading
import time

from rigkit.grading import records

TICK = 0.05  # seconds between two looks at time and memory
STOP = threading.Event()  # set when the grader is to stop: every run then ends at once


def supervise(process, group, job, cases, limits, result):
    """Follow one run until it says "done", ends, or uses up what it may."""
    frames = [_frame(job), _frame(cases)]
    seconds = {c["id"]: c["seconds"] for c in job["checkpoints"]}
    incoming, errors = queue.SimpleQueue(), []  # bounded by what the reader takes
    readers = [
        threading.Thread(target=_read_lines, args=(process.stdout, incoming, limits), daemon=True),
        threading.Thread(target=_read_tail, args=(process.stderr, errors), daemon=True),
        threading.Thread(target=_send, args=(process.stdin, frames[0]), daemon=True),
    ]
    for thread in readers:
        thread.start()
    now = time.monotonic()
    deadline, cells_end, next_look = now + limits.start, None, now
    while True:
        now = time.monotonic()
        if now > deadline or STOP.is_set():
            result.ended = "stopped" if STOP.is_set() else "time"
            return
        if now >= next_look:
            next_look = now + TICK
            why = group.overuse(limits, result)
            if why:
                result.ended = why
                return
        try:
            line = incoming.get(timeout=TICK)
        except queue.Empty:
            continue
        if line is None or isinstance(line, str):
            result.ended = line or "died"
            result.detail = records.words(b"".join(errors).decode("utf-8", "replace").strip()[-200:]) if result.where == "start" else ""
            return
        try:
            message = records.read_message(line)
        except records.Refused as why:
            result.refused.append(str(why))
            if len(result.refused) > 100:
                result.ended = "flood"
                return
            continue
        now = time.monotonic()
        if message.kind == "ready" and cells_end is None:
            cells_end = now + limits.notebook
            deadline = min(now + limits.cell + limits.grace, cells_end)
        elif message.kind == "cell" and cells_end is not None:
            result.where = message.fields["number"]
            deadline = min(now + limits.cell + limits.grace, cells_end)
            if message.fields["state"] == "end" and message.fields["error"]:
                result.errors[message.fields["number"]] = message.fields["error"]
                why = group.overuse(limits, result)  # while it is still known which cell it was
                if why:
                    result.ended = why
                    return
        elif message.kind == "frozen" and frames:
            group.alone()
            readers.append(threading.Thread(target=_send, args=(process.stdin, frames[1]), daemon=True))
            readers[-1].start()
            frames, cells_end, result.where = (), None, "answers"
            deadline = now + limits.start
        elif message.kind == "begin" and message.fields["checkpoint"] in seconds:
            result.where = message.fields["checkpoint"]
            deadline = now + seconds[result.where] + 3 * limits.grace
        elif message.kind in ("answer", "early") and message.fields["checkpoint"] in seconds:
            (result.answers if message.kind == "answer" else result.early)[message.fields["checkpoint"]] = message.fields["record"]
        elif message.kind == "called" and len(result.called) < 1000:
            result.called.append((message.fields["what"], message.fields["checkpoint"]))
        elif message.kind == "done":
            result.ended = "done"
            return


def _read_lines(stream, incoming, limits):
    """Lines of the box into a queue; None at the end, "flood" when there is too much."""
    rest, total, count = b"", 0, 0
    while True:
        try:
            part = os.read(stream.fileno(), 1 << 18)
        except (OSError, ValueError):
            part = b""
        *lines, rest = (rest + part).split(b"\n")
        total, count = total + len(part), count + len(lines)
        if not part or total > limits.output or count > limits.messages or len(rest) > records.LINE:
            incoming.put("flood" if part else None)
            return
        for line in lines:
            incoming.put(line)


def _read_tail(stream, kept):
    with contextlib.suppress(OSError, ValueError):
        while part := os.read(stream.fileno(), 1 << 16):
            kept.append(part)
            while len(kept) > 1 and sum(map(len, kept)) > 8000:
                kept.pop(0)


def _send(stream, data):
    with contextlib.suppress(OSError, ValueError):
        stream.write(data)
        stream.flush()


def _frame(value):
    data = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
    return struct.pack("<Q", len(data)) + data
