/*
 * What several presentations of one note say together.
 */
#ifndef MODEL_COMBINE_H
#define MODEL_COMBINE_H

#include <counterfoil/counterfoil.h>

/* One presentation, reduced to what counts. */
struct presentation {
    int32_t kind;   /* CFOIL_KIND_REJECTED, _HELD, _STACKED, _RETURNED or _DEVICE */
    int32_t reason; /* CFOIL_REASON_* */
    uint32_t reasons_possible;
    int32_t condition;
    uint32_t finding_count;
    cfoil_finding findings[CFOIL_FINDINGS_MAX];
};

enum combination {
    COMBINATION_NONE = 0,             /* the machine said nothing about this note */
    COMBINATION_SINGLE = 1,           /* one refusal */
    COMBINATION_SAME_FINDING = 2,     /* every refusal names the same reason and channels */
    COMBINATION_DIFFERING = 3,        /* refusals that do not agree: feeding or the machine are likelier */
    COMBINATION_ACCEPTED_ON_RETRY = 4 /* refused, then held or stacked */
};

struct combined {
    enum combination combination;
    uint32_t refusals;
    int32_t reason;            /* the class to act on, CFOIL_REASON_* */
    uint32_t reasons_possible; /* what is still possible after all presentations */
    uint32_t channels;         /* 1u << CFOIL_CHANNEL_* that some finding names, UNKNOWN included */
    int32_t strength;          /* the strongest finding */
};

void presentation_from_event(struct presentation *presentation, const cfoil_event *event);
void presentations_combine(const struct presentation *presentations, uint32_t count, struct combined *combined);
const char *combination_name(enum combination combination);

#endif
