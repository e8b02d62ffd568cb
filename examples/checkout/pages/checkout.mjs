// The screen of one checkout: shows what the server says, asks one thing at a time, and never decides anything itself.

const keys = [
  "screen.title", "screen.nothing", "screen.check_note", "screen.value", "screen.start", "screen.good", "screen.bad",
  "screen.untold", "screen.back", "screen.save", "screen.step", "screen.receipt", "screen.done", "screen.waiting",
  "screen.no_machine", "screen.away", "screen.stale", "screen.language", "screen.last", "caution", "language.review",
  "till.how_ended", "till.ask.serial", "till.ask.envelope", "till.ask.supervisor", "till.ask.reason", "till.override",
  "till.choice.taken", "till.label.do", "till.label.should_be", "till.label.would_not", "till.label.in_mind",
  "till.label.say", "till.label.because", "till.label.caution", "till.label.source", "till.label.record",
  "till.ask.which", "till.ended", "screen.damaged", "screen.area", "screen.look_up", "screen.damage",
  ...["taken", "not_taken", "set_aside", "abandoned"].map((word) => `till.disposition.${word}`),
];
const damages = ["soiled", "part_missing", "two_pieces", "several_pieces", "burnt", "stuck_together", "dye_stained",
  "damaged_on_purpose"];
const eventKeys = [
  "held", "stacked", "returned", "lost_events",
  ...["opening", "starting", "idle", "accepting", "fault", "lost", "ended"].map((word) => `state.${word}`),
  ...["restarted", "jam_reachable", "jam_safe", "stacker_removed", "stacker_in_place", "stacker_full", "fault",
    "fault_cleared", "tampering", "unknown_note_stacked", "unknown_code", "barcode", "line_noisy", "counter_gap",
    "queue_overflow", "amount_may_be_short", "outcome_unknown", "ledger_failing", "identified", "other"]
    .map((word) => `condition.${word}`),
].map((word) => `event.${word}`);
const reasonKeys = ["none", "authenticity", "not_recognised", "handling", "not_enabled", "device_condition", "tampering"]
  .map((word) => `machine.reason.${word}`);
const answers = [["as_it_should_be", "screen.good"], ["not_as_it_should_be", "screen.bad"], ["cannot_tell", "screen.untold"]];

let messages = {};
let state = null;
let revisited = null; // a check that was answered and is shown again
let busy = false;

const main = document.getElementById("main");

// ---- Words ----

const word = (key) => messages[key] ?? key;
const fill = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);

async function messagesLoad() {
  const read = async (list) => (await fetch(`/messages?keys=${list.join(",")}`)).json();
  messages = { ...await read(keys), ...await read(eventKeys), ...await read(reasonKeys),
    ...await read(damages.map((each) => `screen.damage.${each}`)) };
}

function money(currency, minor) {
  const format = new Intl.NumberFormat(state.language, { style: "currency", currency, minimumFractionDigits: 0 });
  return format.format(minor / 10 ** new Intl.NumberFormat("en", { style: "currency", currency }).resolvedOptions().maximumFractionDigits);
}

function eventWords(event) {
  if (event.kind === "rejected") return word(`machine.reason.${event.reason ?? "none"}`);
  if (event.kind === "lane_state") return word(`event.state.${event.lane_state}`);
  if (event.kind === "device") return messages[`event.condition.${event.condition}`] ?? word("event.condition.other");
  return word(`event.${event.kind}`);
}

// ---- Building ----

