/*
 * One spoilt description for each kind of fault: refused with the right code, path and line; and what good ones are read as.
 */
#include "packs/description.h"
#include "packs/pack.h"
#include "test.h"

#include <stdio.h>
#include <stdlib.h>

/* Line 1 */
#define HEAD                                                                                                           \
    "{\"schema\": \"counterfoil.device/1\",\n"                                                                         \
    "\"id\": \"toy\", \"version\": \"1\",\n"                                                                           \
    "\"reviewed\": \"2026-02-28\", \"name\": \"Toy\",\n"                                                               \
    "\"source\": \"invented\", \"confidence\": \"practice\",\n"                                                        \
    "\"line\": {\"baud\": 9600, \"data_bits\": 8, \"parity\": \"even\", \"stop_bits\": 2},\n"

/* Line 6: asked, framed, numbered by the host, checked. */
static const char asked[] = HEAD
    "\"frame\": {\"begin\": \"02\", \"end\": \"03\", \"length\": {\"at\": 1, \"not_counted\": 5},\n"
    "  \"check\": {\"kind\": \"sum\", \"bits\": 8, \"from\": 1, \"to\": -3, \"at\": [-2]}},\n"
    "\"sequence\": {\"driven_by\": \"host\", \"at\": 2, \"mask\": \"80\"},\n"
    "\"start\": [\n"
    "  {\"send\": \"02 LL 00 49 CC 03\", \"expect\": [{\"at\": 3, \"text\": \"TOY\"}], \"proves\": true,\n"
    "   \"identity\": {\"at\": 6, \"bytes\": 2, \"order\": \"big\"}}],\n"
    "\"poll\": {\"send\": \"02 LL 00 50 CC 03\", \"every_ms\": 100, \"tries\": 3, \"answer_ms\": 70},\n"
    "\"accept\": {\"none\": [{\"send\": \"02 LL 00 44 CC 03\"}],\n"
    "  \"hold\": [{\"send\": \"02 LL 00 45 01 CC 03\", \"answer\": false}]},\n"
    "\"held\": {\"stack\": {\"send\": \"02 LL 00 53 CC 03\"}, \"return\": {\"send\": \"02 LL 00 52 CC 03\"},\n"
    "  \"extend\": {\"send\": \"02 LL 00 58 CC 03\"}, \"extend_every_ms\": 4000},\n"
    "\"notes\": [\n"
    "  {\"type\": 1, \"value_minor\": 500, \"currency\": \"EUR\", \"name\": \"five\"},\n"
    "  {\"type\": 2, \"value_minor\": 1000, \"currency\": \"EUR\", \"name\": \"ten\"}],\n"
    "\"rules\": [\n"
    "  {\"when\": [{\"at\": 3, \"equals\": \"48\"}], \"event\": \"held\", \"note\": {\"by\": \"type\", \"at\": 4}, "
    "\"text\": \"held\"},\n"
    "  {\"when\": [{\"at\": 3, \"equals\": \"53\"}], \"event\": \"stacked\", \"note\": {\"by\": \"type\", \"at\": 4}, "
    "\"text\": \"stacked\"},\n"
    "  {\"when\": [{\"at\": 3, \"equals\": \"52\"}], \"event\": \"rejected\", \"reason\": \"authenticity\", "
    "\"may_mean\": [\"authenticity\", \"handling\"],\n"
    "   \"findings\": [{\"channel\": \"magnetic\", \"strength\": \"clear\"}], \"raw_text\": \"{3} {x-1}\", \"text\": "
    "\"no\"},\n"
    "  {\"when\": [{\"at\": 3, \"mask\": \"F0\", \"from\": 96, \"to\": 112}], \"event\": \"device\", \"condition\": "
    "\"fault\", \"halts\": \"until_clear\", \"text\": \"fault\"},\n"
    "  {\"when\": [{\"at\": 3, \"equals\": \"00\"}, {\"length\": 7}], \"event\": \"nothing\"}]}\n";

/* Line 6: talking, lines. */
static const char talking[] = HEAD
    "\"lines\": {\"end\": \"CRLF\", \"length_max\": 60, \"separator\": \";\"},\n"
    "\"times\": {\"silence_ms\": 5000},\n"
    "\"sequence\": {\"driven_by\": \"device\", \"field\": 1, \"first\": 1, \"last\": 99},\n"
    "\"acknowledge\": {\"send\": \"ACK {sequence}\", \"which\": \"all\"},\n"
    "\"raw_text\": \"{line}\",\n"
    "\"notes\": [{\"type\": 5, \"value_minor\": 500, \"currency\": \"EUR\", \"name\": \"E5\"}],\n"
    "\"rules\": [\n"
    "  {\"when\": [{\"field\": 2, \"text\": \"NO\"}, {\"field\": 4, \"from\": 1, \"to\": 9}], \"event\": \"rejected\", "
    "\"reason\": \"handling\", \"note\": {\"by\": \"name\", \"field\": 3}, \"text\": \"no\"},\n"
    "  {\"when\": [{\"field\": 2, \"text\": \"NO\"}, {\"field\": 4, \"text\": \"17\"}], \"event\": \"rejected\", "
    "\"reason\": \"handling\", \"raw_text\": \"{f4}\", \"text\": \"no\"}]}\n";

/* Line 6: an event buffer. */
static const char buffered[] = HEAD
    "\"frame\": {\"fixed_length\": 12, \"check\": {\"kind\": \"crc\", \"bits\": 16, \"polynomial\": \"10 21\",\n"
    "  \"initial\": \"FF FF\", \"reflect_in\": false, \"reflect_out\": false, \"xor_out\": \"00 00\",\n"
    "  \"from\": 0, \"to\": -3, \"at\": [-1, -2]}},\n"
    "\"echo\": true,\n"
    "\"start\": [{\"send\": \"01 CC CC\", \"expect\": [{\"at\": 0, \"equals\": \"01\"}], \"proves\": true}],\n"
    "\"poll\": {\"send\": \"02 CC CC\", \"every_ms\": 100},\n"
    "\"accept\": {\"none\": [{\"send\": \"03 CC CC\"}], \"all\": [{\"send\": \"04 CC CC\"}]},\n"
    "\"self_check\": {\"exchange\": {\"send\": \"05 CC CC\", \"expect\": [{\"at\": 1, \"equals\": \"00\"}]}, "
    "\"every_ms\": 500},\n"
    "\"watch\": {\"exchange\": {\"send\": \"06 CC CC\", \"expect\": [{\"at\": 1, \"equals\": \"01\"}]}, "
    "\"every_ms\": 700},\n"
    "\"buffer\": {\"counter\": {\"at\": 1, \"first\": 1, \"last\": 255, \"reset\": 0}, \"at\": 2, \"entry_bytes\": 2,\n"
    "  \"entries\": 4, \"newest\": \"last\"},\n"
    "\"notes\": [{\"type\": 3, \"value_minor\": 500, \"currency\": \"EUR\"}],\n"
    "\"rules\": [\n"
    "  {\"when\": [{\"at\": 1, \"equals\": \"01\"}], \"event\": \"stacked\", \"note\": {\"type\": 3}, \"text\": "
    "\"s\"},\n"
    "  {\"when\": [{\"at\": -1, \"equals\": \"02\"}], \"event\": \"returned\", \"text\": \"r\"}]}\n";

