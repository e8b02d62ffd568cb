/*
 * The commands there are, and their help: one table each, from which the help is printed.
 */
#include "commands.h"

#include "print.h"

#include <counterfoil/counterfoil.h>
#include <stddef.h>
#include <string.h>

#define END_OF_OPTIONS                                                                                                 \
    {                                                                                                                  \
        OPTION_TOTAL, false, NULL, NULL                                                                                \
    }
#define PACKS_OPTION                                                                                                   \
    {                                                                                                                  \
        OPTION_PACKS, false, "DIR", "also load every *.json pack of this folder"                                       \
    }
#define DESCRIPTION_OPTION                                                                                             \
    {                                                                                                                  \
        OPTION_DESCRIPTION, false, "FILE", "also load this description of a device; its id is then an adapter"         \
    }
#define ADAPTER_FILE_OPTION                                                                                            \
    {                                                                                                                  \
        OPTION_ADAPTER_FILE, false, "PATH",                                                                            \
            "also load the adapter in this shared library, ./FILE or /FOLDER/FILE; its code runs with your rights"     \
    }

static const struct option_use watch_options[] = {
    {OPTION_ADAPTER, true, "ID", "what the machine speaks, for example cctalk; 'counterfoil catalogue' lists them"},
    {OPTION_PORT, true, "PORT", "serial:DEVICE, usb:VID:PID, tcp:HOST:PORT or trace:FILE"},
    {OPTION_ACCEPT, false, "WHICH",
     "none (default): the machine takes no note; hold: each good note is held, reported and given back; all: the "
     "machine puts each good note into its box"},
    {OPTION_COUNT, false, "N", "end after N events; changes of the lane's state are shown but do not count"},
    {OPTION_SECONDS, false, "S", "end after S seconds"},
    {OPTION_JSON, false, NULL, "one JSON object a line (schema counterfoil.event/1)"},
    {OPTION_SETTINGS, false, "TEXT", "settings of the adapter, \"key=value;key=value\""},
    {OPTION_RECORD, false, "FILE", "write a trace that trace:FILE can replay; the file must not exist yet"},
    {OPTION_LEDGER, false, "FILE", "record every presentation in this ledger; it is made when missing"},
    {OPTION_LANE, false, "NAME", "name of the lane, for the record"},
    DESCRIPTION_OPTION,
    ADAPTER_FILE_OPTION,
    PACKS_OPTION,
    END_OF_OPTIONS,
};

static const struct option_use till_options[] = {
    {OPTION_CURRENCY, false, "CODE", "ISO 4217 code of the notes that are typed; EUR when not given"},
    {OPTION_JURISDICTION, false, "ID", "whose rules the advice follows; cautious common ground when not given"},
    {OPTION_LANGUAGE, false, "TAG",
     "of all words, for example de or hi; English when not given, and where a word is not translated"},
    {OPTION_SERIES, false, "ID",
     "design of the notes; the newest when not given. For an older note start with its "
     "series; 'counterfoil catalogue' lists them"},
    {OPTION_TOOLS, false, "LIST", "what is at hand: magnifier,uv,ruler,known-note"},
    {OPTION_LEDGER, false, "FILE", "record presentations and decisions here; the file is made when missing"},
    {OPTION_ADAPTER, false, "ID", "what the machine speaks; needs --port"},
    {OPTION_PORT, false, "PORT", "serial:DEVICE, usb:VID:PID, tcp:HOST:PORT or trace:FILE; needs --adapter"},
    {OPTION_ACCEPT, false, "WHICH",
     "hold (default): the till sends each good note to the box; all: the machine does so itself; none: it takes "
     "nothing"},
    {OPTION_SETTINGS, false, "TEXT", "settings of the adapter, \"key=value;key=value\""},
    {OPTION_RECORD, false, "FILE", "write a trace of the machine; the file must not exist yet"},
    {OPTION_LANE, false, "NAME", "name of the lane, for the record"},
    {OPTION_STAFF, false, "CODE", "your staff code, for the record"},
    {OPTION_SALE, false, "NUMBER", "number of the sale, for the record"},
    {OPTION_RESUME, false, NULL, "first take up the cases of --lane (of every lane without it) that have not ended"},
    {OPTION_COUNT, false, "N", "end after N refused notes were dealt with (without a machine: after N cases)"},
    {OPTION_SECONDS, false, "S", "end after S seconds"},
    {OPTION_JSON, false, NULL,
     "one JSON object a line on standard output (events, cases, records); the talk goes to standard error"},
    DESCRIPTION_OPTION,
    ADAPTER_FILE_OPTION,
    PACKS_OPTION,
    END_OF_OPTIONS,
};

