/*
 * What evidence is weighed with: one pack, "counterfoil.evidence/1", that a shop can replace by its own.
 */
#ifndef PACKS_PACK_EVIDENCE_H
#define PACKS_PACK_EVIDENCE_H

#include "packs/pack.h"

/* One way of looking at a note, and how often people were right in it. Either d_prime is greater than 0 (equal spread, no
 * leaning), or hit is; false_alarm 0 = not known. The ranges are of the likelihood ratio, to be carried along. */
struct pack_look {
    const char *id;
    const char *title;
    double d_prime;
    double hit;
    double false_alarm;
    double differs_low, differs_high; /* when the answer is 'not as it should be' */
    double passes_low, passes_high;   /* when it is 'as it should be' */
    const char *source;
    enum confidence confidence;
};

/* What one sense is weighed with. */
struct pack_sense {
    const struct pack_look *look; /* NULL = no published figure: it counts for the rules and the order only */
    bool at_least;                /* known to be better than that look: the figure is a lower bound */
};

/* How well people do with one kind of feature, against the others. Ranks only: no figure was published. */
enum feature_rank { FEATURE_RANK_NONE = 0, FEATURE_RANK_BEST = 1, FEATURE_RANK_MIDDLE = 2, FEATURE_RANK_LAST = 3 };

struct pack_rank {
    enum feature_rank rank;
    const cJSON *features; /* general names, as in pack_check.feature */
    const char *source;
    enum confidence confidence;
};

/* From the yearly rate to the chance that the next note is not genuine: factors. */
struct pack_prior {
    double low, centre, high;
    const char *source;
    enum confidence confidence;
};

/* How many genuine notes a machine refuses, until its own record says it. */
struct pack_rejects {
    double low, high;
    uint32_t worth;  /* notes that the default counts as, once there is a record */
    uint32_t needed; /* presentations from which on the record is used */
    const char *source;
    enum confidence confidence;
};

struct pack_evidence {
    uint32_t look_count;
    struct pack_look *looks;
    struct pack_sense senses[CFOIL_SENSE_TOOL + 1];
    const struct pack_look *whole; /* one person's look at the whole note: no single person's checks weigh more */
    uint32_t rank_count;
    struct pack_rank *ranks;
    struct pack_prior prior;
    struct pack_rejects rejects;
};

/* The pack of a set; never NULL with the built-in packs. */
const struct pack_evidence *pack_evidence_find(const struct pack_set *set);
enum feature_rank pack_feature_rank(const struct pack_evidence *evidence, const char *feature);
const char *feature_rank_name(enum feature_rank rank); /* "best", "middle", "last", "none" */

/* Do a machine that names `channel` and this check measure the same? Then the two are closer to one test than to two: our
 * reading of what was published (docs/guidance.md). */
bool pack_check_same_physics(const struct pack_check *check, int32_t channel);

/* Which manual checks speak to what a machine may name, for each note (schema "counterfoil.matrix/1"). NULL = no memory. */
cJSON *pack_matrix(const struct pack_evidence *evidence, const struct pack_currency *currency);

#endif
