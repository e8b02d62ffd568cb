/* What goes over the bus between controller and bill validator, and what goes wrong there? */
#ifndef SIMULATOR_MDB_BUS_H
#define SIMULATOR_MDB_BUS_H

#include "validator.h"

#include "common/outbox.h"

enum { WORDS_MOST = 40, MODE_BIT = 0x100, WORD_BREAK = 0x8000 };

struct bus {
    struct validator *validator;
    const struct settings *settings;
    const struct truth *truth;
    struct faults *faults;
    uint16_t previous[BLOCK_MOST + 1]; /* the answer before this one, for stale answers */
    size_t previous_length;
    int last_command; /* that was answered */
    long requests[COMMANDS], answered[COMMANDS];
};

/* What the controller hears after a block; nothing if length is 0. */
struct hearing {
    int command;
    struct outgoing out; /* words */
    bool framing;        /* a framing error in it */
    bool current;        /* an ACK belongs to what the validator has to say now */
    bool events;         /* poll events are in it */
};

void bus_start(struct bus *bus, struct validator *validator, struct faults *faults);
/* Puts the words on the bus and listens. */
void bus_exchange(struct bus *bus, const uint16_t *words, size_t count, struct hearing *hearing, int64_t now_ms);
/* The controller's ACK after a data block: it may be lost. */
void bus_acknowledge(struct bus *bus, const struct hearing *hearing, int64_t now_ms);
/* Says that a fault struck; `on` names what. */
void fault_log(const struct truth *truth, const struct fault *fault, const char *on, int64_t now_ms);

#endif
