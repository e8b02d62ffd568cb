#!/usr/bin/env python3
"""The smallest useful host in Python: serves one machine and leads the first note in doubt to its record.

host.py LIBRARY ADAPTER PORT LEDGER
"""
import ctypes
import json
import sys

EVENT_SIZE = 4096  # more than the struct has; its own first four bytes say so
ACCEPT_ALL = 2
ANSWER_NOT_AS_IT_SHOULD_BE = 2
DISPOSITION_NOT_TAKEN = 2


class LedgerOptions(ctypes.Structure):
    _fields_ = [("struct_size", ctypes.c_uint32), ("busy_ms", ctypes.c_uint32), ("path", ctypes.c_char_p),
                ("store", ctypes.c_char_p), ("read_only", ctypes.c_int32), ("rights", ctypes.c_int32)]


class LaneOptions(ctypes.Structure):
    _fields_ = [("struct_size", ctypes.c_uint32), ("accept", ctypes.c_int32), ("name", ctypes.c_char_p),
                ("adapter", ctypes.c_char_p), ("port", ctypes.c_char_p), ("record_path", ctypes.c_char_p),
                ("settings", ctypes.c_char_p), ("ledger", ctypes.c_void_p), ("queue_length", ctypes.c_uint32),
                ("reconnect_ms", ctypes.c_uint32)]


class CaseOptions(ctypes.Structure):
    _fields_ = [("struct_size", ctypes.c_uint32), ("tools", ctypes.c_uint32), ("ledger", ctypes.c_void_p),
                ("currency", ctypes.c_char_p), ("value_minor", ctypes.c_int64), ("series", ctypes.c_char_p),
                ("jurisdiction", ctypes.c_char_p), ("lane", ctypes.c_char_p), ("sale", ctypes.c_char_p),
                ("staff", ctypes.c_char_p), ("check_limit", ctypes.c_uint32), ("reserved", ctypes.c_uint32)]


class DispositionOptions(ctypes.Structure):
    _fields_ = [("struct_size", ctypes.c_uint32), ("disposition", ctypes.c_int32), ("envelope", ctypes.c_char_p),
                ("override_by", ctypes.c_char_p), ("override_why", ctypes.c_char_p), ("session", ctypes.c_void_p)]


def options(kind, **members):
    made = kind(**members)
    made.struct_size = ctypes.sizeof(kind)
    return ctypes.byref(made)


class Library:
    def __init__(self, path):
        self.calls = ctypes.CDLL(path)
        self.calls.cfoil_error_text.restype = ctypes.c_char_p
        self.calls.cfoil_error_text.argtypes = [ctypes.c_int32]

    def call(self, name, *arguments):
        """Calls a function that answers a result code; handles are passed as pointers."""
        return getattr(self.calls, name)(*arguments)

    def need(self, name, *arguments):
        result = self.call(name, *arguments)
        if result != 0:
            raise SystemExit(f"{name}: {self.calls.cfoil_error_text(result).decode()}")

    def open(self, name, *arguments):
        handle = ctypes.c_void_p()
        self.need(name, *arguments, ctypes.byref(handle))
        return handle

    def document(self, name, handle):
        """A JSON text of unknown length: ask, then fetch."""
        needed = ctypes.c_size_t()
        self.call(name, handle, None, ctypes.c_size_t(0), ctypes.byref(needed))
        text = ctypes.create_string_buffer(needed.value)
        self.need(name, handle, text, ctypes.c_size_t(len(text)), None)
        return json.loads(text.value)


def event_wait(library, lane):
    """The next event, as bytes for the library and as a document for us."""
    raw = ctypes.create_string_buffer(EVENT_SIZE)
    ctypes.cast(raw, ctypes.POINTER(ctypes.c_uint32))[0] = EVENT_SIZE
    library.need("cfoil_lane_wait", lane, ctypes.c_uint32(60000), raw)
    return raw, library.document("cfoil_event_json", raw)


def case_lead(library, context, ledger, raw, event):
    doubt = library.open("cfoil_case_open", context, options(
        CaseOptions, ledger=ledger, currency=(event["currency"] or "EUR").encode(),
        value_minor=event["value_minor"] or 5000))  # a real host asks which note it is when the machine does not say
    library.need("cfoil_case_presentation_add", doubt, raw)
    step = library.document("cfoil_case_json", doubt)["step"]
    while step["kind"] == "check":  # a real host shows the step and waits for the cashier
        print(f'{step["title"]}: {step["instruction"]}')
        library.need("cfoil_case_answer", doubt, step["check"].encode(), ctypes.c_int32(ANSWER_NOT_AS_IT_SHOULD_BE))
        step = library.document("cfoil_case_json", doubt)["step"]
    print(f'{step["title"]}: {step["say"]}')
    library.need("cfoil_case_dispose", doubt, options(DispositionOptions, disposition=DISPOSITION_NOT_TAKEN), None)
    case = library.document("cfoil_case_json", doubt)
    print(f'case {case["case"]} {case["disposition"]}')


def main(path, adapter, port, store):
    library = Library(path)
    context = library.open("cfoil_context_open", None)
    ledger = library.open("cfoil_ledger_open", context, options(LedgerOptions, path=store.encode()))
    lane = library.open("cfoil_lane_open", context, options(
        LaneOptions, accept=ACCEPT_ALL, adapter=adapter.encode(), port=port.encode(), ledger=ledger))
    while True:
        raw, event = event_wait(library, lane)
        if event["kind"] == "rejected" and event["reason"] in ("authenticity", "not_recognised"):
            case_lead(library, context, ledger, raw, event)
            break
        if event["kind"] == "lane_state" and event["lane_state"] == "ended":
            raise SystemExit("the lane has ended")
    library.calls.cfoil_context_close(context)


if __name__ == "__main__":
    if len(sys.argv) != 5:
        raise SystemExit(__doc__)
    main(*sys.argv[1:])
