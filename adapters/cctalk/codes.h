/*
 * What a bill validator's event and fault codes mean: constant tables with the source of each row.
 */
#ifndef CCTALK_CODES_H
#define CCTALK_CODES_H

#include <counterfoil/adapter.h>

/* The standard's own categories of bill events. */
enum cctalk_category {
    CCTALK_CATEGORY_STATUS,
    CCTALK_CATEGORY_REJECT,
    CCTALK_CATEGORY_FRAUD,  /* the standard's 'fraud attempt' */
    CCTALK_CATEGORY_FATAL,  /* needs a person */
    CCTALK_CATEGORY_UNKNOWN /* not in the tables */
};

/* One event code (first byte 0). */
struct cctalk_event_code {
    uint8_t code;
    enum cctalk_category category;
    int32_t kind;              /* CFOIL_KIND_* */
    int32_t reason;            /* CFOIL_REASON_* */
    uint32_t reasons_possible; /* 1u << CFOIL_REASON_* */
    int32_t condition;         /* CFOIL_CONDITION_* */
    int32_t channel;           /* channel of the one finding, -1 = no finding */
    int32_t strength;
    const char *text;
    const char *source;
};

/* Never NULL: a code that the standard does not have gets the row for unknown codes. */
const struct cctalk_event_code *cctalk_event_code_find(uint8_t code);

/* One self-check fault code. */
struct cctalk_fault_code {
    uint8_t code;
    const char *extra; /* what the extra byte names, NULL = there is none */
    const char *text;
    const char *source;
};

/* NULL for a code that the standard does not have. */
const struct cctalk_fault_code *cctalk_fault_code_find(uint8_t code);

#endif