function element(name, members = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(members)) {
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (value === true) made.setAttribute(key, "");
    else if (value !== false && value !== undefined && value !== null) made.setAttribute(key, value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}

const row = (key, text) => (text ? [element("dt", {}, word(key)), element("dd", {}, text)] : []);

function button(label, press, members = {}) {
  return element("button", { type: "button", disabled: busy, onclick: press, ...members }, label);
}

// ---- Calls ----

function tell(text) {
  const place = document.getElementById("told");
  place.hidden = !text;
  place.textContent = text ?? "";
}

function away(gone) {
  const place = document.getElementById("away");
  place.hidden = !gone;
  place.textContent = gone ? word("screen.away") : "";
}

// One call at a time: a second tap, or a tap at a second screen, is turned away by the turn of the case.
async function call(path, wish) {
  if (busy) return false;
  busy = true;
  for (const each of main.querySelectorAll("button")) each.disabled = true;
  try {
    const answer = await fetch(path, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Checkout": "1" },
      body: JSON.stringify({ case: state.case?.case, turn: state.turn, ...wish }),
    });
    const told = await answer.json();
    tell(answer.status === 409 ? word("screen.stale") : told.told);
    return answer.ok;
  } catch {
    away(true);
    return false;
  } finally {
    busy = false;
    await stateLoad(true);
  }
}

// ---- The checks that were shown: kept in the tab, so that going back works after a reload ----

const seenName = () => `steps-${state.case.case}`;
const seenRead = () => JSON.parse(sessionStorage.getItem(seenName()) ?? "{}");

function seenKeep(step) {
  if (step.kind !== "check") return;
  sessionStorage.setItem(seenName(), JSON.stringify({ ...seenRead(), [step.check]: step }));
}

function stepBack() {
  const told = state.case.answers;
  const from = revisited ? told.findIndex((each) => each.check === revisited.check) : told.length;
  const before = from > 0 ? seenRead()[told[from - 1].check] : undefined;
  if (before === undefined) return;
  revisited = before;
  render();
}

// ---- Cards ----

async function answer(step, value, pressed) {
  pressed?.setAttribute("aria-pressed", "true"); // seen at once; the server's word follows
  const open = revisited;
  revisited = null;
  if (!await call("/answer", { check: step.check, answer: value })) revisited = open && state.case ? open : null;
}

function answerButtons(step) {
  return answers.map(([value, key], index) => {
    const made = button("", () => answer(step, value, made), { class: "large", "data-answer": String(index + 1) });
    made.append(element("kbd", { "aria-hidden": "true" }, String(index + 1)), word(key));
    return made;
  });
}

function serialForm() {
  const input = element("input", { name: "serial", autocomplete: "off", maxlength: "64", value: state.case.serial ?? "" });
  return element("details", {}, element("summary", {}, word("till.ask.serial")),
    element("form", { onsubmit: (event) => { event.preventDefault(); call("/serial", { serial: input.value }); } },
      element("label", {}, word("till.ask.serial"), input), element("button", { type: "submit" }, word("screen.save"))));
}

function source(step) {
  return element("details", {}, element("summary", {}, word("till.label.source")), element("p", { class: "quiet" }, step.source));
}

function checkCard(step) {
  const told = state.case.answers;
  const back = seenRead()[told.at(-1)?.check] !== undefined;
  const picture = revisited ? null
    : element("img", { src: `/picture?check=${encodeURIComponent(step.check)}&turn=${state.turn}`, alt: step.where ?? "" });
  return element("section", { class: "card", "aria-labelledby": "step" },
    element("p", { class: "quiet" }, fill(word("screen.step"), step)),
    element("progress", { max: step.number_max, value: step.number, "aria-label": fill(word("screen.step"), step) }),
    element("h2", { id: "step" }, step.title),
    element("div", { class: "check" },
      element("div", {},
        element("p", { class: "do" }, step.instruction),
        element("dl", {}, ...row("till.label.should_be", step.expected), ...row("till.label.would_not", step.doubtful),
          ...row("till.label.in_mind", step.hint))),
      picture),
    element("div", { class: "row" }, ...answerButtons(step)),
    element("div", { class: "row" },
      back ? button(word("screen.back"), stepBack, { id: "back" }) : null,
      button(word("till.disposition.not_taken"), () => call("/end", { disposition: "not_taken" }))),
    element("p", { class: "quiet" }, step.caution), serialForm(), source(step));
}