static const struct option_use serial_options[] = {
    {OPTION_JSON, false, NULL, "one JSON object"},
    PACKS_OPTION,
    END_OF_OPTIONS,
};

static const struct option_use report_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger to read"},
    {OPTION_FROM, false, "DATE", "first day, YYYY-MM-DD in UTC"},
    {OPTION_TO, false, "DATE", "last day, YYYY-MM-DD in UTC; it is included"},
    {OPTION_LANE, false, "NAME", "only this lane"},
    {OPTION_STORE, false, "NAME", "the store that the ledger must be of"},
    {OPTION_FORMAT, false, "FORMAT", "text (default), json, csv: the counts as a table, or html: a page with charts"},
    {OPTION_JSON, false, NULL, "one JSON object (schema counterfoil.report/1)"},
    PACKS_OPTION,
    END_OF_OPTIONS,
};

static const struct option_use verify_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger to read"},
    {OPTION_KEY, false, "PUBLIC", "a public key of the store that was noted elsewhere: it must have signed here"},
    {OPTION_NOTED, false, "NUMBER:HASH", "an entry that was noted elsewhere: it must be this one"},
    {OPTION_JSON, false, NULL, "one JSON object"},
    END_OF_OPTIONS,
};

static const struct option_use entry_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger to read"},
    END_OF_OPTIONS,
};

static const struct option_use export_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger to read"},
    {OPTION_FORMAT, false, "FORM", "json (default): every entry, a JSON document a line; csv: one table"},
    {OPTION_TABLE, false, "NAME", "with csv: presentations (default), cases or custody"},
    {OPTION_FROM, false, "DATE", "first day, YYYY-MM-DD in UTC"},
    {OPTION_TO, false, "DATE", "last day, YYYY-MM-DD in UTC; it is included"},
    END_OF_OPTIONS,
};

static const struct option_use import_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger that takes the records; it is made when missing"},
    {OPTION_STAFF, true, "CODE", "who does it; in a ledger with staff codes a supervisor"},
    {OPTION_PIN, false, NULL, "read the PIN from standard input"},
    {OPTION_DRY_RUN, false, NULL, "look at everything, take nothing"},
    {OPTION_JSON, false, NULL, "one JSON object"},
    END_OF_OPTIONS,
};

static const struct option_use held_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger to read"},
    {OPTION_STATE, false, "STATE",
     "set_aside, found, sealed, handed_over, genuine, not_genuine, lost, given_back, with_customer, or all; what the "
     "shop "
     "has in its hands when not given"},
    {OPTION_JSON, false, NULL, "one JSON object (schema counterfoil.list/1)"},
    END_OF_OPTIONS,
};

static const struct option_use custody_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger"},
    {OPTION_STAFF, true, "CODE", "who does it"},
    {OPTION_SECOND, false, "CODE", "who confirms it, where two persons are asked for"},
    {OPTION_PIN, false, NULL, "read the PIN from standard input, then that of the second person, a line each"},
    {OPTION_ENVELOPE, false, "NUMBER", "seal: number of the envelope"},
    {OPTION_PLACE, false, "TEXT", "find, carry: where the note is now"},
    {OPTION_KEEPER, false, "TEXT", "who keeps it, or which office took it over"},
    {OPTION_HOLDER, false, "WHO", "hand-over: bank, police or central-bank"},
    {OPTION_RECEIPT, false, "NUMBER", "hand-over: number of the receipt or report"},
    {OPTION_WHY, false, "TEXT", "reason or note; no names of customers"},
    {OPTION_CURRENCY, false, "CODE", "find: ISO 4217 code; EUR when not given"},
    {OPTION_VALUE, false, "VALUE", "find: value of the note, for example 50"},
    {OPTION_NUMBER, false, "SERIAL", "find: serial number of the note, capitals and no blanks"},
    {OPTION_LANE, false, "NAME", "find: the lane where it was found"},
    {OPTION_JSON, false, NULL, "one JSON object"},
    END_OF_OPTIONS,
};