static int32_t parse(const char *text, struct description **description, cfoil_error_info *error)
{
    return description_parse(&memory_heap, "toy.json", text, strlen(text), description, error);
}

static char *spoil(const char *text, const char *from, const char *to)
{
    const char *at = strstr(text, from);
    if (at == NULL)
        fail_msg("'%s' is not in the text", from);
    size_t size = strlen(text) + strlen(to) + 1;
    char *made = malloc(size);
    assert_non_null(made);
    snprintf(made, size, "%.*s%s%s", (int)(at - text), text, to, at + strlen(from));
    return made;
}

struct fault {
    const char *base;
    const char *from;
    const char *to;
    const char *begins; /* of the error text, after "toy.json: " */
};

static const struct fault faults[] = {
    /* The whole */
    {asked, asked, "[]", "top level: line 1: a description must be an object"},
    {asked, asked, "", "line 1: the file is empty"},
    {asked, "\"schema\"", "\"skema\"", "top level: line 1: the key 'schema' is missing"},
    {asked, "\"counterfoil.device/1\"", "\"counterfoil.device/2\"", "schema: line 1: must be counterfoil.device/1"},
    {asked, "\"counterfoil.device/1\"", "7", "schema: line 1: must be counterfoil.device/1"},
    {asked, "\"id\": \"toy\", ", "", "top level: line 1: the key 'id' is missing"},
    {asked, "\"id\": \"toy\"", "\"id\": \"Toy\"", "id: line 2: must be 1 to 16"},
    {asked, "\"id\": \"toy\"", "\"id\": \"toy-0123456789-01\"", "id: line 2: must be 1 to 16"},
    {asked, "\"id\": \"toy\"", "\"id\": \"toy\", \"id\": \"toy\"", "line 2: "},
    {asked, "\"name\": \"Toy\"", "\"colour\": \"red\", \"name\": \"Toy\"", "colour: line 3: this key is not known"},
    {asked, "2026-02-28", "2026-02-30", "reviewed: line 3: must be a date"},
    {asked, "\"confidence\": \"practice\"", "\"confidence\": \"sure\"", "confidence: line 4: must be several"},
    {asked, "\"source\": \"invented\"", "\"source\": \"\"", "source: line 4: the text is too short"},
    {asked, "\"source\"", "\"maturity\": \"proved\", \"source\"",
     "maturity: line 4: must be one of: experimental, rep"},
    {asked, "\"baud\": 9600", "\"baud\": 100", "line.baud: line 5: must be a whole number from 300"},
    {asked, "\"baud\": 9600", "\"baud\": \"9600\"", "line.baud: line 5: must be a whole number"},
    {asked, "\"even\"", "\"both\"", "line.parity: line 5: must be one of: none, even"},
    {asked, "\"stop_bits\": 2", "\"stop_bits\": 3", "line.stop_bits: line 5: must be"},
    {asked, "\"stop_bits\": 2", "\"stop_bit\": 2", "line.stop_bit: line 5: this key is not known"},
    {talking, "\"lines\"", "\"echo\": true, \"lines\"", "echo: line 6: only a device that is asked"},
    {talking, "\"silence_ms\": 5000", "\"silence_ms\": 100", "times.silence_ms: line 7: must be"},
    {talking, "\"silence_ms\": 5000", "\"silence\": 5000", "times.silence: line 7: this key is not known"},
    /* Frames */
    {asked, "\"frame\": {", "\"lines\": {\"end\": \"CR\", \"length_max\": 5}, \"frame\": {",
     "top level: line 1: give either 'frame' (bytes) or 'lines'"},
    {asked, "\"begin\": \"02\"", "\"begin\": \"2\"", "frame.begin: line 6: the text is too short"},
    {asked, "\"begin\": \"02\"", "\"begin\": \"0G\"", "frame.begin: line 6: must be 1 to 4 pairs"},
    {asked, "\"begin\": \"02\"", "\"begin\": \"02-03\"", "frame.begin: line 6: must be 1 to 4 pairs"},
    {asked, "\"begin\": \"02\"", "\"begin\": \"02 \"", "frame.begin: line 6: must be 1 to 4 pairs"},
    {asked, "\"begin\": \"02\"", "\"begin\": \"/2\"", "frame.begin: line 6: must be 1 to 4 pairs"},
    {asked, "\"begin\": \"02\"", "\"begin\": \"2g\"", "frame.begin: line 6: must be 1 to 4 pairs"},
    {asked, "\"end\": \"03\"", "\"end\": \"03 0\"", "frame.end: line 6: must be 1 to 2 pairs"},
    {asked, "\"end\": \"03\", \"length\": {\"at\": 1, \"not_counted\": 5}", "\"begin2\": 1",
     "frame.begin2: line 6: this key"},
    {asked, "\"end\": \"03\", \"length\": {\"at\": 1, \"not_counted\": 5},", "",
     "frame: line 6: how does a message end?"},
    {asked, "\"length\": {", "\"fixed_length\": 9, \"length\": {", "frame: line 6: give either fixed_length or length"},
    {asked, "\"length\": {\"at\": 1, \"not_counted\": 5}", "\"fixed_length\": 2",
     "frame.fixed_length: line 6: leaves no byte"},
    {asked, "{\"at\": 1, \"not_counted\": 5}", "{\"at\": 1}", "frame.length: line 6: the key 'not_counted'"},
    {asked, "{\"at\": 1, \"not_counted\": 5}", "{\"not_counted\": 5}", "frame.length: line 6: the key 'at' is missing"},
    {asked, "{\"at\": 1, \"not_counted\": 5}", "{\"at\": -1, \"not_counted\": 5}",
     "frame.length.at: line 6: must be counted from the beginning"},
    {asked, "{\"at\": 1, \"not_counted\": 5}", "{\"at\": -1, \"bytes\": 2, \"order\": \"big\", \"not_counted\": 5}",
     "frame.length.at: line 6: reaches beyond"},
    {asked, "{\"at\": 1, \"not_counted\": 5}", "{\"at\": 1, \"bytes\": 2, \"not_counted\": 5}",
     "frame.length: line 6: several bytes need 'order'"},
    {asked, "{\"at\": 1, \"not_counted\": 5}", "{\"at\": 1, \"bytes\": 2, \"order\": \"mid\", \"not_counted\": 5}",
     "frame.length.order: line 6: must be one of: little, big"},
    {asked, "{\"at\": 1, \"not_counted\": 5}", "{\"field\": 1, \"not_counted\": 5}",
     "frame.length.field: line 6: only lines have fields"},
    {asked, "\"mask\": \"80\"", "\"mask\": \"00\"", "sequence.mask: line 8: has no bit"},
    {asked, "\"mask\": \"80\"", "\"mask\": \"81\"", "sequence.mask: line 8: its bits must stand side by side"},
    {asked, "\"mask\": \"80\"", "\"mask\": \"00 80\"", "sequence.mask: line 8: must be 1 to 1 pairs"},
    {asked, "\"check\": {", "\"escape\": {\"byte\": \"02\", \"xor\": \"20\"}, \"check\": {",
     "frame.escape.byte: line 7: must differ from the begin byte"},
    {asked, "\"begin\": \"02\"", "\"begin\": \"02 04\", \"escape\": {\"byte\": \"10\", \"xor\": \"20\"}",
     "frame.escape: line 6: begin and end must be one byte"},
    {asked, "\"end\": \"03\"", "\"end\": \"03 04\", \"escape\": {\"byte\": \"10\", \"xor\": \"20\"}",
     "frame.escape: line 6: begin and end must be one byte"},
    {asked, "\"check\": {", "\"escape\": {\"byte\": \"10\"}, \"check\": {", "frame.escape: line 7: has 1 entries"},
    {asked, "\"check\": {", "\"escape\": {\"byte\": \"XX\", \"xor\": \"20\"}, \"check\": {",
     "frame.escape.byte: line 7: must be 1 to 1 pairs"},
    {asked, "\"check\": {", "\"escape\": {\"byte\": \"10\", \"xor\": \"XX\"}, \"check\": {",
     "frame.escape.xor: line 7: must be 1 to 1 pairs"},
    /* Check */
    {asked, "\"kind\": \"sum\"", "\"kind\": \"md5\"", "frame.check.kind: line 7: must be one of: sum, xor, crc"},
    {asked, "\"kind\": \"sum\", ", "", "frame.check: line 7: the key 'kind' is missing"},
    {asked, "\"bits\": 8", "\"bits\": 12", "frame.check.bits: line 7: a sum has 8 or 16"},
    {asked, "\"kind\": \"sum\", \"bits\": 8", "\"kind\": \"xor\", \"bits\": 16",
     "frame.check.bits: line 7: an xor has 8"},
    {asked, "\"bits\": 8", "\"bits\": 16", "frame.check.at: line 7: must name 2 places"},
    {asked, "\"bits\": 8", "\"complement\": \"nines\"", "frame.check.complement: line 7: must be one of"},
    {asked, "\"bits\": 8", "\"polynomial\": \"07\"", "frame.check.polynomial: line 7: goes with a crc only"},
    {asked, "\"at\": [-2]", "\"at\": [0.5]", "frame.check.at[0]: line 7: must be the place"},
    {asked, "\"at\": [-2]", "\"at\": [\"x\"]", "frame.check.at[0]: line 7: must be the place"},
    {asked, "\"at\": [-2]", "\"at\": [9999]", "frame.check.at[0]: line 7: must be the place"},
    {asked, "\"at\": [-2]", "\"at\": [-9999]", "frame.check.at[0]: line 7: must be the place"},
    {asked, "\"at\": [-2]", "\"at\": [-2.5]", "frame.check.at[0]: line 7: must be the place"},
    {buffered, "\"at\": [-1, -2]", "\"at\": [-1, -1]", "frame.check.at[1]: line 8: stands twice"},
    {buffered, "\"polynomial\": \"10 21\",", "", "frame.check: line 6: the key 'polynomial' is missing"},
    {buffered, "\"polynomial\": \"10 21\"", "\"polynomial\": \"10 20\"", "frame.check.polynomial: line 6: must be odd"},
    {buffered, "\"polynomial\": \"10 21\"", "\"polynomial\": \"21\"", "frame.check.polynomial: line 6: must be 2 to 2"},
    {buffered, "\"initial\": \"FF FF\"", "\"initial\": \"FF FX\"", "frame.check.initial: line 7: must be 2 to 2"},
    {buffered, "\"xor_out\": \"00 00\"", "\"xor_out\": \"00\"", "frame.check.xor_out: line 7: must be 2 to 2"},
    {buffered, "\"bits\": 16", "\"bits\": 12", "frame.check.bits: line 6: polynomial, initial or xor_out"},
    {buffered, "\"bits\": 16", "\"bits\": 16, \"complement\": \"ones\"",
     "frame.check.complement: line 6: goes with sum"},
    {buffered, "\"bits\": 16", "\"bits\": 33", "frame.check.bits: line 6: must be"},
    /* Lines */
    {talking, "\"CRLF\"", "\"EOL\"", "lines.end: line 6: must be one of: CR, LF, CRLF"},
    {talking, "\"length_max\": 60", "\"length_max\": 501", "lines.length_max: line 6: must be"},
    {talking, "\"separator\": \";\"", "\"separator\": \";;\"", "lines.separator: line 6: the text is too long"},
    /* Sequence */
    {asked, "\"driven_by\": \"host\"", "\"driven_by\": \"fate\"", "sequence.driven_by: line 8: must be one of"},
    {asked, "\"mask\": \"80\"}", "\"mask\": \"80\", \"last\": 2}",
     "sequence.last: line 8: must be larger than 'first'"},
    {asked, "\"mask\": \"80\"}", "\"mask\": \"80\", \"first\": 1}", "sequence.at: line 8: must be larger than 'first'"},
    {asked, "\"mask\": \"80\"}", "\"mask\": \"C0\", \"first\": 1, \"reset\": 0}",
     "sequence.reset: line 8: goes with a"},
    {talking, "\"last\": 99", "\"last\": 99, \"reset\": 7", "sequence.reset: line 8: must fit into its place and lie"},
    {talking, ", \"last\": 99", "", "sequence: line 8: the key 'last' is missing"},
    {talking, "\"first\": 1, \"last\": 99", "\"first\": 0, \"last\": 4000000000", "sequence: line 8: counts too far"},
    {talking, "\"field\": 1, ", "\"at\": 1, ", "sequence: line 8: a line tells it in a field"},
    {talking, "\"field\": 1, ", "\"field\": 1, \"at\": 1, ", "sequence.at: line 8: does not go with 'field'"},
    {talking, "\"driven_by\": \"device\"", "\"driven_by\": \"host\"", "sequence.driven_by: line 8: the host drives it"},
    /* What is sent */
    {asked, "02 LL 00 50 CC 03", "02 LL 00 50 CC 03 ", "poll.send: line 12: must be up to 64 bytes"},
    {asked, "02 LL 00 50 CC 03", "02 LL 00 5 CC 03", "poll.send: line 12: must be up to 64 bytes"},
    {asked, "02 LL 00 50 CC 03", "02 LC 00 50 CC 03", "poll.send: line 12: must be up to 64 bytes"},
    {asked, "02 LL 00 50 CC 03", "02 LL 00 50,CC 03", "poll.send: line 12: must be up to 64 bytes"},
    {asked, "02 LL 00 50 CC 03", "02 06 00 50 CC 03", "poll.send: line 12: byte 1 is the length: write LL"},
    {asked, "02 LL 00 50 CC 03", "02 LL 00 50 51 03", "poll.send: line 12: byte 4 is of the check: write CC"},
    {asked, "02 LL 00 50 CC 03", "02 LL LL 50 CC 03", "poll.send: line 12: byte 2 is not the length"},
    {asked, "02 LL 00 50 CC 03", "12 LL 00 50 CC 03", "poll.send: line 12: must begin and end with"},
    {asked, "02 LL 00 50 CC 03", "02 LL 00 50 CC 13", "poll.send: line 12: must begin and end with"},
    {asked, "02 LL 00 50 CC 03", "02 LL 80 50 CC 03",
     "poll.send: line 12: write 0 for the bits of the sequence in byte 2"},
    {asked, "02 LL 00 50 CC 03", "02", "poll.send: line 12: too short: it has no place for the length"},
    {asked, "02 LL 00 50 CC 03", "02 LL CC 03", "poll.send: line 12: its length does not fit"},
    {asked, "\"driven_by\": \"host\", \"at\": 2", "\"driven_by\": \"host\", \"at\": 9",
     "start[0].send: line 10: too short: it has no place for the sequence"},
    {asked, "\"length\": {\"at\": 1, \"not_counted\": 5}",
     "\"length\": {\"at\": 1, \"not_counted\": 5, \"mask\": \"01\"}",
     "accept.hold[0].send: line 14: its length does not fit"},
    {talking, "ACK {sequence}", "ACK {sequence} 89012345678901234567890123456789012345678901234567890",
     "acknowledge.send: line 9: the text is too long; at most 64 bytes"},
    {talking, "ACK {sequence}", "ACK \xC3\xA4", "acknowledge.send: line 9: may hold printable ASCII"},
    {talking, "\"acknowledge\"",
     "\"accept\": {\"none\": [{\"send\": \"OFF {sequence}\", \"answer\": false}], \"all\": []}, "
     "\"acknowledge\"",
     "accept.all: line 9: has 0 entries"},
    {talking, "\"acknowledge\"", "\"start\": [{\"send\": \"OFF {sequence}\", \"answer\": false}], \"acknowledge\"",
     "start[0].send: line 9: {sequence} is not known here"},
    {talking, "\"which\": \"all\"", "\"which\": \"some\"", "acknowledge.which: line 9: must be one of: events, all"},
    {talking, "\"sequence\": {\"driven_by\": \"device\", \"field\": 1, \"first\": 1, \"last\": 99},\n", "\n",
     "acknowledge.send: line 9: {sequence} is not known here"},
    {asked, "\"accept\": {", "\"acknowledge\": {\"send\": \"02 LL 00 06 CC 03\"}, \"accept\": {",
     "acknowledge: line 13: a device that repeats"},
    /* Exchanges */
    {asked, "\"proves\": true,\n", "\n", "top level: line 1: 'start' needs a step with \"proves\""},
    {asked, "\"expect\": [{\"at\": 3, \"text\": \"TOY\"}], ", "", "start[0].proves: line 10: needs 'expect'"},
    {asked, "\"proves\": true", "\"proves\": true, \"optional\": true",
     "start[0].proves: line 10: needs 'expect', and"},
    {asked, "\"answer\": false", "\"answer\": false, \"events\": true",
     "accept.hold[0].answer: line 14: no answer comes"},
    {asked, "{\"send\": \"02 LL 00 53 CC 03\"}", "{\"send\": \"02 LL 00 53 CC 03\", \"optional\": true}",
     "held.stack: line 15: proves, optional and identity are for"},
    {asked, ", \"extend_every_ms\": 4000", "", "held: line 15: extend and extend_every_ms go together"},
    {asked, "\"every_ms\": 100, ", "", "poll: line 12: the key 'every_ms' is missing"},
    {asked, "\"tries\": 3", "\"tries\": 0", "poll.tries: line 12: must be"},
    {talking, "\"acknowledge\"", "\"start\": [{\"send\": \"WHO\"}], \"acknowledge\"",
     "start[0]: line 9: of a device that talks by itself the answer must be told"},
    {asked, "\"bytes\": 2, \"order\": \"big\"}", "\"to\": -3, \"order\": \"big\"}",
     "start[0].identity: line 11: a text goes"},
    {asked, "{\"at\": 6, \"bytes\": 2, \"order\": \"big\"}", "{\"to\": 9}", "start[0].identity: line 11: a text goes"},
    {asked, "{\"at\": 6, \"bytes\": 2, \"order\": \"big\"}", "{\"at\": -6, \"to\": -3}",
     "start[0].identity: line 11: a text goes"},
    {asked, "{\"at\": 6, \"bytes\": 2, \"order\": \"big\"}", "{\"bytes\": 2}",
     "start[0].identity: line 11: the key 'at' is missing"},
    {asked, "{\"at\": 6, \"bytes\": 2, \"order\": \"big\"}", "{\"att\": 2}",
     "start[0].identity.att: line 11: this key"},
    {buffered, "\"expect\": [{\"at\": 1, \"equals\": \"00\"}]}, ", "\"tries\": 1}, ",
     "self_check: line 13: 'expect' must"},
    {buffered, "\"expect\": [{\"at\": 1, \"equals\": \"01\"}]}, ", "\"events\": true}, ",
     "watch: line 14: 'expect' must"},
    {buffered, "\"accept\": {\"none\": [{\"send\": \"03 CC CC\"}], \"all\": [{\"send\": \"04 CC CC\"}]},\n", "\n",
     "watch: line 14: needs 'accept'"},
    {buffered, "\"every_ms\": 500", "\"every\": 500", "self_check.every: line 13: this key is not known"},
    /* Conditions */
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"text\": \"TOY\"}", "start[0].expect[0]: line 10: look at one thing"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"at\": 3, \"length\": 7}", "start[0].expect[0]: line 10: look at one"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"at\": 3}", "start[0].expect[0]: line 10: give what is looked for"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"at\": 3, \"from\": 3}", "start[0].expect[0]: line 10: give what is"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"at\": 3, \"to\": 3}", "start[0].expect[0]: line 10: give what is"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"at\": 3, \"from\": 4, \"to\": 3}",
     "start[0].expect[0].to: line 10: must not be smaller"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"at\": 3, \"text\": \"\"}",
     "start[0].expect[0].text: line 10: is empty"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"at\": 3, \"text\": \"T\", \"equals\": \"00\"}",
     "start[0].expect[0]: line 10: give what is looked for"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"at\": 3, \"text\": \"T\", \"mask\": \"00\"}",
     "start[0].expect[0].mask: line 10: goes with 'at'"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"at\": 3, \"equals\": \"00 01\", \"mask\": \"00\"}",
     "start[0].expect[0].equals: line 10: must be 1 to 1"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"at\": 3, \"equals\": \"00\", \"mask\": \"0x\"}",
     "start[0].expect[0].mask: line 10: must be 1 to 1"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"at\": 3, \"equals\": \"0x\"}",
     "start[0].expect[0].equals: line 10: must"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"length\": 3, \"from\": 1, \"to\": 2}",
     "start[0].expect[0]: line 10: length stands alone"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"length\": 3, \"mask\": \"01\"}",
     "start[0].expect[0]: line 10: length stands alone"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "{\"field\": 3, \"text\": \"TOY\"}",
     "start[0].expect[0].field: line 10: only lines"},
    {asked, "{\"at\": 3, \"text\": \"TOY\"}", "7", "start[0].expect[0]: line 10: must be an object"},
    {talking, "{\"field\": 2, \"text\": \"NO\"}", "{\"field\": 2, \"equals\": \"01\"}",
     "rules[0].when[0].equals: line 13: a field is compared"},
    {talking, "{\"field\": 2, \"text\": \"NO\"}", "{\"field\": 2, \"text\": \"NO\", \"mask\": \"01\"}",
     "rules[0].when[0].mask: line 13: goes with"},
    {buffered, "{\"at\": -1, \"equals\": \"02\"}", "{\"length\": 2}", "rules[1].when[0].length: line 20: all entries"},
    /* Buffer */
    {talking, "\"notes\"",
     "\"buffer\": {\"counter\": {\"at\": 1, \"first\": 1, \"last\": 9}, \"at\": 2, \"entry_bytes\": 1, "
     "\"entries\": 1, \"newest\": \"last\"}, \"notes\"",
     "buffer: line 11: an event buffer is read by 'poll'"},
    {buffered, "\"newest\": \"last\"", "\"newest\": \"middle\"", "buffer.newest: line 16: must be one of: first, last"},
    {buffered, "\"entries\": 4", "\"entries\": 40", "buffer: line 15: all entries together may have 40"},
    {buffered, "\"last\": 255, \"reset\": 0", "\"last\": 4", "buffer.counter: line 15: must count further"},
    {buffered, "\"last\": 255, \"reset\": 0", "\"last\": 256", "buffer.counter.last: line 15: must be larger"},
    {buffered, "\"reset\": 0", "\"reset\": 256", "buffer.counter.reset: line 15: must fit"},
    {buffered, "\"echo\": true,", "\"sequence\": {\"driven_by\": \"device\", \"at\": 0, \"mask\": \"80\"},",
     "buffer: line 15: a device with an event buffer numbers"},
    {buffered, "{\"at\": 1, \"first\": 1,", "{\"at\": 1, \"begin\": 1,", "buffer.counter.begin: line 15: this key"},
    /* Notes */
    {asked, "\"value_minor\": 500", "\"value_minor\": 0",
     "notes[0].value_minor: line 18: must be a whole number from 1"},
    {asked, "\"value_minor\": 500", "\"value_minor\": -5", "notes[0].value_minor: line 18: must be"},
    {asked, "\"value_minor\": 500", "\"value_minor\": 5.5", "notes[0].value_minor: line 18: must be"},
    {asked, "\"currency\": \"EUR\", \"name\": \"five\"", "\"name\": \"five\"", "notes[0]: line 18: the key 'currency'"},
    {asked, "\"currency\": \"EUR\"", "\"currency\": \"eur\"", "notes[0].currency: line 18: must be the ISO 4217"},
    {asked, "\"type\": 2", "\"type\": 1", "notes[1].type: line 19: stands twice"},
    {asked, "\"name\": \"ten\"", "\"name\": \"five\"", "notes[1].name: line 19: stands twice"},
    {asked, "\"type\": 2", "\"type\": 0", "notes[1].type: line 19: must be"},
    {asked, "{\"type\": 2", "{\"type\": 300", "notes[1]: line 19: no rule can name this note"},
    /* Rules */
    {asked, "\"event\": \"nothing\"", "\"event\": \"something\"",
     "rules[4].event: line 26: must be one of: nothing, held"},
    {asked, ", \"note\": {\"by\": \"type\", \"at\": 4}, \"text\": \"stacked\"", ", \"text\": \"stacked\"",
     "rules[1]: line 22: the key 'note' is missing"},
    {asked, "\"note\": {\"by\": \"type\", \"at\": 4}, \"text\": \"held\"", "\"note\": {\"at\": 4}, \"text\": \"held\"",
     "rules[0].note: line 21: which note?"},
    {asked, "\"note\": {\"by\": \"type\", \"at\": 4}", "\"note\": {\"by\": \"luck\", \"at\": 4}",
     "rules[0].note.by: line 21: must be one of: type, name"},
    {asked, "\"note\": {\"by\": \"type\", \"at\": 4}", "\"note\": {\"type\": 9}",
     "rules[0].note.type: line 21: is not among"},
    {asked, "\"note\": {\"by\": \"type\", \"at\": 4}", "\"note\": {\"type\": 1, \"at\": 4}",
     "rules[0].note: line 21: 'type' names one note"},
    {asked, "\"note\": {\"by\": \"type\", \"at\": 4}", "\"note\": {\"by\": \"type\", \"at\": 4, \"length\": 2}",
     "rules[0].note.length: line 21: goes with the name"},
    {asked, "\"note\": {\"by\": \"type\", \"at\": 4}", "\"note\": {\"by\": \"name\", \"at\": 4}",
     "rules[0].note: line 21: a name stands in a 'field'"},
    {asked, "\"note\": {\"by\": \"type\", \"at\": 4}",
     "\"note\": {\"by\": \"name\", \"at\": 4, \"length\": 4, \"mask\": \"FF\"}",
     "rules[0].note: line 21: a name stands in a 'field'"},
    {asked, "\"note\": {\"by\": \"type\", \"at\": 4}", "\"note\": {\"by\": \"name\"}",
     "rules[0].note: line 21: the key 'at'"},
    {buffered, "\"note\": {\"type\": 3}", "\"note\": {\"by\": \"name\", \"at\": 0, \"length\": 1}",
     "rules[0].note.by: line 19: every note needs a name"},
    {buffered, "\"note\": {\"type\": 3}", "\"note\": {\"kind\": 3}", "rules[0].note.kind: line 19: this key"},
    {buffered, "\"notes\": [{\"type\": 3, \"value_minor\": 500, \"currency\": \"EUR\"}],\n", "\n",
     "rules[0].note: line 19: the description has no 'notes'"},
    {asked, "\"held\": {\"stack\"", "\"helt\": {\"stack\"", "helt: line 15: this key is not known"},
    {buffered, "\"event\": \"stacked\"", "\"event\": \"held\"", "rules[0]: line 19: a held note needs 'held'"},
    {asked, "\"condition\": \"fault\", ", "", "rules[3]: line 25: event 'device' and 'condition' go together"},
    {asked, "\"condition\": \"fault\"", "\"condition\": \"broken\"", "rules[3].condition: line 25: must be restarted"},
    {asked, "\"condition\": \"fault\"", "\"condition\": \"identified\"",
     "rules[3].condition: line 25: must be restarted"},
    {asked, "\"condition\": \"fault\"", "\"condition\": \"unknown_code\"", "rules[3].condition: line 25: must be"},
    {asked, "\"reason\": \"authenticity\", ", "", "rules[2]: line 23: the key 'reason' is missing"},
    {asked, "\"reason\": \"authenticity\"", "\"reason\": \"none\"", "rules[2].reason: line 23: must be authenticity"},
    {asked, "\"reason\": \"authenticity\"", "\"reason\": \"tampering\"",
     "rules[2].may_mean: line 23: must hold the reason"},
    {asked, "[\"authenticity\", \"handling\"]", "[\"authenticity\", \"luck\"]",
     "rules[2].may_mean[1]: line 23: must be a"},
    {asked, "[\"authenticity\", \"handling\"]", "[\"authenticity\", 7]", "rules[2].may_mean[1]: line 23: must be a"},
    {asked, "\"event\": \"nothing\"", "\"event\": \"nothing\", \"reason\": \"handling\"",
     "rules[4].reason: line 26: goes"},
    {asked, "\"event\": \"nothing\"", "\"event\": \"nothing\", \"may_mean\": [\"handling\"]",
     "rules[4].may_mean: line 26"},
    {asked, "\"magnetic\"", "\"sonic\"", "rules[2].findings[0].channel: line 24: must be not_told"},
    {asked, "\"strength\": \"clear\"", "\"strength\": \"none\"",
     "rules[2].findings[0].strength: line 24: must be weak"},
    {asked, "\"magnetic\"", "\"not_told\"", "rules[2].findings[0].strength: line 24: must be weak when"},
    {asked, "\"strength\": \"clear\"", "\"force\": \"clear\"", "rules[2].findings[0].force: line 24: this key"},
    {asked, "\"event\": \"nothing\"",
     "\"event\": \"nothing\", \"findings\": [{\"channel\": \"image\", \"strength\": "
     "\"weak\"}]",
     "rules[4].findings: line 26: goes with event 'rejected'"},
    {asked, "\"halts\": \"until_clear\"", "\"halts\": \"for_ever\"", "rules[3].halts: line 25: must be one of"},
    {asked, "\"text\": \"held\"", "\"text\": \"held\", \"halts\": \"until_clear\"",
     "rules[0].halts: line 21: goes with"},
    {asked, "\"text\": \"held\"", "\"text\": \"held\", \"after_held\": true",
     "rules[0].after_held: line 21: goes with"},
    {buffered, "\"text\": \"r\"", "\"text\": \"r\", \"each_message\": true", "rules[1].each_message: line 20: needs a"},
    {asked, "\"text\": \"held\"", "\"raw_text\": \"x\"", "rules[0]: line 21: the key 'text' is missing"},
    {asked, "\"text\": \"held\"", "\"text\": 7", "rules[0].text: line 21: must be a text"},
    {asked, "\"event\": \"nothing\"", "\"event\": \"nothing\", \"text\": \"x\"",
     "rules[4]: line 26: event 'nothing' has no"},
    {asked, "\"event\": \"nothing\"", "\"event\": \"nothing\", \"raw_text\": \"x\"",
     "rules[4].raw_text: line 26: event"},
    {asked, "\"event\": \"nothing\"", "\"event\": \"nothing\", \"note\": {\"type\": 1}",
     "rules[4].note: line 26: event"},
    {asked, "{3} {x-1}", "{3} {y}", "rules[2].raw_text: line 24: braces hold"},
    {asked, "{3} {x-1}", "{3", "rules[2].raw_text: line 24: braces hold"},
    {asked, "{3} {x-1}", "{1234}", "rules[2].raw_text: line 24: braces hold"},
    {asked, "{3} {x-1}", "{}", "rules[2].raw_text: line 24: braces hold"},
    {asked, "{3} {x-1}", "{line}", "rules[2].raw_text: line 24: braces hold"},
    {asked, "{3} {x-1}", "{f1}", "rules[2].raw_text: line 24: braces hold"},
    {talking, "\"{f4}\"", "\"{f0}\"", "rules[1].raw_text: line 14: braces hold"},
    {talking, "\"{line}\"", "\"{lines}\"", "raw_text: line 10: braces hold"},
    /* Money */
    {asked, "\"check\": {\"kind\": \"sum\", \"bits\": 8, \"from\": 1, \"to\": -3, \"at\": [-2]}", "\"begin2\": 1",
     "frame.begin2: line 7: this key"},
    {talking, "\"event\": \"rejected\", \"reason\": \"handling\", \"note\"", "\"event\": \"stacked\", \"note\"",
     "rules[0]: line 13: a message that comes twice or damaged would be taken for money"},
    {talking, "\"event\": \"rejected\", \"reason\": \"handling\", \"note\"",
     "\"event\": \"stacked\", \"after_held\": true, \"note\"", "rules[0].after_held: line 13: no rule gives 'held'"},
    /* What cannot be */
    {asked, "{\"at\": 3, \"equals\": \"00\"}, {\"length\": 7}",
     "{\"at\": 3, \"equals\": \"00\"}, {\"at\": 3, \"equals\": "
     "\"01\"}",
     "rules[4].when[0]: line 26: this can never be so"},
    {asked, "\"mask\": \"F0\", \"from\": 96, \"to\": 112", "\"mask\": \"F0\", \"equals\": \"01\"",
     "rules[3].when[0]: line 25: this can never be so"},
    {asked, "\"mask\": \"F0\", \"from\": 96, \"to\": 112", "\"from\": 256, \"to\": 300",
     "rules[3].when[0]: line 25: this can never be so"},
    {asked, "{\"at\": 3, \"equals\": \"00\"}, {\"length\": 7}", "{\"length\": 8}, {\"length\": 7}",
     "rules[4].when[0]: line 26: this can never be so"},
    {asked, "{\"at\": 3, \"equals\": \"00\"}, {\"length\": 7}", "{\"at\": -1, \"equals\": \"00 01\"}",
     "rules[4].when[0]: line 26: this can never be so"},
    {buffered, "{\"at\": -1, \"equals\": \"02\"}", "{\"at\": 2, \"equals\": \"02\"}",
     "rules[1].when[0]: line 20: this can never be so"},
    {buffered, "{\"at\": -1, \"equals\": \"02\"}", "{\"at\": 1, \"equals\": \"02 03\"}",
     "rules[1].when[0]: line 20: this can never be so"},
    {buffered, "{\"at\": -1, \"equals\": \"02\"}", "{\"at\": -3, \"equals\": \"02\"}",
     "rules[1].when[0]: line 20: this can never be so"},
    {buffered, "{\"at\": -1, \"equals\": \"02\"}", "{\"at\": -1, \"equals\": \"02\"}, {\"at\": 1, \"equals\": \"03\"}",
     "rules[1].when[0]: line 20: this can never be so"},
    {talking, "{\"field\": 4, \"from\": 1, \"to\": 9}", "{\"field\": 2, \"text\": \"YES\"}",
     "rules[0].when[0]: line 13: this can never be so"},
    {talking, "{\"field\": 4, \"from\": 1, \"to\": 9}",
     "{\"field\": 4, \"from\": 1, \"to\": 9}, {\"field\": 4, \"from\": 10, "
     "\"to\": 12}",
     "rules[0].when[1]: line 13: this can never be so"},
    {asked, "{\"at\": 3, \"equals\": \"00\"}, {\"length\": 7}", "{\"at\": 3, \"equals\": \"53 01\"}",
     "rules[4]: line 26: can never be reached: rules[1]"},
    {asked, "{\"at\": 3, \"equals\": \"00\"}, {\"length\": 7}",
     "{\"at\": 3, \"mask\": \"FF\", \"from\": 99, \"to\": 101}", "rules[4]: line 26: can never be reached: rules[3]"},
    {buffered, "{\"at\": -1, \"equals\": \"02\"}", "{\"at\": 0, \"equals\": \"05 01\"}",
     "rules[1]: line 20: can never be reached: rules[0]"},
    {talking, "{\"field\": 4, \"text\": \"17\"}", "{\"field\": 4, \"text\": \"7\"}",
     "rules[1]: line 14: can never be reached: rules[0]"},
    {talking, "{\"field\": 4, \"text\": \"17\"}", "{\"field\": 4, \"from\": 2, \"to\": 3}",
     "rules[1]: line 14: can never be reached: rules[0]"},
    {buffered, "\"note\": {\"type\": 3}", "\"note\": {\"by\": \"type\", \"at\": 2}",
     "rules[0].note.at: line 19: lies outside"},
    {buffered, "\"note\": {\"type\": 3}", "\"note\": {\"by\": \"type\", \"at\": 1}",
     "notes[0]: line 17: no rule can name"},
    {buffered, "\"note\": {\"type\": 3}", "\"note\": {\"by\": \"type\", \"at\": 0, \"mask\": \"01\"}",
     "notes[0]: line 17: no rule can name"},
};

