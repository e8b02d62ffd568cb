/*
 * What a damaged note is exchanged for, and when it should not go out again: rules of one currency as data
 * ("counterfoil.exchange/1"). The rules are those of central banks; no shop is bound by them, and none decides by them.
 */
#ifndef PACKS_PACK_EXCHANGE_H
#define PACKS_PACK_EXCHANGE_H

#include "packs/pack.h"

/* What a bank is likely to do. The order has no meaning. */
enum worth {
    WORTH_UNKNOWN = 0,        /* no rule for this is known here */
    WORTH_FULL = 1,           /* pay the full value */
    WORTH_HALF = 2,           /* pay half */
    WORTH_NIL = 3,            /* pay nothing */
    WORTH_WITH_PROOF = 4,     /* pay only when it is proved that the rest was destroyed */
    WORTH_SPECIAL_OFFICE = 5, /* leave it to an office for such notes; the value cannot be told here */
    WORTH_REFUSED = 6,        /* refuse the claim */
    WORTH_COUNT = 7
};
const char *worth_word(enum worth worth); /* as in a pack: "full", "half", ... */

/* What somebody sees on the note, or knows of it. */
enum condition {
    CONDITION_SOILED = 0,    /* dirty from use */
    CONDITION_SCRIBBLED = 1, /* written or drawn on, no message */
    CONDITION_WASHED = 2,    /* washed out, shrunk or hard to make out */
    CONDITION_TWO_PIECES = 3,
    CONDITION_SEVERAL_PIECES = 4, /* three or more */
    CONDITION_PART_MISSING = 5,
    CONDITION_MISMATCHED = 6,       /* pieces of different notes joined */
    CONDITION_FEATURES_MISSING = 7, /* too little left of what a genuine note must have */
    CONDITION_BRITTLE = 8,
    CONDITION_BURNT = 9,
    CONDITION_STUCK_TOGETHER = 10,
    CONDITION_CONTAMINATED = 11, /* by something that may harm whoever touches it */
    CONDITION_DYE_STAINED = 12,  /* as from a device that protects cash */
    CONDITION_DAMAGED_ON_PURPOSE = 13,
    CONDITION_MESSAGE = 14,   /* carries a message of a party, a faith or an interest */
    CONDITION_ALTERED = 15,   /* made to look like another value, or to support a claim */
    CONDITION_STAMPED = 16,   /* by a bank, when it was presented before */
    CONDITION_DESTROYED = 17, /* nothing left to be shown */
    CONDITION_COUNT = 18
};
const char *condition_word(enum condition condition);
int32_t condition_find(const char *word); /* -1 = none */

/* What a condition does to the answer. */
enum condition_effect {
    EFFECT_BY_AREA = 1,    /* the area decides; without a measurement the note counts as whole */
    EFFECT_PART = 2,       /* the area decides, and must be measured */
    EFFECT_EACH_PIECE = 3, /* each piece is a claim of its own */
    EFFECT_OUTCOME = 4     /* this outcome, whatever the area */
};

struct pack_condition {
    enum condition condition;
    enum condition_effect effect;
    enum worth outcome;              /* of EFFECT_OUTCOME */
    bool decline;                    /* a shop does better not to take it */
    int64_t from_minor, below_minor; /* for these values; below_minor 0 = no end */
    struct pack_rule rule;
    const char *where;   /* instead of the general text, or "" */
    const char *packing; /* instead of the general text, or "" */
};

#define EXCHANGE_STEPS_MAX 4

struct pack_step {
    enum worth outcome;
    int32_t permille; /* of the note's area */
    bool inclusive;   /* this much is enough; otherwise it must be more */
    struct pack_rule rule;
};

struct pack_scale {
    int64_t from_minor, below_minor;
    bool largest_only;    /* the largest undivided piece counts; otherwise all pieces together */
    int32_t round_up_mm2; /* limits are rounded up to whole multiples of this, and then are enough; 0 = they are not */
    uint32_t step_count;  /* from the highest down */
    struct pack_step steps[EXCHANGE_STEPS_MAX];
    enum worth rest; /* what is below all steps */
    struct pack_rule rest_rule;
    int32_t pair_step; /* two pieces that each reach this step: full; -1 = no such rule */
    struct pack_rule pair_rule;
};

/* Published limits of one note in square millimetres: this much is enough for the step. */
struct pack_area {
    int64_t value_minor; /* 0 = every value */
    const char *series;  /* "" = every series */
    int32_t area_mm2;
    uint32_t limit_count; /* 0, or that of the scale's steps */
    int32_t limits_mm2[EXCHANGE_STEPS_MAX];
    enum confidence limit_confidence[EXCHANGE_STEPS_MAX];
    const char *source;
    enum confidence confidence;
};