static const struct option_use reconcile_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger to read"},
    {OPTION_FROM, false, "DATE", "only notes that are where they are since this day, YYYY-MM-DD in UTC"},
    {OPTION_TO, false, "DATE", "and until this day; it is included"},
    {OPTION_JSON, false, NULL, "one JSON object (schema counterfoil.reconcile/1)"},
    END_OF_OPTIONS,
};

static const struct option_use cases_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger to read"},
    {OPTION_OPEN, false, NULL, "the cases that have not ended"},
    {OPTION_LANE, false, "NAME", "with --open: only this lane"},
    {OPTION_JSON, false, NULL, "one JSON object (schema counterfoil.list/1)"},
    END_OF_OPTIONS,
};

static const struct option_use paper_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger to read"},
    {OPTION_CASE, false, "ID", "receipt, label: the case; hand-over: only this note"},
    {OPTION_MONTH, false, "YYYY-MM", "hand-over, period: this month; the same as its first and last day"},
    {OPTION_FROM, false, "DATE", "hand-over, period: first day, YYYY-MM-DD"},
    {OPTION_TO, false, "DATE", "hand-over, period: last day, YYYY-MM-DD; it is included"},
    {OPTION_FORMAT, false, "FORMAT", "42 (default) or 48 places in a line, or html"},
    {OPTION_LANGUAGE, false, "TAG", "of all words, for example de or hi; English when not given"},
    {OPTION_JURISDICTION, false, "ID",
     "whose rules are printed; those of the case, else the cautious common ground, when not given"},
    {OPTION_OFFSET, false, "+HH:MM", "local time, for example +05:30; also when a day begins. UTC when not given"},
    {OPTION_SHOP, false, "TEXT", "name and address of the shop; the ledger's name of the store when not given"},
    PACKS_OPTION,
    END_OF_OPTIONS,
};

static const struct option_use person_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger"},
    {OPTION_STAFF, false, "CODE", "who does it; sweep needs nobody"},
    {OPTION_PIN, false, NULL, "read the PIN of --staff from standard input, before anything else"},
    {OPTION_DAYS, false, "N", "set: erased after N days; what the jurisdiction's pack says when not given"},
    {OPTION_JURISDICTION, false, "ID", "set: whose number of days"},
    PACKS_OPTION,
    END_OF_OPTIONS,
};

static const struct option_use tender_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger to read"},
    {OPTION_JSON, false, NULL, "one JSON object"},
    END_OF_OPTIONS,
};

static const struct option_use staff_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger"},
    {OPTION_STAFF, false, "CODE", "who does it; not needed for the first code"},
    {OPTION_PIN, false, NULL, "read the PIN of --staff from standard input; the new PIN is the next line"},
    {OPTION_JSON, false, NULL, "one JSON object (schema counterfoil.list/1)"},
    END_OF_OPTIONS,
};

static const struct option_use rebuild_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger"},
    END_OF_OPTIONS,
};

static const struct option_use key_options[] = {
    {OPTION_LEDGER, true, "FILE", "the ledger"},
    {OPTION_STAFF, false, "CODE", "new: who does it"},
    {OPTION_PIN, false, NULL, "new: read the PIN of --staff from standard input"},
    {OPTION_JSON, false, NULL, "one JSON object (list: schema counterfoil.list/1)"},
    END_OF_OPTIONS,
};

static const struct option_use pack_options[] = {
    {OPTION_LANGUAGE, false, "TAG", "list what this language lacks, for example de"},
    {OPTION_JSON, false, NULL, "one JSON object a file"},
    PACKS_OPTION,
    END_OF_OPTIONS,
};

static const struct option_use jurisdiction_options[] = {
    {OPTION_LANGUAGE, false, "TAG", "of the words, for example de or hi; English when not given"},
    PACKS_OPTION,
    END_OF_OPTIONS,
};

static const struct option_use devices_options[] = {
    {OPTION_LISTEN, false, "PORT",
     "open this port and listen: adapters bid, 0 to 100, on what they overhear. Nothing is written to it"},
    {OPTION_PROBE, false, "PORT",
     "let each adapter that fits ask on this port for its device. Only for a port that you know is meant for a "
     "machine"},
    {OPTION_SECONDS, false, "S", "listen, or wait for an answer, so long for each adapter, 1 to 10; 2 when not given"},
    DESCRIPTION_OPTION,
    ADAPTER_FILE_OPTION,
    END_OF_OPTIONS,
};

