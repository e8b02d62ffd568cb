/*
 * How much the machine's refusal and a person's answers weigh, with the range of each; never more than was published.
 * For experts and for the order of checks only: no cashier sees a figure of this. The reasons are in docs/guidance.md.
 */
#ifndef GUIDANCE_EVIDENCE_H
#define GUIDANCE_EVIDENCE_H

#include "guidance/likelihood.h"
#include "guidance/plan.h"
#include "packs/pack_evidence.h"

/* The share of genuine notes that this machine refuses. */
struct reject_rate {
    double low, centre, high;
    bool from_record; /* else the default, for want of a long enough record */
    uint64_t presentations, refusals;
};

/* What does not change while a case is open. */
struct evidence_basis {
    const struct pack_evidence *figures;
    const struct pack_rate *rate; /* the newest with a figure for each million notes, NULL = none */
    struct reject_rate rejects;
};

/* The record of the lane, 0 and 0 when there is none. */
void evidence_basis_make(const struct pack_evidence *figures, const struct pack_currency *currency,
                         uint64_t presentations, uint64_t refusals, struct evidence_basis *basis);

/* What the machine's word weighs. */
enum machine_word {
    MACHINE_SILENT = 0,   /* it refused nothing */
    MACHINE_REFUSED = 1,  /* at most 1/(false-reject rate): how many others it refuses is not known */
    MACHINE_ACCEPTED = 2, /* in the end: what that weighs is not known */
    MACHINE_NO_DOUBT = 3, /* feeding, settings, its own condition: ratio 1 */
    MACHINE_TAMPERING = 4 /* a rule of its own, no figure */
};
const char *machine_word_name(enum machine_word word);

/* What becomes of one answer. */
enum answer_weight {
    WEIGHT_COUNTED = 1,      /* it speaks for its sense */
    WEIGHT_SAME_SENSE = 2,   /* another answer by the same sense speaks already: same eyes, same light */
    WEIGHT_CANNOT_TELL = 3,  /* moves nothing */
    WEIGHT_NO_FIGURE = 4,    /* nothing published: it counts for the rules and the order */
    WEIGHT_SAME_PHYSICS = 5, /* the machine sensed the same: closer to one test, counted once */
    WEIGHT_ENDS = 6          /* a check that ends the case: a rule of its own */
};
const char *answer_weight_name(enum answer_weight weight);

struct answer_evidence {
    enum answer_weight weight;
    const struct pack_look *look; /* what it was weighed with, or NULL */
    bool at_least;                /* better than that look by an unknown amount */
    struct span span;             /* 0 unless counted */
};

/* All spans are natural logarithms. */
struct evidence {
    bool prior_known;
    struct span prior; /* log odds that the note is not genuine, before anything was said */
    enum machine_word machine_word;
    struct span machine;
    struct span manual; /* the sum over the senses, within the whole-note look */
    bool capped;
    struct span posterior; /* prior, machine and manual together; without a prior: the last two */
    uint32_t senses;       /* 1u << CFOIL_SENSE_* that were weighed */
    struct wald wald;      /* its bounds, for one person's look at a whole note */
};

void evidence_weigh(const struct plan_input *input, struct evidence *evidence);

/* The answer at this position of `order`. */
void evidence_of_answer(const struct plan_input *input, uint32_t position, struct answer_evidence *answer);

/* Bits that one more look by this sense is expected to tell, with its range; 0 when nothing published says so. */
void evidence_expected(const struct plan_input *input, const struct evidence *evidence, int32_t sense,
                       struct span *bits);

/* Hits and false alarms of a look. */
void look_rates(const struct pack_look *look, double *hit, double *false_alarm);

#endif
