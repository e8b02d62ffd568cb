/*
 * From measures as people type them (62cm2, 30x20mm, 300+40) to the request that the library reads.
 */
#ifndef TOOL_MEASURES_H
#define TOOL_MEASURES_H

#include "arguments.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define REQUEST_MAX 65536

/* JSON that grows; what does not fit sets `full`. */
struct request {
    char text[REQUEST_MAX];
    size_t length;
    bool full;
};

void request_add(struct request *request, const char *text);
void request_add_whole(struct request *request, int64_t number);
void request_add_text(struct request *request, const char *text); /* as a JSON string */

/* --area, --missing, --squares or --polygon with --bound, --side and --bar, as ,"pieces":[...]; nothing when none is given.
 * Writes one line and returns false when a value is not good. */
bool pieces_write(const struct arguments *arguments, struct request *request, int *count);

/* ,"conditions":[...]: words with commas between (NULL = none), '-' for '_', and one more (NULL = none). */
void conditions_write(struct request *request, const char *words, const char *more);

/* DEFECT[:HOW][:MEASURE...] as an object. */
bool defect_write(struct request *request, const char *text);

#endif
