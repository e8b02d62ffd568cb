/*
 * One device as its description tells it: plain data of fixed size, filled by the loader and only read by the adapter.
 * What each member means to the person who writes a description is told in docs/descriptions.md.
 */
#ifndef DESCRIBED_DESCRIPTION_H
#define DESCRIBED_DESCRIPTION_H

#include <counterfoil/adapter.h>
#include <stdbool.h>

enum {
    DESCRIBED_MESSAGE_MAX = 512, /* bytes of one message without escapes; characters of one line */
    DESCRIBED_SEND_MAX = 64,     /* bytes of one message that we send, without escapes */
    DESCRIBED_FRAME_MAX = 2 * DESCRIBED_MESSAGE_MAX,
    DESCRIBED_BYTES_MAX = 24, /* bytes that one condition compares */
    DESCRIBED_CONDITIONS_MAX = 8,
    DESCRIBED_START_MAX = 32,
    DESCRIBED_LIST_MAX = 8, /* exchanges of one command */
    DESCRIBED_NOTES_MAX = 64,
    DESCRIBED_RULES_MAX = 64,
    DESCRIBED_BUFFER_MAX = 40, /* bytes of all entries: they must fit into the memory of one device */
    DESCRIBED_NAME_MAX = 19,   /* of a note */
    DESCRIBED_TEXT_MAX = 150,
    DESCRIBED_RAW_TEXT_MAX = 60
};

/* A number that stands in a message: bytes at a place, or the decimal digits of a field of a line. */
struct described_number {
    int32_t at;     /* place of the first byte; below 0 from the end */
    uint32_t field; /* 1.. in lines; 0 = bytes */
    uint32_t bytes; /* 1..4 */
    bool big_endian;
    uint32_t mask; /* taken after the bytes are put together */
    uint32_t shift;
};

/* A number that counts: reset (when there is one), then first..last, then first again. */
struct described_count {
    bool known;
    struct described_number number;
    uint32_t first;
    uint32_t last;
    bool has_reset;
    uint32_t reset;
};

enum described_test {
    DESCRIBED_TEST_BYTES,       /* `length` bytes at `at` are those of `bytes` */
    DESCRIBED_TEST_BITS,        /* the byte at `at`, masked, is low..high */
    DESCRIBED_TEST_LENGTH,      /* the message has low..high bytes */
    DESCRIBED_TEST_FIELD,       /* the field is the text of `bytes` */
    DESCRIBED_TEST_FIELD_NUMBER /* the field is a decimal number low..high */
};

struct described_condition {
    enum described_test test;
    int32_t at;
    uint32_t field;
    uint32_t mask;
    uint32_t low;
    uint32_t high;
    uint32_t length;
    uint8_t bytes[DESCRIBED_BYTES_MAX];
};

struct described_conditions {
    uint32_t count;
    struct described_condition items[DESCRIBED_CONDITIONS_MAX];
};

/* ---- The line ---- */

enum described_check_kind { DESCRIBED_CHECK_NONE, DESCRIBED_CHECK_SUM, DESCRIBED_CHECK_XOR, DESCRIBED_CHECK_CRC };
enum described_complement { DESCRIBED_COMPLEMENT_NONE, DESCRIBED_COMPLEMENT_ONES, DESCRIBED_COMPLEMENT_TWOS };

struct described_check {
    enum described_check_kind kind;
    uint32_t width; /* bits: 8..32; sums 8 or 16, xor 8 */
    enum described_complement complement;
    uint32_t polynomial;
    uint32_t initial;
    bool reflect_in;
    bool reflect_out;
    uint32_t xor_out;
    int32_t from; /* the bytes it covers, both included; its own bytes are left out */
    int32_t to;
    uint32_t count; /* of its own bytes */
    int32_t at[4];  /* their places, the least significant first */
};

struct described_frame {
    uint32_t begin_length;
    uint8_t begin[4];
    uint32_t end_length;
    uint8_t end[2];
    uint32_t fixed_length; /* of what the device sends; 0 = it tells or ends its messages */
    bool has_length;
    struct described_number length;
    uint32_t not_counted; /* bytes of the message that the length field leaves out */
    bool has_escape;
    uint8_t escape;
    uint8_t escape_xor;
};

enum described_line_end { DESCRIBED_END_CR, DESCRIBED_END_LF, DESCRIBED_END_CRLF };

struct described_lines {
    enum described_line_end end;
    uint32_t length_max;
    char separator; /* of fields; 0 = a line has one field */
};