/* What is special about a design. */
struct pack_design {
    int64_t value_minor; /* 0 = every value of the series */
    const char *series;
    bool has_outcome;
    enum worth outcome;
    const char *where; /* instead of the general text, or "" */
    struct pack_rule rule;
};

enum exchange_kind { EXCHANGE_SOILED = 0, EXCHANGE_DAMAGED = 1, EXCHANGE_ANY = 2 };

/* How many notes of what sum are taken how. Of each kind the first that fits is used; of ANY, all that fit. */
struct pack_quota {
    enum exchange_kind kind;
    int64_t notes_from, notes_to; /* notes_to 0 = no end */
    int64_t total_from_minor, total_to_minor;
    struct pack_rule rule;
};

enum exchange_topic {
    TOPIC_DECIDES = 0, /* who decides */
    TOPIC_WHERE = 1,
    TOPIC_PACKING = 2,
    TOPIC_FEATURES = 3, /* what must be there to be seen */
    TOPIC_PAYMENT = 4,
    TOPIC_SHOP = 5, /* what a shop may do */
    TOPIC_COUNT = 6
};
const char *topic_word(enum exchange_topic topic);

struct pack_topic {
    enum exchange_topic topic;
    struct pack_rule rule;
};

/* ---- Fitness ---- */

enum defect {
    DEFECT_SOIL = 0,
    DEFECT_STAIN = 1,
    DEFECT_GRAFFITI = 2,
    DEFECT_WASHED_OUT = 3,
    DEFECT_TEAR = 4,
    DEFECT_HOLE = 5,
    DEFECT_MISSING = 6, /* a corner or a piece of an edge */
    DEFECT_REPAIR = 7,  /* tape, paper or glue */
    DEFECT_CRUMPLED = 8,
    DEFECT_LIMP = 9,
    DEFECT_FOLD = 10,
    DEFECT_FOLDED_CORNER = 11,
    DEFECT_COUNT = 12
};
const char *defect_word(enum defect defect);
int32_t defect_find(const char *word);

enum gauge {
    GAUGE_LENGTH_MM = 0,
    GAUGE_WIDTH_MM = 1,
    GAUGE_AREA_MM2 = 2,
    GAUGE_THICKNESS_UM = 3,
    GAUGE_DENSITY = 4,
    GAUGE_COUNT = 5
};
const char *gauge_word(enum gauge gauge);

#define GAUGE_SCALE 1000       /* numbers are kept as thousandths */
#define GAUGE_MAX   1000000000 /* thousandths */

struct pack_bound {
    enum gauge gauge;
    bool inclusive;
    int64_t thousandths;
};

enum fitness_rule {
    FITNESS_LIMITS = 1, /* unfit when every bound is passed */
    FITNESS_SEEN = 2,   /* unfit whenever it is seen */
    FITNESS_UNFOLD = 3, /* no fault once it is unfolded */
    FITNESS_GAP = 4     /* no limit is known */
};

#define FITNESS_BOUNDS_MAX 3

struct pack_fitness {
    enum defect defect;
    enum fitness_rule kind;
    bool by_machine; /* otherwise by hand */
    const char *how; /* "vertical", "printed", ... ; "" = any */
    const char *series;
    int64_t value_minor;
    uint32_t bound_count;
    struct pack_bound bounds[FITNESS_BOUNDS_MAX];
    const char *source;
    enum confidence confidence;
};

struct pack_exchange {
    const char *currency;
    const char *title;
    uint32_t scale_count, area_count, design_count, condition_count, quota_count, topic_count, fitness_count;
    struct pack_scale *scales;
    struct pack_area *areas;
    struct pack_design *designs;
    struct pack_condition *conditions;
    struct pack_quota *quotas;
    struct pack_topic *topics;
    struct pack_fitness *fitness;
};

/* NULL = there is none for the currency. */
const struct pack_exchange *pack_exchange_find(const struct pack_set *set, const char *currency);

/* The scale that a value is judged by, and the row of a condition for it; NULL = none. */
const struct pack_scale *pack_scale_find(const struct pack_exchange *exchange, int64_t value_minor);
const struct pack_condition *pack_condition_find(const struct pack_exchange *exchange, enum condition condition,
                                                 int64_t value_minor);

/* Calls `visit` with every text of the pack that is shown, and its source. */
typedef void (*exchange_visitor)(void *user, const struct pack_rule *rule);
void pack_exchange_visit(const struct pack_exchange *exchange, exchange_visitor visit, void *user);

#endif
