/* What does the simulated bill validator do with notes and commands? Time comes in as a number; no I/O here. */
#ifndef SIMULATOR_MDB_VALIDATOR_H
#define SIMULATOR_MDB_VALIDATOR_H

#include "language.h"

#include "common/note.h"
#include "common/truth.h"

enum { BLOCK_MOST = 36, EVENTS_MOST = 256, DISABLED_POLL_BYTE = 0x09 };

/* The note inserted last, or the one that is stuck. */
struct note {
    long number, type; /* type -1: not known */
};

/* What the validator puts on the bus; data without its checksum. */
enum answer_kind { ANSWER_SILENT, ANSWER_ACK, ANSWER_NAK, ANSWER_DATA };

struct answer {
    enum answer_kind kind;
    uint8_t data[BLOCK_MOST];
    size_t length;
    size_t events; /* how many bytes of the queue are in it */
};

struct validator {
    const struct settings *settings;
    const struct truth *truth;
    int64_t quiet_until_ms;                                /* off, starting, or told to be silent */
    int64_t off_until_ms;                                  /* off or starting */
    unsigned enabled, escrowed, security, manual, options; /* masks */
    uint8_t routing[TYPES];                                /* RECYCLER ENABLE: 0 = not recycled */
    uint8_t queue[EVENTS_MOST];                            /* poll bytes that no ACK has come for */
    size_t queued;
    struct answer last; /* kept until its ACK comes */
    bool unacknowledged;
    long count;         /* of the stacker */
    long stored[TYPES]; /* of the recycler */
    long paid[TYPES];
    enum path path;
    int64_t path_due_ms, escrow_due_ms;
    struct note note, stuck;
    enum way way;
    enum outcome outcome;
    enum status status;
    bool jammed, removed, full, was_accepting;
};

void validator_start(struct validator *validator, const struct settings *settings, const struct truth *truth,
                     int64_t now_ms);
/* Lets time pass: notes move, the escrow times out. */
void validator_advance(struct validator *validator, int64_t now_ms);
int64_t validator_deadline(const struct validator *validator, int64_t now_ms);
bool validator_accepting(const struct validator *validator, int64_t now_ms);

void validator_insert(struct validator *validator, long type, enum way way, int64_t now_ms);
void validator_event(struct validator *validator, uint8_t byte, int64_t now_ms);
void validator_pull(struct validator *validator, int64_t now_ms);
void validator_jam(struct validator *validator, int64_t now_ms);
void validator_clear(struct validator *validator, int64_t now_ms);
void validator_status(struct validator *validator, enum status status, int64_t now_ms);
void validator_stacker(struct validator *validator, enum stacker stacker, int64_t now_ms);
void validator_recycler(struct validator *validator, enum transfer transfer, long type, int64_t now_ms);
void validator_restart(struct validator *validator, long off_ms, const char *why, int64_t now_ms);
void validator_silence(struct validator *validator, long duration_ms, int64_t now_ms);
/* ESCROW: false if nothing is held. */
bool validator_decide(struct validator *validator, bool stack, int64_t now_ms);
/* A byte into the queue, without a line in the log. */
void validator_queue(struct validator *validator, uint8_t byte);
bool validator_has_recycler(const struct validator *validator);
/* The status bytes that hold now; gives how many. */
size_t validator_levels(const struct validator *validator, uint8_t levels[8]);

/* commands.c: which command these bytes are; carries it out; what an ACK of the controller and RET do. */
int validator_command(const uint8_t *block, size_t length);
void validator_answer(struct validator *validator, const uint8_t *block, size_t length, struct answer *answer,
                      int64_t now_ms);
void validator_acknowledged(struct validator *validator);
bool validator_retransmit(const struct validator *validator, struct answer *answer);

#endif