static const struct option_use catalogue_options[] = {
    DESCRIPTION_OPTION,
    ADAPTER_FILE_OPTION,
    PACKS_OPTION,
    END_OF_OPTIONS,
};

#define NOTE_OPTIONS                                                                                                   \
    {OPTION_CURRENCY, true, "CODE", "ISO 4217 code of the note"},                                                      \
        {OPTION_VALUE, true, "VALUE", "value of the note, for example 50"},                                            \
        {OPTION_SERIES, false, "ID", "design of the note; the newest when not given"},                                 \
    {                                                                                                                  \
        OPTION_LANGUAGE, false, "TAG", "of the words; English when not given"                                          \
    }

static const struct option_use worth_options[] = {
    NOTE_OPTIONS,
    {OPTION_CONDITION, false, "LIST",
     "what is seen or known, commas between: soiled, scribbled, washed, two-pieces, several-pieces, part-missing, "
     "mismatched, features-missing, brittle, burnt, stuck-together, contaminated, dye-stained, damaged-on-purpose, "
     "message, altered, stamped, destroyed"},
    {OPTION_AREA, false, "LIST", "area of each piece, commas between, for example 62cm2 or 6200mm2"},
    {OPTION_MISSING, false, "LIST", "what is gone from a note in one piece, for example 30x20mm or corner:15x10mm"},
    {OPTION_POLYGON, false, "FILE", "corners of the piece in mm, once round, two numbers a line"},
    {OPTION_SQUARES, false, "COUNT",
     "squares of the printed grid: whole+cut ones, for example 300+40; missing:50+12 when the missing ones were "
     "counted"},
    {OPTION_SIDE, false, "MM", "side of the squares; 5 when not given"},
    {OPTION_BAR, false, "MM", "what the printed bar of 100 mm measures"},
    {OPTION_BOUND, false, "SIZE",
     "how far the measure can be wrong: an area with --area (half of the last place typed when not given), else a "
     "length (0.5mm)"},
    {OPTION_COUNT, false, "N", "how many such notes are brought on one day"},
    {OPTION_JSON, false, NULL, "one JSON object (schema counterfoil.damaged-answer/1)"},
    PACKS_OPTION,
    END_OF_OPTIONS,
};

static const struct option_use fit_options[] = {
    NOTE_OPTIONS,
    {OPTION_JSON, false, NULL, "one JSON object (schema counterfoil.damaged-answer/1)"},
    PACKS_OPTION,
    END_OF_OPTIONS,
};

static const struct option_use grid_options[] = {
    NOTE_OPTIONS,
    {OPTION_SIDE, false, "MM", "side of the squares, 1 to 10; 5 when not given"},
    PACKS_OPTION,
    END_OF_OPTIONS,
};

