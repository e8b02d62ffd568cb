/*
 * A note validator as the ccTalk fact tables describe it, for tests on a virtual clock: event buffer, inhibits, escrow,
 * modes, both check forms, and the faults of a line. It knows what truly happened to each note. It shares no code with
 * the adapter. Tests include fake_validator.c.
 */
#ifndef FAKE_VALIDATOR_H
#define FAKE_VALIDATOR_H

#include <stdbool.h>
#include <stdint.h>

enum { FAKE_TYPES = 16, FAKE_RULES = 16, FAKE_TRUTH = 4096, FAKE_FRAME = 257, FAKE_HISTORY = 8 };

/* What goes wrong with a request or its answer. */
enum fake_fault {
    FAKE_NONE,
    FAKE_NAK,          /* refused, not carried out */
    FAKE_BUSY,         /* not carried out */
    FAKE_SILENT,       /* not carried out, no answer: also a lost request */
    FAKE_LOST,         /* carried out, the answer is lost */
    FAKE_DOUBLED,      /* the answer comes twice */
    FAKE_FLIPPED,      /* byte `value` of the answer has a bit flipped */
    FAKE_CUT,          /* only the first `value` bytes come */
    FAKE_LATE,         /* `value` ms late */
    FAKE_STALE,        /* 159: the answer of `value` answers ago instead */
    FAKE_GLUED,        /* 3 bytes of noise stick to the front of the answer */
    FAKE_TAILED,       /* one byte of noise follows the answer */
    FAKE_ANSWER,       /* the one data byte `value` instead of what is due, not carried out */
    FAKE_ALTERED,      /* another answer each time, of the right form */
    FAKE_LONG,         /* one data byte too many */
    FAKE_HEADER,       /* an answer with a header no device has */
    FAKE_FOREIGN_FIRST /* another device's answer and a request to it come first */
};

struct fake_rule {
    uint8_t header; /* 0 = any */
    enum fake_fault fault;
    uint32_t skip;  /* requests that still go well before */
    uint32_t times; /* 0 = rule is free */
    uint32_t value;
};

enum fake_motion { MOTION_NONE, MOTION_IN, MOTION_ESCROW, MOTION_STACK, MOTION_OUT };
enum fake_empty { EMPTY_DOTS, EMPTY_NAK, EMPTY_SILENT };
enum fake_power_loss { POWER_LOSS_RETURNS, POWER_LOSS_STACKS, POWER_LOSS_STACKS_WITH_EVENT };

struct fake_answer {
    uint32_t length;
    uint64_t delay_us; /* from the end of the request */
    uint8_t bytes[2 * FAKE_FRAME + 32];
};

struct fake {
    /* What it is. */
    uint8_t address;
    bool crc;
    const char *category;
    const char *product;
    uint32_t serial;
    uint32_t serial_length; /* 0 = tells none */
    const char *names[FAKE_TYPES + 1];
    enum fake_empty empty;
    const char *country; /* of the scaling below; others are answered with 0,0,0 */
    uint32_t scale;
    uint8_t places;
    const char *country_too;
    bool answers_232;
    enum fake_power_loss power_loss;
    bool ignores_escrow; /* stacks at once whatever the mode */
    bool always_holds;
    bool keeps_inhibits; /* over a reset */
    int32_t fixed_mode;  /* what 152 tells whatever was written; 0 = what was written */

    /* How it is. */
    uint64_t now_us;
    uint64_t dark_until_us;
    uint8_t counter;
    uint8_t pairs[10];
    uint8_t mask[2];
    uint8_t stuck_mask; /* types that 230 shows as enabled whatever was written */
    uint8_t master;
    uint8_t mode;
    uint8_t fault;
    int32_t fault_extra; /* -1 = none */
    uint64_t delay_us;
    uint64_t poll_us; /* the last 159 */
    bool asleep;      /* inhibited itself because nobody polled */
    uint32_t asleep_count;
    uint64_t escrow_time_us;
    enum fake_motion motion;
    uint8_t moving; /* bill type */
    uint64_t motion_us;
    uint32_t route_fails; /* so many 154 are answered 255 */
    uint8_t jam_code;     /* on the way to the stacker */
    bool no_outcome;      /* takes the note and tells nothing */

    /* Line faults. */
    struct fake_rule rules[FAKE_RULES];
    uint8_t altered;
    uint32_t history_count;
    uint8_t history[FAKE_HISTORY][11]; /* data of earlier answers to 159, newest last */

    /* The truth. */
    uint32_t stacked_count;
    uint8_t stacked[FAKE_TRUTH];
    uint32_t returned_count;
    uint32_t rejected_count;
    uint32_t routed_count[256];
};

void fake_begin(struct fake *fake);
void fake_rule_add(struct fake *fake, uint8_t header, enum fake_fault fault, uint32_t skip, uint32_t times,
                   uint32_t value);
void fake_rules_clear(struct fake *fake);

/* A whole request arrives. Returns what is answered (length 0 = nothing). */
void fake_request(struct fake *fake, const uint8_t *bytes, uint32_t length, uint64_t now_us,
                  struct fake_answer *answer);
uint64_t fake_next(const struct fake *fake); /* when something happens by itself */
void fake_advance(struct fake *fake, uint64_t now_us);

bool fake_insert(struct fake *fake, uint8_t type); /* a good note; false when the path is not free */
void fake_event(struct fake *fake, uint8_t a, uint8_t b);
void fake_reset(struct fake *fake, uint64_t dark_us);

uint32_t fake_frame(bool crc, uint8_t destination, uint8_t source, uint8_t header, const uint8_t *data,
                    uint32_t data_length, uint8_t *bytes);

#endif
