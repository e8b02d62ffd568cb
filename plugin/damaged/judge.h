/*
 * What is a bank likely to do with this note, by which rule, and is the measurement good enough to tell?
 */
#ifndef DAMAGED_JUDGE_H
#define DAMAGED_JUDGE_H

#include "damaged/request.h"

/* One outcome that the measurement leaves possible. */
struct verdict {
    enum worth worth;
    const struct pack_rule *rule; /* NULL = no rule is known */
};

/* What holds at the smallest and at the largest area that the piece can have. */
struct claim {
    struct area area;
    struct verdict at_least, at_most;
};

enum judge_state {
    JUDGE_SURE = 1,       /* at_least and at_most agree */
    JUDGE_TOO_CLOSE = 2,  /* they do not: the bank measures */
    JUDGE_EACH_PIECE = 3, /* every piece is a claim of its own */
    JUDGE_MEASURE = 4     /* the area decides, and was not measured */
};

struct judgement {
    enum judge_state state;
    struct claim claim;   /* of the whole claim */
    uint32_t claim_count; /* JUDGE_EACH_PIECE: one for each piece */
    struct claim claims[PIECES_MAX];
    bool whole;       /* nothing is missing, as far as was said */
    bool decline;     /* a shop does better not to take it */
    bool value_known; /* the two values below are known */
    int64_t least_minor, most_minor;
    const struct pack_scale *scale;          /* NULL = the area played no part */
    const struct pack_condition *decided_by; /* NULL = no condition decided alone */
    const struct pack_design *design;        /* NULL = nothing special about the design */
};

void damaged_judge(const struct damaged_request *request, struct judgement *judgement);

/* The pack's row for a condition of this note; NULL = none. */
const struct pack_condition *condition_row_find(const struct damaged_request *request, enum condition condition);

/* The limit of a step for this note in square micrometres; *inclusive = this much is enough. */
int64_t step_limit_um2(const struct damaged_request *request, const struct pack_scale *scale, uint32_t step,
                       bool *inclusive);

/* How sure the limit is: a published figure may be surer, or less sure, than the rule. */
enum confidence step_confidence(const struct damaged_request *request, const struct pack_scale *scale, uint32_t step);

/* Does the quota speak of this claim? */
bool quota_fits(const struct damaged_request *request, const struct judgement *judgement,
                const struct pack_quota *quota);

#endif