const struct command commands[] = {
    {"watch", "show what a note validator does, one line an event", "--adapter ID --port PORT [OPTION...]",
     "Opens the machine and writes one line for each event. Nothing is written to a port before you name the adapter. "
     "Ends with Ctrl-C, after --count or --seconds, or when the lane has ended.\n\n"
     "A note that is held when the end comes is seen on its way back first.\n\n"
     "Exit code: 0 at the end asked for or the end of a trace, 1 when the lane failed, 2 for a mistake in the call.",
     watch_options, 0, 0, watch_run},
    {"till", "a cashier's session: check a doubtful note step by step", "[OPTION...]",
     "Leads through the checks of a doubtful note, one at a time, and records how it ended. It is an aid, not proof: "
     "in doubt do not take the note, stay polite, and let nobody confront a customer.\n\n"
     "Without a machine type the value of the note, for example 50. With --adapter and --port a case opens by itself "
     "when the machine refuses a note for what it sees; a note that was only fed badly gives a hint.\n\n"
     "At a check: 1 as it should be, 2 not as it should be, 3 cannot tell, b back, s serial number, n do not take it, "
     "q stop the case, ? help. At the prompt: a value, report, help, quit; with a machine also ready.\n\n"
     "Lines may come from a script. With a machine they are then read only when a question is open, and the session "
     "goes on until the lane ends or --count or --seconds is reached; the end of the lines ends it at the next "
     "question.\n\n"
     "Exit code: 0, 1 when the machine or a record failed, 2 for a mistake in the call.",
     till_options, 0, 0, till_run},
    {"serial", "check that a note's serial number was read well", "CURRENCY SERIAL [OPTION...]",
     "Checks the form and the check figure, for example: counterfoil serial EUR X04940051213. It finds misreadings, "
     "not copies. Put a number with blanks in quotes.\n\n"
     "Exit code: 0 when the form is known and the check figure fits, 1 when not, or when there is no check figure, 2 "
     "for a mistake in the call.",
     serial_options, 2, 2, serial_run},
    {"report", "the figures of a period: is it the notes or the machine?", "--ledger FILE [OPTION...]",
     "Says what stands out, and counts presentations, refusals, cases and kept notes of a ledger. Without days it "
     "covers "
     "everything.",
     report_options, 0, 0, report_run},
    {"verify", "find any altered, removed or re-ordered ledger entry", "--ledger FILE [OPTION...]",
     "Recomputes the chain of hashes and checks every signature in it. Who can write the file can make it again from "
     "the beginning: --key and --noted compare it with what you have kept elsewhere, for example the head that this "
     "command showed at the end of the day.\n\n"
     "Exit code: 0 intact, 1 not intact, 2 for a mistake in the call.",
     verify_options, 0, 0, verify_run},
    {"entry", "show one ledger entry as JSON", "--ledger FILE NUMBER",
     "NUMBER counts from 1; 0 is the newest entry (schema counterfoil.entry/1).", entry_options, 1, 1, entry_run},
    {"export", "write out the ledger for archives and other programs", "--ledger FILE [OPTION...]",
     "Writes to standard output: all entries as JSON Lines (the first line describes the export, schemas "
     "counterfoil.export/1 and counterfoil.entry/1), or one table as CSV (RFC 4180). Holds serial numbers and staff "
     "codes: keep it as you keep the ledger.",
     export_options, 0, 0, export_run},
    {"import", "take records from elsewhere, each once", "FILE --ledger FILE --staff CODE [OPTION...]",
     "FILE is a history of events as JSON Lines (schema counterfoil.event/1 with lane and record, see "
     "docs/exchange.md), "
     "or another ledger as 'counterfoil export' writes it, whose chain must be intact. What is there already is passed "
     "over, so the same file may come again. Lines are taken in batches, each wholly or not at all.\n\n"
     "Exit code: 0 all taken or there already, 1 a bad line (its number is told) or a failure, 2 for a mistake in the "
     "call.",
     import_options, 1, 1, import_run},
    {"explain", "say in words what the evidence of a case weighed", "--ledger FILE CASE",
     "CASE is the case's id, or the number of its entry (0 is the newest). For experts: what the machine's refusal and "
     "each answer were weighed with, from which source, with ranges. An aid, not proof.",
     entry_options, 1, 1, explain_run},
    {"held", "list the doubtful notes that the shop keeps", "--ledger FILE [OPTION...]",
     "Shows each note with its case, envelope, place and since when.", held_options, 0, 0, held_run},
    {"custody", "record a step of a kept note: sealed, handed over, ...", "STEP [CASE] --ledger FILE --staff CODE",
     "STEP is find, seal, carry, hand-over, genuine, not-genuine, lose or give-back; 'counterfoil held' lists the "
     "cases. "
     "find begins a case for a note that was found in the till. There is no step that puts a note back among the "
     "money, "
     "and none that hands back what was taken as payment once.\n\n"
     "Exit code: 0 recorded, 1 not allowed or failed, 2 for a mistake in the call.",
     custody_options, 1, 2, custody_run},
    {"reconcile", "hold the kept notes against the envelopes in hand", "--ledger FILE [OPTION...] [ENVELOPE...]",
     "Give the numbers of all envelopes that were counted. Names what is missing, not in an envelope yet, counted "
     "twice, "
     "in a wrong state, or not in the ledger. Changes nothing.\n\n"
     "Exit code: 0 all agrees, 1 not, 2 for a mistake in the call.",
     reconcile_options, 0, 1 << 20, reconcile_run},
    {"cases", "list the cases that have not ended, or one case", "--ledger FILE (--open | CASE)",
     "'counterfoil till --resume' takes open cases up again.", cases_options, 0, 1, cases_run},
    {"paper", "print a receipt, a label, a list for a hand-over or of a month", "KIND --ledger FILE [OPTION...]",
     "KIND is receipt (for the customer whose note was refused), label (for the envelope of a kept note), hand-over "
     "(for "
     "bank, police or central bank: one case, what the shop has in its hands, or what was handed over in a time) or "
     "period "
     "(the refused and kept notes of a month, or of any time).\n\n"
     "No paper says what a note is, and none names a customer. Writes to standard output.\n\n"
     "Exit code: 0, 1 when there is no such paper for this note, 2 for a mistake in the call.",
     paper_options, 1, 1, paper_run},
    {"person", "keep, show or erase what a customer told about themselves", "STEP [CASE] --ledger FILE [OPTION...]",
     "STEP is set, show or erase, with the case, or sweep, which erases whatever is over its time. set reads four "
     "lines from "
     "standard input after the PIN: name, contact, document shown, note; empty ones are not kept. Ask only for what "
     "local law "
     "allows, and only for what is given freely.\n\n"
     "Writing needs a cashier or supervisor, showing a supervisor or auditor, erasing a supervisor. The ledger tells "
     "that "
     "something was written or erased, never what.\n\n"
     "Exit code: 0, 1 not allowed or failed, 2 for a mistake in the call.",
     person_options, 1, 2, person_run},
    {"tender", "may a sale be completed?", "SALE --ledger FILE",
     "Looks whether a doubtful note of this sale is still being looked at, or was refused. A refused note pays for "
     "nothing.\n\n"
     "Exit code: 0 nothing stands against it, 1 something does, 2 for a mistake in the call.",
     tender_options, 1, 1, tender_run},
    {"staff", "list or change staff codes, roles and PINs", "--ledger FILE [CODE ROLE] [OPTION...]",
     "ROLE is cashier, supervisor, auditor, or none for somebody who left. The new PIN comes from standard input; an "
     "empty line keeps it. A ledger without codes asks for names only; the first code must be a supervisor's.",
     staff_options, 0, 2, staff_run},
    {"rule", "list or change the rules of the store", "--ledger FILE [NAME VALUE] [OPTION...]",
     "There is one rule: two_persons, yes or no. Sealing, handing over, losing and giving back a note then need a "
     "second "
     "person.",
     staff_options, 0, 2, rule_run},
    {"key", "list the store's public keys, sign, or change the key", "--ledger FILE [sign | new] [OPTION...]",
     "sign writes a signed checkpoint over the newest entry; so does the library by itself, after each 500 entries and "
     "when it closes a ledger that has a key. The first of them makes the key, in a file beside the ledger (its name "
     "and .key): keep a copy of that file elsewhere. new lets another key take its place, signed by both; what the old "
     "one has sealed can still be read. Give the public key to whoever is to check the ledger.\n\n"
     "Exit code: 0 done, 1 not allowed or failed, 2 for a mistake in the call.",
     key_options, 0, 1, key_run},
    {"rebuild", "make the ledger's lists again from its entries", "--ledger FILE",
     "Empties and fills what is only for looking up: where each case and each kept note is, rules, public keys. The "
     "entries are the record and stay as they are; 'counterfoil verify' checks them.",
     rebuild_options, 0, 0, rebuild_run},
    {"worth", "what a bank is likely to give for a damaged note", "--currency CODE --value VALUE [OPTION...]",
     "Names the rule, its source, who decides, where to take the note and how to pack it. It predicts: the bank "
     "decides, and no shop has to take a damaged note. Near a limit it says so: the bank measures.\n\n"
     "Measure in one way: --area, --missing, --polygon or --squares. Without a measure the note counts as whole, "
     "unless "
     "a condition says that a part is missing.\n\n"
     "Exit code: 0, 1 when it cannot be answered, 2 for a mistake in the call.",
     worth_options, 0, 0, worth_run},
    {"fit", "may a worn note go out again?", "--currency CODE --value VALUE FAULT... [OPTION...]",
     "FAULT is soil, stain, graffiti, washed-out, tear, hole, missing, repair, crumpled, limp, fold or folded-corner, "
     "then how (tear: vertical, horizontal or diagonal; stain: printed or unprinted) and what was measured, with "
     "colons: tear:vertical:9x5mm, hole:12mm2, repair:400mm2:60um, soil:0.05 (density).\n\n"
     "Exit code: 0, 1 when it cannot be answered, 2 for a mistake in the call.",
     fit_options, 1, 20, fit_run},
    {"grid", "a page to count squares of a damaged note on, as SVG", "--currency CODE --value VALUE [OPTION...]",
     "Writes A4 across with the outline of the note, a grid to scale and a bar of 100 mm. Print it without scaling.",
     grid_options, 0, 0, grid_run},
    {"pack", "check pack files before they are used", "check FILE... | matrix CODE",
     "check writes one line for each file: what it holds, or its first fault. matrix shows, for a currency, which "
     "manual "
     "checks speak to what a machine may name, note by note (schema counterfoil.matrix/1).\n\n"
     "check --language TAG writes one line for each message, and each text of the loaded packs, that the language "
     "lacks.\n\n"
     "Exit code: 0 when all are good, 1 when one is bad or the language lacks something, 2 when one cannot be read.",
     pack_options, 1, 1 << 20, pack_run},
    {"jurisdiction", "what a shop may do with a note in doubt at a place", "ID [OPTION...]",
     "Prints the rules of the place with their sources: before and after a note was taken, whom to tell, what to write "
     "down, by when, what never to do. An aid for reading, no legal advice: local law decides.",
     jurisdiction_options, 1, 1, jurisdiction_run},
    {"catalogue", "list packs, notes, jurisdictions and adapters as JSON", "[OPTION...]",
     "Shows what is loaded (schema counterfoil.catalogue/1).", catalogue_options, 0, 0, catalogue_run},
    {"devices", "list the ports of this computer and who could be behind them, as JSON", "[OPTION...]",
     "Shows serial ports and USB devices by the names that --port takes, with the adapters that could use each (schema "
     "counterfoil.devices/1). Nothing is written to a port but the one of --probe.\n\n"
     "Exit code: 0 when the list could be made, 1 when it could not, 2 for a mistake in the call.",
     devices_options, 0, 0, devices_run},
    {NULL, NULL, NULL, NULL, NULL, 0, 0, NULL},
};

