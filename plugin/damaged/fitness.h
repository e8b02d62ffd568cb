/*
 * Should this note go out again? Its faults against the limits that are known.
 */
#ifndef DAMAGED_FITNESS_H
#define DAMAGED_FITNESS_H

#include "damaged/request.h"

enum fitness {
    FITNESS_FIT = 1,
    FITNESS_UNFIT = 2,
    FITNESS_UNKNOWN = 3,   /* no limit is known */
    FITNESS_UNMEASURED = 4 /* there is a limit, and the number it asks for was not given */
};
const char *fitness_word(enum fitness fitness);

/* Does this limit speak of this fault on this note? */
bool fitness_applies(const struct damaged_request *request, const struct found_defect *found,
                     const struct pack_fitness *row);
enum fitness fitness_by_row(const struct found_defect *found, const struct pack_fitness *row);

/* By every limit that speaks of it: unfit by one is unfit; else fit by one is fit. */
enum fitness fitness_of_defect(const struct damaged_request *request, const struct found_defect *found);

/* Of the whole note: the worst of its faults; without faults it is fit. */
enum fitness fitness_of_note(const struct damaged_request *request);

#endif
