/*
 * The lines of what is imported, from a host's function that gives bytes at any place.
 */
#ifndef LEDGER_IMPORT_LINES_H
#define LEDGER_IMPORT_LINES_H

#include "ledger/import.h"

struct import_lines {
    const struct memory *memory;
    const cfoil_import_options *options;
    uint64_t offset; /* of the byte behind what is in the buffer */
    size_t begin;    /* of the line that comes next, in the buffer */
    size_t used;
    bool ended;     /* the host has no more bytes */
    int64_t number; /* of the line given last */
    char *buffer;
};

/* False = no memory. */
bool import_lines_begin(struct import_lines *lines, const struct memory *memory, const cfoil_import_options *options);
void import_lines_end(struct import_lines *lines);

/* Back to the first line. */
void import_lines_rewind(struct import_lines *lines);

/* The next line, without its end; borrowed until the next call. CFOIL_OK with line->text NULL at the end. */
int32_t import_lines_next(struct import_lines *lines, struct import_line *line, struct import_fault *fault);

#endif
