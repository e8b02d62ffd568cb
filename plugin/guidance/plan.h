/*
 * What to do now, worked out afresh from everything known: a pure function of presentations, answers and options.
 */
#ifndef GUIDANCE_PLAN_H
#define GUIDANCE_PLAN_H

#include "model/combine.h"
#include "packs/pack.h"

/* Refusals for feeding reasons after which the manual checks are offered, so that the note can be taken by hand. */
#define PLAN_HANDLING_MAX 3u

/* Why the plan says what it says; the wording hangs on it (words.c). */
enum plan_cause {
    PLAN_CAUSE_NONE = 0,           /* a check is open */
    PLAN_CAUSE_SERIAL_REFUSED = 1, /* the serial number was refused before */
    PLAN_CAUSE_TWO_DIFFER = 2,     /* two independent features are not as they should be */
    PLAN_CAUSE_ONE_DIFFERS = 3,    /* one is not, and an independent one was looked at */
    PLAN_CAUSE_TAMPERING = 4,      /* the machine believes somebody interfered */
    PLAN_CAUSE_DEVICE = 5,         /* the machine is in trouble */
    PLAN_CAUSE_NOT_ENABLED = 6,    /* the machine was told not to take this note */
    PLAN_CAUSE_ACCEPTED = 7,       /* refused, then accepted */
    PLAN_CAUSE_HANDLING_FIRST = 8, /* fed badly once */
    PLAN_CAUSE_HANDLING_AGAIN = 9, /* and again */
    PLAN_CAUSE_ALL_GOOD = 10,      /* feel, look and tilt as they should be, and what the machine doubted */
    PLAN_CAUSE_NOT_COMPLETE = 11,  /* too much could not be told */
    PLAN_CAUSE_WITHDRAWN = 12,     /* no longer money in shops; nothing is said against the note */
    PLAN_CAUSE_CHECK_ENDS = 13,    /* a check that ends the case by itself is not as it should be */
    PLAN_CAUSE_TOO_PLAIN =
        14 /* the note has nothing to feel, look at or tilt, and the machine doubted that it is genuine */
};

/* Why this check is the next one. */
enum plan_why {
    PLAN_WHY_NONE = 0,       /* no check is open */
    PLAN_WHY_CHANNEL = 1,    /* it speaks to what the machine doubted */
    PLAN_WHY_ENDS = 2,       /* a difference in it would end the case at once */
    PLAN_WHY_SENSE = 3,      /* it gives a sense that is still missing */
    PLAN_WHY_INDEPENDENT = 4 /* it tells a misreading from a doubt */
};

struct evidence_basis;

struct plan_input {
    const struct evidence_basis *basis; /* never NULL */
    const struct pack_note *note;
    const struct combined *combined;
    const int32_t *answers; /* one for each check of the note, 0 = none */
    const uint32_t *order;  /* numbers of the answered checks, in the order of their first answers */
    uint32_t answered;
    uint32_t tools;   /* CFOIL_TOOL_* at hand */
    uint32_t without; /* CFOIL_WITHOUT_* */
    uint32_t check_limit;
    bool time_up; /* no new check is asked */
    bool serial_refused;
    bool withdrawn; /* no longer money in shops */
};

struct plan {
    int32_t kind;   /* CFOIL_STEP_* */
    int32_t advice; /* CFOIL_ADVICE_*, NONE with a check */
    enum plan_cause cause;
    enum plan_why why;
    uint32_t check; /* number of the check to make */
};

void plan_make(const struct plan_input *input, struct plan *plan);

/* Bit mask of 1u << CFOIL_DISPOSITION_* that the case may end with now, overrides left aside. */
uint32_t plan_dispositions(const struct plan *plan, const struct pack_jurisdiction *jurisdiction);

#endif
