/*
 * The results: text for people, TAP version 14, JUnit XML.
 */
#ifndef CONFORMANCE_REPORT_H
#define CONFORMANCE_REPORT_H

#include "line.h"
#include "suite.h"

/* What the suite keeps of each trial. */
struct finished {
    const struct conformance_case *item;
    enum result result;
    uint64_t took_us;
    char *text; /* why it failed or was skipped, else figures; NULL without memory */
};

void report_begin(const struct options *options, unsigned count);
/* `line` may be NULL; its journal is the evidence of a failed wire case. */
void report_trial(const struct options *options, unsigned number, const struct trial *trial, const struct line *line);
void report_end(const struct options *options, const struct finished *finished, unsigned count);
/* False = the file cannot be written. */
bool report_junit(const struct options *options, const struct finished *finished, unsigned count);

void report_list(const struct conformance_case *const *cases, unsigned count);

#endif
