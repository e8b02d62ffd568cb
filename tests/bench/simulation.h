/*
 * A model of people and machines for simulating what guidance does: how a synthetic note looks to a synthetic cashier.
 * Every parameter stands in docs/guidance.md with its source; it is a model, not proof.
 */
#ifndef SIMULATION_H
#define SIMULATION_H

#include "guidance/evidence.h"
#include "packs/pack.h"

#include "chance.h"

#include <stdbool.h>
#include <stdint.h>

#define SIMULATION_CHECKS_MAX 64u

/* A person, and how the checks of one person hang together. */
struct person {
    double hit, false_alarm; /* of one look at a whole note */
    double same_sense;       /* correlation of two checks of one sense */
    double other_sense;      /* and of two senses; not above same_sense */
    double cannot_tell;      /* share of checks */
    double wear; /* how much worse a refused genuine note looks than other genuine notes, in standard deviations */
};

/* One kind of note at a counter. */
struct counter {
    const struct pack_note *note;
    struct evidence_basis basis;
    const struct person *person;
    double d_prime[CFOIL_SENSE_TOOL + 1];   /* of this person, by sense */
    uint32_t usable[SIMULATION_CHECKS_MAX]; /* checks that need no tool, in the pack's order */
    uint32_t usable_count;
    uint32_t channels[16]; /* what a refusal may name; the first names nothing */
    uint32_t channel_count;
    struct plan_tree *tree;
};

/* How refused notes of one sort (genuine or not) came out. */
struct tally {
    uint64_t notes, taken, set_aside;
    uint64_t checks, checks_squared;
};

enum policy {
    POLICY_GUIDANCE, /* the plan */
    POLICY_FIXED     /* every check that needs no tool, in the pack's order, until one is not as it should be */
};

void counter_open(struct counter *counter, const struct pack_set *packs, const char *currency, int64_t value_minor,
                  const char *series, const struct person *person);
void counter_close(struct counter *counter);

/* The leaning with which one feel, one look and one tilt together give this person's false alarms. */
double criterion_of(const struct person *person);

/* Draws refused notes and lets a policy decide about each. */
void simulate(struct counter *counter, enum policy policy, bool genuine, double criterion, uint64_t notes,
              uint64_t seed, struct tally *tally);

/* What makes two policies equal in one respect. The most lenient criterion with which guidance takes no more notes that are
 * not genuine than the fixed order does with `criterion`, less the share `safety` of that; and the strictest one with which the fixed order
 * turns away no more genuine notes than guidance does with `criterion`. */
double criterion_for_taken(struct counter *counter, double criterion, double safety, uint64_t notes, uint64_t seed);
double criterion_for_turned_away(struct counter *counter, double criterion, uint64_t notes, uint64_t seed);

double tally_mean(const struct tally *tally);
double tally_error(const struct tally *tally); /* standard error of the mean number of checks */

#endif
