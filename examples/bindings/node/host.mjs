// The smallest useful host in Node.js: serves one machine and leads the first note in doubt to its record.
//   node host.mjs LIBRARY ADAPTER PORT LEDGER      (first: npm install koffi)
import koffi from "koffi";

const EVENT_SIZE = 4096; // more than the struct has; its own first four bytes say so
const ACCEPT_ALL = 2;
const ANSWER_NOT_AS_IT_SHOULD_BE = 2;
const DISPOSITION_NOT_TAKEN = 2;

const LedgerOptions = koffi.struct({
  struct_size: "uint32_t", busy_ms: "uint32_t", path: "str", store: "str", read_only: "int32_t", rights: "int32_t",
});
const LaneOptions = koffi.struct({
  struct_size: "uint32_t", accept: "int32_t", name: "str", adapter: "str", port: "str", record_path: "str",
  settings: "str", ledger: "void *", queue_length: "uint32_t", reconnect_ms: "uint32_t",
});
const CaseOptions = koffi.struct({
  struct_size: "uint32_t", tools: "uint32_t", ledger: "void *", currency: "str", value_minor: "int64_t",
  series: "str", jurisdiction: "str", lane: "str", sale: "str", staff: "str", check_limit: "uint32_t",
  reserved: "uint32_t",
});
const DispositionOptions = koffi.struct({
  struct_size: "uint32_t", disposition: "int32_t", envelope: "str", override_by: "str", override_why: "str",
  session: "void *",
});

const [path, adapter, port, store] = process.argv.slice(2);
if (!store) {
  console.error("usage: node host.mjs LIBRARY ADAPTER PORT LEDGER");
  process.exit(2);
}

const library = koffi.load(path);
const handleOut = koffi.out(koffi.pointer("void *"));
const textArguments = ["void *", "void *", "size_t", koffi.out(koffi.pointer("size_t"))];
const calls = {
  errorText: library.func("cfoil_error_text", "str", ["int32_t"]),
  contextOpen: library.func("cfoil_context_open", "int32_t", ["void *", handleOut]),
  contextClose: library.func("cfoil_context_close", "void", ["void *"]),
  ledgerOpen: library.func("cfoil_ledger_open", "int32_t", ["void *", koffi.pointer(LedgerOptions), handleOut]),
  laneOpen: library.func("cfoil_lane_open", "int32_t", ["void *", koffi.pointer(LaneOptions), handleOut]),
  laneWait: library.func("cfoil_lane_wait", "int32_t", ["void *", "uint32_t", "void *"]),
  eventJson: library.func("cfoil_event_json", "int32_t", textArguments),
  caseOpen: library.func("cfoil_case_open", "int32_t", ["void *", koffi.pointer(CaseOptions), handleOut]),
  presentationAdd: library.func("cfoil_case_presentation_add", "int32_t", ["void *", "void *"]),
  caseJson: library.func("cfoil_case_json", "int32_t", textArguments),
  caseAnswer: library.func("cfoil_case_answer", "int32_t", ["void *", "str", "int32_t"]),
  caseDispose: library.func("cfoil_case_dispose", "int32_t", ["void *", koffi.pointer(DispositionOptions), "void *"]),
};

function need(result) {
  if (result !== 0) throw new Error(calls.errorText(result));
}

function opened(call, ...rest) {
  const handle = [null];
  need(call(...rest, handle));
  return handle[0];
}

function sized(type, members) {
  return { ...members, struct_size: koffi.sizeof(type) };
}

// A JSON text of unknown length: ask, then fetch.
function document(call, handle) {
  const needed = [0];
  call(handle, null, 0, needed);
  const text = Buffer.alloc(Number(needed[0]));
  need(call(handle, text, text.length, needed));
  return JSON.parse(text.toString("utf8", 0, text.length - 1));
}

function caseLead(context, ledger, raw, event) {
  const doubt = opened(calls.caseOpen, context, sized(CaseOptions, {
    ledger, currency: event.currency ?? "EUR", value_minor: event.value_minor ?? 5000, // a real host asks which note
  }));
  need(calls.presentationAdd(doubt, raw));
  let step = document(calls.caseJson, doubt).step;
  while (step.kind === "check") { // a real host shows the step and waits for the cashier
    console.log(`${step.title}: ${step.instruction}`);
    need(calls.caseAnswer(doubt, step.check, ANSWER_NOT_AS_IT_SHOULD_BE));
    step = document(calls.caseJson, doubt).step;
  }
  console.log(`${step.title}: ${step.say}`);
  need(calls.caseDispose(doubt, sized(DispositionOptions, { disposition: DISPOSITION_NOT_TAKEN }), null));
  const ended = document(calls.caseJson, doubt);
  console.log(`case ${ended.case} ${ended.disposition}`);
}

const context = opened(calls.contextOpen, null);
const ledger = opened(calls.ledgerOpen, context, sized(LedgerOptions, { path: store }));
const lane = opened(calls.laneOpen, context, sized(LaneOptions, { accept: ACCEPT_ALL, adapter, port, ledger }));
const raw = Buffer.alloc(EVENT_SIZE);
for (;;) {
  raw.fill(0);
  raw.writeUInt32LE(EVENT_SIZE, 0); // the order of bytes of the machines that Node.js runs on
  need(calls.laneWait(lane, 60000, raw));
  const event = document(calls.eventJson, raw);
  if (event.kind === "rejected" && ["authenticity", "not_recognised"].includes(event.reason)) {
    caseLead(context, ledger, raw, event);
    break;
  }
  if (event.kind === "lane_state" && event.lane_state === "ended") throw new Error("the lane has ended");
}
calls.contextClose(context);