/* ---- What is said ---- */

struct described_bytes {
    uint32_t length; /* 0 = nothing is sent */
    uint8_t bytes[DESCRIBED_SEND_MAX];
};

/* Something sent, and how its answer is known. */
struct described_exchange {
    struct described_bytes send;
    struct described_conditions expect; /* none = any message is the answer */
    bool silent;                        /* no answer comes */
    bool optional;                      /* start-up goes on without the answer */
    bool proves;                        /* another answer means: another kind of device */
    bool events;                        /* the rules read the answer, too */
    uint64_t answer_us;
    uint32_t tries;
    bool tells_identity;
    struct described_number identity; /* bytes 0: the text from `at` to `identity_to` */
    int32_t identity_to;
};

struct described_exchanges {
    bool known;
    uint32_t count;
    struct described_exchange items[DESCRIBED_LIST_MAX];
};

/* ---- What it means ---- */

struct described_note {
    int32_t type;
    int64_t value_minor;
    char currency[4];
    char name[DESCRIBED_NAME_MAX + 1];
};

enum described_note_by {
    DESCRIBED_NOTE_NONE,
    DESCRIBED_NOTE_FIXED,
    DESCRIBED_NOTE_TYPE, /* a number that is a note's type */
    DESCRIBED_NOTE_NAME  /* a text that is a note's name */
};

enum described_halt {
    DESCRIBED_HALT_NONE,
    DESCRIBED_HALT_HOST, /* no notes until the host says so */
    DESCRIBED_HALT_CLEAR /* no notes until the device is in order again */
};

struct described_rule {
    struct described_conditions when;
    int32_t kind; /* CFOIL_KIND_*; 0 = nothing is told */
    int32_t condition;
    int32_t reason;
    uint32_t reasons_possible;
    enum described_halt halt;
    bool each_message; /* a matching message after another one is a new event */
    bool go_on;        /* the rules after this one are looked at, too */
    bool after_held;   /* STACKED counts only for the note that is held */
    enum described_note_by note_by;
    uint32_t note_index;
    struct described_number note_number; /* note_by NAME in bytes: `at`, with `note_length` characters */
    uint32_t note_length;
    uint32_t finding_count;
    cfoil_finding findings[CFOIL_FINDINGS_MAX];
    char raw_text[DESCRIBED_RAW_TEXT_MAX + 1];
    char text[DESCRIBED_TEXT_MAX + 1];
};

/* A list of the latest events in each answer to a poll. */
struct described_buffer {
    bool known;
    struct described_count counter;
    int32_t at;
    uint32_t entry_bytes;
    uint32_t entries;
    bool newest_first;
};

enum described_driver { DESCRIBED_DRIVER_NONE, DESCRIBED_DRIVER_HOST, DESCRIBED_DRIVER_DEVICE };

struct description {
    char id[17];
    char name[65];
    int32_t maturity;
    cfoil_line line;
    bool text_lines;
    bool polled;
    bool echo; /* what we send comes back first */
    struct described_frame frame;
    struct described_check check;
    struct described_lines lines;
    uint64_t byte_gap_us;
    uint64_t pause_us; /* between an answer and the next request */
    uint64_t silence_us;
    uint64_t outcome_us;
    uint64_t poll_us;
    enum described_driver driver;
    struct described_count sequence;
    uint32_t start_count;
    struct described_exchange start[DESCRIBED_START_MAX];
    struct described_exchange poll;
    struct described_bytes poll_accepting; /* instead of poll.send while notes are taken; length 0 = no difference */
    struct described_bytes acknowledge;
    bool acknowledge_all; /* not only messages that carry events */
    struct described_exchanges accept[CFOIL_ACCEPT_ALL + 1];
    struct described_exchange stack; /* send.length 0 = cannot */
    struct described_exchange give_back;
    struct described_exchange hold;
    uint64_t hold_every_us;
    uint64_t hold_us;                     /* how long without a word from the host */
    struct described_exchange self_check; /* `expect` tells that all is well */
    uint64_t self_check_us;
    struct described_exchange watch; /* `expect` tells that the device is still set as we set it */
    uint64_t watch_us;
    struct described_buffer buffer;
    char raw_text[DESCRIBED_RAW_TEXT_MAX + 1]; /* of rules without one, and of codes that no rule knows */
    uint32_t note_count;
    struct described_note notes[DESCRIBED_NOTES_MAX];
    uint32_t rule_count;
    struct described_rule rules[DESCRIBED_RULES_MAX];
};

#endif
