/* Which answers are damaged, and how? Random faults that a seed repeats exactly, on bytes or on 9-bit words. */
#ifndef SIMULATOR_FAULT_H
#define SIMULATOR_FAULT_H

#include "words.h"

#include <stdint.h>

enum { OUTGOING_UNITS = 1024, FAULTS_MOST = 16 };

/* What a fault does. EFFECT_OWN: something that only the simulator itself knows how to do. */
enum effect {
    EFFECT_LOST,
    EFFECT_DOUBLED,
    EFFECT_FLIP,
    EFFECT_CUT,
    EFFECT_LATE,
    EFFECT_PAUSE,
    EFFECT_GARBAGE,
    EFFECT_SILENCE,
    EFFECT_OWN
};

/* A kind of fault; the table of a simulator ends with a NULL word. */
struct fault_word {
    const char *word;
    enum effect effect;
    int where; /* which of its lines, in the simulator's own numbers */
    int own;   /* which of its own effects */
};

struct fault {
    const struct fault_word *kind;
    long value;                       /* late, pause: milliseconds; garbage: number of bytes */
    long byte;                        /* position in the answer counted from 0, or -1: chosen at random */
    long command;                     /* only answers to this command, or -1: to any */
    long every, reply, chance, times; /* 0: not asked for */
    unsigned long random;
    long matched, used;
};

/* The faults that hold at present. */
struct faults {
    struct fault fault[FAULTS_MOST];
    size_t count;
};

/* An answer on its way out, while the faults work on it. */
struct outgoing {
    uint16_t units[OUTGOING_UNITS]; /* bytes or words */
    unsigned bits;                  /* of a unit, for flips */
    size_t length;
    size_t start; /* where the answer itself begins, behind garbage, echo or a stale answer */
    size_t split; /* not 0: pause before this unit */
    long delay_ms, pause_ms;
    bool intact, mute;
};

/* False if too many faults are active. */
bool fault_add(struct faults *faults, const struct fault *fault);
bool fault_strikes(struct fault *fault, long command);
/* True if something is left to be damaged. */
bool outgoing_worth(const struct outgoing *out);
/* Puts units before the answer. */
void outgoing_lead(struct outgoing *out, const uint16_t *units, size_t count);
void outgoing_lead_bytes(struct outgoing *out, const uint8_t *bytes, size_t count);
/* Does what the kind says, unless it is the simulator's own effect; the answer is not intact any more. */
void fault_apply(struct fault *fault, struct outgoing *out);

/* Reads what follows "fault": the kind and when it strikes. `on_read` reads what follows "on". */
bool fault_read(struct words *words, const struct fault_word *kinds, bool (*on_read)(struct words *, struct fault *),
                struct fault *fault);

#endif