const struct command *command_find(const char *name)
{
    for (const struct command *command = commands; command->name != NULL; command++) {
        if (strcmp(command->name, name) == 0)
            return command;
    }
    return NULL;
}

#define HELP_INDENT 16

/* Paragraphs are parted by an empty line. */
static void paragraphs_print(const char *text)
{
    char paragraph[1024];
    while (*text != '\0') {
        const char *end = strstr(text, "\n\n");
        size_t length = end != NULL ? (size_t)(end - text) : strlen(text);
        snprintf(paragraph, sizeof paragraph, "%.*s", (int)length, text);
        print_wrapped(stdout, "", 0, paragraph);
        text += length;
        if (end != NULL) {
            text += 2;
            putchar('\n');
        }
    }
}

void program_help_print(void)
{
    printf("usage: counterfoil COMMAND [OPTION...]\n\n");
    paragraphs_print("Listens to a note validator, leads a cashier through the checks of a doubtful note, and keeps a "
                     "record of every refusal. It is an aid, not proof: the licensed authority decides what a note "
                     "is, and local law what a shop does with it.");
    printf("\nCommands:\n");
    for (const struct command *command = commands; command->name != NULL; command++) {
        char label[32];
        snprintf(label, sizeof label, "  %s", command->name);
        print_wrapped(stdout, label, HELP_INDENT, command->summary);
    }
    printf("  help COMMAND\n");
    print_wrapped(stdout, "", HELP_INDENT, "how a command is used");
    printf("\n  --version   the version of program and library\n  --help, -h  this text\n\n");
    paragraphs_print("Exit code: 0 success, 1 something failed or is not good, 2 a mistake in the call or a file that "
                     "cannot be read. What is wrong stands in one line on standard error.");
}

void command_help_print(const struct command *command)
{
    printf("usage: counterfoil %s %s\n\n", command->name, command->usage);
    paragraphs_print(command->about);
    printf("\nOptions:\n");
    for (const struct option_use *use = command->options; use->id != OPTION_TOTAL; use++) {
        char label[48];
        snprintf(label, sizeof label, "  --%s %s", option_name(use->id),
                 use->placeholder != NULL ? use->placeholder : "");
        print_wrapped(stdout, label, 24, use->text);
    }
    print_wrapped(stdout, "  --help, -h", 24, "this text");
}
