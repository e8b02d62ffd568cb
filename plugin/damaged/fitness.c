/*
 * Faults against limits. See fitness.h.
 */
#include "damaged/fitness.h"

#include <string.h>

const char *fitness_word(enum fitness fitness)
{
    static const char *const words[] = {[FITNESS_FIT] = "fit",
                                        [FITNESS_UNFIT] = "unfit",
                                        [FITNESS_UNKNOWN] = "not_known",
                                        [FITNESS_UNMEASURED] = "not_measured"};
    return words[fitness];
}

bool fitness_applies(const struct damaged_request *request, const struct found_defect *found,
                     const struct pack_fitness *row)
{
    return row->defect == found->defect && (row->value_minor == 0 || row->value_minor == request->note->value_minor) &&
           (row->series[0] == '\0' || strcmp(row->series, request->note->series) == 0) &&
           (row->how[0] == '\0' || found->how[0] == '\0' || strcmp(row->how, found->how) == 0);
}

static enum fitness bounds_judge(const struct found_defect *found, const struct pack_fitness *row)
{
    bool missing = false;
    for (uint32_t i = 0; i < row->bound_count; i++) {
        const struct pack_bound *bound = &row->bounds[i];
        int64_t value = found->thousandths[bound->gauge];
        bool given = (found->gauges & 1u << bound->gauge) != 0;
        bool passed = value > bound->thousandths || (bound->inclusive && value == bound->thousandths);
        if (given && !passed)
            return FITNESS_FIT; /* unfit only when every bound is passed */
        missing = missing || !given;
    }
    return missing ? FITNESS_UNMEASURED : FITNESS_UNFIT;
}

enum fitness fitness_by_row(const struct found_defect *found, const struct pack_fitness *row)
{
    switch (row->kind) {
    case FITNESS_LIMITS:
        return bounds_judge(found, row);
    case FITNESS_SEEN:
        return FITNESS_UNFIT;
    case FITNESS_UNFOLD:
        return FITNESS_FIT;
    default:
        return FITNESS_UNKNOWN;
    }
}

/* Which of two limits says more about one fault. */
static enum fitness stronger(enum fitness a, enum fitness b)
{
    static const int weight[] = {
        [FITNESS_UNKNOWN] = 0, [FITNESS_UNMEASURED] = 1, [FITNESS_FIT] = 2, [FITNESS_UNFIT] = 3};
    return weight[a] >= weight[b] ? a : b;
}

enum fitness fitness_of_defect(const struct damaged_request *request, const struct found_defect *found)
{
    enum fitness fitness = FITNESS_UNKNOWN;
    for (uint32_t i = 0; i < request->exchange->fitness_count; i++) {
        const struct pack_fitness *row = &request->exchange->fitness[i];
        if (fitness_applies(request, found, row))
            fitness = stronger(fitness, fitness_by_row(found, row));
    }
    return fitness;
}

enum fitness fitness_of_note(const struct damaged_request *request)
{
    /* Of several faults the one that is not known keeps the note from being called fit. */
    static const int weight[] = {
        [FITNESS_FIT] = 0, [FITNESS_UNMEASURED] = 1, [FITNESS_UNKNOWN] = 2, [FITNESS_UNFIT] = 3};
    enum fitness worst = FITNESS_FIT;
    for (uint32_t i = 0; i < request->defect_count; i++) {
        enum fitness fitness = fitness_of_defect(request, &request->defects[i]);
        if (weight[fitness] > weight[worst])
            worst = fitness;
    }
    return worst;
}