static void each_fault_is_refused_with_path_and_line(void **state)
{
    (void)state;
    int bad = 0;
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        char *text = spoil(faults[i].base, faults[i].from, faults[i].to);
        struct description *description;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        int32_t result = parse(text, &description, &error);
        if (result == CFOIL_OK)
            print_error("taken: %s\n", faults[i].begins);
        assert_int_equal(result & 0xFF, CFOIL_CLASS_DATA);
        assert_null(description);
        char begins[200];
        snprintf(begins, sizeof begins, "toy.json: %s", faults[i].begins);
        if (strncmp(error.text, begins, strlen(begins)) != 0)
            print_error("fault %d\n  expected %s\n  told     %s\n", (int)i, begins, error.text);
        bad += strncmp(error.text, begins, strlen(begins)) != 0 || error.line < 1 ? 1 : 0;
        free(text);
    }
    assert_int_equal(bad, 0);
}

/* ---- Good ones ---- */

static struct description *good(const char *text)
{
    struct description *description;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (parse(text, &description, &error) != CFOIL_OK)
        fail_msg("%s", error.text);
    return description;
}

static void a_framed_device_is_read_whole(void **state)
{
    (void)state;
    struct description *device = good(asked);
    assert_string_equal(device->id, "toy");
    assert_string_equal(device->name, "Toy");
    assert_int_equal(device->maturity, CFOIL_MATURITY_EXPERIMENTAL);
    assert_int_equal(device->line.baud, 9600);
    assert_int_equal(device->line.parity, CFOIL_PARITY_EVEN);
    assert_int_equal(device->line.stop_bits, 2);
    assert_true(device->polled && !device->text_lines && !device->echo);
    assert_int_equal(device->byte_gap_us, 50000);
    assert_int_equal(device->silence_us, 10000000);
    assert_int_equal(device->frame.begin_length, 1);
    assert_int_equal(device->frame.not_counted, 5);
    assert_int_equal(device->check.kind, DESCRIBED_CHECK_SUM);
    assert_int_equal(device->check.at[0], -2);
    assert_int_equal(device->driver, DESCRIBED_DRIVER_HOST);
    assert_int_equal(device->sequence.number.shift, 7);
    assert_int_equal(device->sequence.last, 1);
    assert_int_equal(device->start_count, 1);
    assert_int_equal(device->start[0].send.length, 6);
    assert_int_equal(device->start[0].send.bytes[3], 0x49);
    assert_int_equal(device->start[0].send.bytes[4], 0);
    assert_int_equal(device->start[0].tries, 4);
    assert_int_equal(device->start[0].answer_us, 100000);
    assert_true(device->start[0].proves && device->start[0].tells_identity);
    assert_int_equal(device->start[0].identity.bytes, 2);
    assert_true(device->start[0].identity.big_endian);
    assert_int_equal(device->poll.tries, 3);
    assert_int_equal(device->poll.answer_us, 70000);
    assert_int_equal(device->poll_us, 100000);
    assert_true(device->accept[0].known && device->accept[1].known && !device->accept[2].known);
    assert_true(device->accept[1].items[0].silent);
    assert_int_equal(device->hold_every_us, 4000000);
    assert_int_equal(device->note_count, 2);
    assert_int_equal(device->notes[1].value_minor, 1000);
    assert_string_equal(device->notes[0].name, "five");
    assert_int_equal(device->rule_count, 5);
    assert_int_equal(device->rules[2].reasons_possible, 1u << CFOIL_REASON_AUTHENTICITY | 1u << CFOIL_REASON_HANDLING);
    assert_int_equal(device->rules[2].findings[0].channel, CFOIL_CHANNEL_MAGNETIC);
    assert_int_equal(device->rules[3].halt, DESCRIBED_HALT_CLEAR);
    assert_int_equal(device->rules[3].reason, CFOIL_REASON_DEVICE);
    assert_int_equal(device->rules[4].kind, CFOIL_KIND_NONE);
    memory_release(&memory_heap, device);
}