function endForm(disposition) {
  const fields = disposition === "taken"
    ? [["by", "till.ask.supervisor"], ["why", "till.ask.reason"]] : [["envelope", "till.ask.envelope"]];
  const inputs = fields.map(([name]) => element("input", { name, autocomplete: "off", maxlength: name === "why" ? "200" : "32" }));
  const label = disposition === "taken" ? word("till.choice.taken") : word(`till.disposition.${disposition}`);
  return element("details", {}, element("summary", {}, label),
    disposition === "taken" ? element("p", {}, word("till.override")) : null,
    element("form", {
      onsubmit: (event) => {
        event.preventDefault();
        call("/end", { disposition, ...Object.fromEntries(inputs.map((input) => [input.name, input.value])) });
      },
    }, ...fields.map(([, key], index) => element("label", {}, word(key), inputs[index])),
    element("button", { type: "submit" }, word("screen.done"))));
}

function adviceCard(step) {
  const offered = step.dispositions;
  const plain = offered.filter((each) => each !== "set_aside");
  return element("section", { class: "card", "aria-labelledby": "step" },
    element("h2", { id: "step" }, step.title),
    element("p", { class: "do" }, step.instruction),
    step.say ? element("p", { class: "say" }, element("span", { class: "quiet" }, `${word("till.label.say")}: `), step.say) : null,
    element("dl", {}, ...row("till.label.because", step.reasons), ...row("till.label.caution", step.caution)),
    element("h3", {}, word("till.how_ended")),
    element("div", { class: "row" }, ...plain.map((each, index) => button(word(`till.disposition.${each}`),
      () => call("/end", { disposition: each }), { class: index === 0 ? "large lead" : "large" }))),
    offered.includes("set_aside") ? endForm("set_aside") : null,
    offered.includes("taken") ? null : endForm("taken"),
    element("div", { class: "row" }, state.case.answers.length > 0 ? button(word("screen.back"), stepBack, { id: "back" }) : null),
    serialForm(), source(step));
}

const valueInput = () => element("input",
  { name: "value", inputmode: "decimal", autocomplete: "off", required: true, pattern: "[0-9]+([.,][0-9]{1,2})?" });
const numberOf = (input) => Number(input.value.replace(",", "."));

function valueForm() {
  const input = valueInput();
  return element("form", {
    onsubmit: (event) => {
      event.preventDefault();
      call("/case", { value_minor: Math.round(numberOf(input) * 100) });
    },
  }, element("label", {}, `${word("screen.value")} (${state.currency})`, input),
  element("button", { type: "submit", class: "lead" }, word("screen.start")));
}

// What a bank is likely to give for a damaged note: asked and shown in place, nothing is kept.
function worthPart() {
  const value = valueInput();
  const area = element("input", { name: "area", inputmode: "decimal", autocomplete: "off", pattern: "[0-9]+([.,][0-9])?" });
  const damage = element("select", { name: "damage" }, ...damages.map((each) => element("option", { value: each }, word(`screen.damage.${each}`))));
  const said = element("p", { class: "lines", role: "status" });
  const ask = async (event) => {
    event.preventDefault();
    const wish = { value_minor: Math.round(numberOf(value) * 100), conditions: [damage.value] };
    if (area.value) wish.area_cm2 = numberOf(area);
    try {
      const answer = await fetch("/worth", { method: "POST", headers: { "X-Checkout": "1" }, body: JSON.stringify(wish) });
      said.textContent = (await answer.json()).told;
    } catch {
      away(true);
    }
  };
  return element("details", { id: "worth" }, element("summary", {}, word("screen.damaged")),
    element("form", { onsubmit: ask },
      element("label", {}, `${word("screen.value")} (${state.currency})`, value),
      element("label", {}, word("screen.damage"), damage),
      element("label", {}, word("screen.area"), area),
      element("button", { type: "submit" }, word("screen.look_up"))), said);
}