static void a_talking_device_and_a_buffer_are_read_whole(void **state)
{
    (void)state;
    struct description *device = good(talking);
    assert_true(device->text_lines && !device->polled && device->acknowledge_all);
    assert_int_equal(device->lines.end, DESCRIBED_END_CRLF);
    assert_int_equal(device->lines.separator, ';');
    assert_int_equal(device->byte_gap_us, 500000);
    assert_int_equal(device->sequence.number.field, 1);
    assert_string_equal(device->raw_text, "{line}");
    assert_int_equal(device->rules[0].note_by, DESCRIBED_NOTE_NAME);
    memory_release(&memory_heap, device);
    device = good(buffered);
    assert_true(device->echo && device->buffer.known && !device->buffer.newest_first);
    assert_int_equal(device->check.polynomial, 0x1021);
    assert_int_equal(device->check.initial, 0xFFFF);
    assert_int_equal(device->self_check_us, 500000);
    assert_int_equal(device->watch_us, 700000);
    assert_int_equal(device->rules[0].note_by, DESCRIBED_NOTE_FIXED);
    memory_release(&memory_heap, device);
}

struct change {
    const char *base;
    const char *from;
    const char *to;
};

static void odd_but_good_descriptions_are_taken(void **state)
{
    (void)state;
    static const struct change changes[] = {
        {asked, "\"source\"", "\"maturity\": \"hardware_verified\", \"source\""},
        {asked, "\"end\": \"03\"", "\"end\": \"03\", \"escape\": {\"byte\": \"10\", \"xor\": \"00\"}"},
        {asked, "\"kind\": \"sum\", \"bits\": 8", "\"kind\": \"xor\", \"complement\": \"ones\""},
        {asked, "\"kind\": \"sum\", \"bits\": 8", "\"kind\": \"sum\", \"complement\": \"twos\""},
        {asked, "{\"at\": 6, \"bytes\": 2, \"order\": \"big\"}", "{\"at\": 6, \"to\": -3}"},
        {asked, "\"note\": {\"by\": \"type\", \"at\": 4}", "\"note\": {\"by\": \"name\", \"at\": 4, \"length\": 4}"},
        {asked, "\"note\": {\"by\": \"type\", \"at\": 4}",
         "\"note\": {\"by\": \"type\", \"at\": 4, \"bytes\": 2, \"order\": \"little\"}"},
        {asked, "02 LL 00 50 CC 03", "02 LL 00 50 CC CC 03"}, /* one byte is CC, the other the check */
        {asked, "02 LL 00 50 CC 03", "02 LL 00 50 ab CC 03"},
        {asked, "\"event\": \"nothing\"", "\"event\": \"device\", \"condition\": \"tampering\", \"text\": \"t\""},
        {asked, "\"event\": \"nothing\"",
         "\"event\": \"device\", \"condition\": \"barcode\", \"reason\": \"handling\", \"text\": \"t\""},
        {asked, "\"event\": \"nothing\"",
         "\"event\": \"returned\", \"note\": {\"type\": 1}, \"each_message\": true, \"text\": \"t\""},
        {asked, "{\"at\": 3, \"equals\": \"48\"}], ", "{\"at\": 3, \"equals\": \"48\"}], \"go_on\": true, "},
        {talking, "{\"field\": 4, \"text\": \"17\"}", "{\"field\": 4, \"text\": \"0123456789\"}"},
        {talking, "{\"field\": 4, \"text\": \"17\"}", "{\"field\": 4, \"text\": \"x\"}"},
        {talking, "{\"field\": 4, \"text\": \"17\"}", "{\"field\": 4, \"text\": \"\"}"},
        {talking, "{\"field\": 4, \"text\": \"17\"}", "{\"field\": 5, \"text\": \"5\"}"},
        {talking, "{\"field\": 4, \"text\": \"17\"}", "{\"at\": 0, \"text\": \"A\"}, {\"length\": 9}"},
        {talking, "{\"by\": \"name\", \"field\": 3}", "{\"by\": \"type\", \"field\": 3}"},
        {talking, ", \"separator\": \";\"", ""},
        {buffered, "\"reset\": 0", "\"mask\": \"FF\""},
        {buffered, "{\"at\": -1, \"equals\": \"02\"}", "{\"at\": 0, \"from\": 1, \"to\": 2}"},
        {buffered, "\"note\": {\"type\": 3}", "\"note\": {\"by\": \"type\", \"at\": 0, \"mask\": \"03\"}"},
    };
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        char *text = spoil(changes[i].base, changes[i].from, changes[i].to);
        struct description *description;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        if (parse(text, &description, &error) != CFOIL_OK)
            fail_msg("change %d: %s", (int)i, error.text);
        memory_release(&memory_heap, description);
        free(text);
    }
}

static void the_examples_are_good(void **state)
{
    (void)state;
    static const char *const names[] = {"cctalk-events", "detector-lines", "status-bits"};
    for (size_t i = 0; i < 3; i++) {
        char path[512];
        struct description *description;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        snprintf(path, sizeof path, SOURCE_DIR "/examples/descriptions/%s.json", names[i]);
        if (description_load(&memory_heap, path, &description, &error) != CFOIL_OK)
            fail_msg("%s", error.text);
        assert_string_equal(description->id, names[i]);
        memory_release(&memory_heap, description);
    }
    struct description *description;
    assert_int_equal(description_load(&memory_heap, "/nowhere.json", &description, NULL), CFOIL_E_DATA_FILE);
    assert_null(description);
}

/* ---- No memory ---- */

static void *refuse(void *user, size_t size)
{
    (void)user;
    (void)size;
    return NULL;
}

static void release(void *user, void *block)
{
    (void)user;
    (void)block;
}

static void no_memory_is_told(void **state)
{
    (void)state;
    const struct memory none = {NULL, refuse, release};
    struct description *description;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(description_parse(&none, "toy.json", asked, strlen(asked), &description, &error), CFOIL_E_MEMORY);
    assert_null(description);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_fault_is_refused_with_path_and_line),
        cmocka_unit_test(a_framed_device_is_read_whole),
        cmocka_unit_test(a_talking_device_and_a_buffer_are_read_whole),
        cmocka_unit_test(odd_but_good_descriptions_are_taken),
        cmocka_unit_test(the_examples_are_good),
        cmocka_unit_test(no_memory_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