function idleCard() {
  const asks = state.waiting > 0;
  return element("section", { class: "card", "aria-labelledby": "step" },
    element("h2", { id: "step" }, asks ? word("till.ask.which").replace(/\s*\(.*\)$/, "") : word("screen.nothing")),
    element("p", {}, state.machine ? word("screen.check_note") : word("screen.no_machine")),
    valueForm(),
    worthPart(),
    state.last ? lastPart() : null);
}

function lastPart() {
  const refused = state.last.disposition === "not_taken" || state.last.disposition === "set_aside";
  return element("section", { "aria-labelledby": "last" },
    element("h3", { id: "last" }, word("screen.last")),
    element("p", {}, fill(word("till.ended"), { title: word(`till.disposition.${state.last.disposition}`) })),
    element("dl", {}, ...row("till.label.record", String(state.last.record))),
    refused ? element("p", { class: "row" }, element("a", { class: "button", target: "_blank", rel: "noopener",
      href: `/receipt?case=${encodeURIComponent(state.last.case)}` }, word("screen.receipt"))) : null);
}

// ---- The whole ----

function render() {
  document.documentElement.lang = state.language;
  document.title = word("screen.title");
  for (const each of document.querySelectorAll("[data-text]")) each.textContent = word(each.dataset.text);
  document.getElementById("language").value = state.language;
  const told = [...state.events].reverse().find((event) => event.kind === "lane_state");
  document.getElementById("lane").textContent = !state.machine ? "" : told ? eventWords(told) : "";
  document.getElementById("review").textContent = word("language.review");
  document.getElementById("machine-title").textContent = state.waiting > 0
    ? fill(word("screen.waiting"), { number: state.waiting }) : "";
  document.getElementById("events").replaceChildren(...[...state.events].reverse().map((event) => element("li", {},
    `${event.time.slice(11, 19)} UTC  ${event.currency ? `${money(event.currency, event.value_minor)}  ` : ""}${eventWords(event)}`)));
  const step = revisited ?? state.case?.step;
  if (state.case && !revisited) seenKeep(state.case.step);
  const note = state.case ? element("p", { class: "quiet" }, money(state.case.currency, state.case.value_minor)) : null;
  const card = !state.case ? idleCard() : step.kind === "check" ? checkCard(step) : adviceCard(step);
  main.replaceChildren(...[note, card].filter(Boolean));
}

async function stateLoad(asked = false) {
  try {
    const fresh = await (await fetch("/state")).json();
    const other = fresh.case?.case !== state?.case?.case || fresh.turn !== state?.turn;
    const language = fresh.language !== state?.language;
    const typing = document.activeElement?.tagName === "INPUT" && main.contains(document.activeElement);
    const leave = state !== null && !other && !language && !asked && typing;
    state = fresh;
    if (language) await messagesLoad();
    if (other) revisited = null;
    away(false);
    if (leave) {
      footerOnly(); // nobody's typing is swept away by what the machine tells
      return;
    }
    render();
    if (other) main.focus();
  } catch {
    away(true);
  }
}

function footerOnly() {
  const card = [...main.childNodes];
  const active = document.activeElement;
  render();
  main.replaceChildren(...card);
  active.focus();
}

document.getElementById("language").addEventListener("change", (event) => call("/language", { language: event.target.value }));

document.addEventListener("keydown", (event) => {
  if (event.target.closest("input, select, textarea") || event.ctrlKey || event.altKey || event.metaKey) return;
  const pressed = main.querySelector(`[data-answer="${event.key}"]`);
  if (pressed) pressed.click();
  else if (event.key === "Backspace" || event.key === "b") document.getElementById("back")?.click();
});

const news = new EventSource("/news");
news.addEventListener("message", () => { if (!busy) stateLoad(); });
news.addEventListener("error", () => away(true));
news.addEventListener("open", () => stateLoad());
