/*
 * Cutting what a host's function reads into lines. See import_lines.h.
 */
#include "ledger/import_lines.h"

#include <string.h>

#define BUFFER_SIZE ((size_t)IMPORT_LINE_MAX + 65536)

bool import_lines_begin(struct import_lines *lines, const struct memory *memory, const cfoil_import_options *options)
{
    memset(lines, 0, sizeof *lines);
    lines->memory = memory;
    lines->options = options;
    lines->buffer = memory_allocate(memory, BUFFER_SIZE);
    return lines->buffer != NULL;
}

void import_lines_end(struct import_lines *lines)
{
    memory_release(lines->memory, lines->buffer);
    lines->buffer = NULL;
}

void import_lines_rewind(struct import_lines *lines)
{
    lines->offset = 0;
    lines->begin = lines->used = 0;
    lines->number = 0;
    lines->ended = false;
}

/* Makes room and reads more. */
static int32_t fill(struct import_lines *lines, struct import_fault *fault)
{
    size_t length = 0;
    if (lines->begin > 0) {
        lines->used -= lines->begin;
        memmove(lines->buffer, lines->buffer + lines->begin, lines->used);
        lines->begin = 0;
    }
    size_t room = BUFFER_SIZE - lines->used;
    int32_t answer = lines->options->read(lines->options->user, lines->offset, lines->buffer + lines->used, room,
                                          &length);
    if (answer != CFOIL_OK || length > room) {
        (void)import_bad(fault, CFOIL_E_STATE_STOPPED, "the function that reads it did not go on");
        return fault->result;
    }
    lines->used += length;
    lines->offset += length;
    lines->ended = length == 0;
    return CFOIL_OK;
}

int32_t import_lines_next(struct import_lines *lines, struct import_line *line, struct import_fault *fault)
{
    size_t looked = 0; /* bytes of this line without a line feed */
    line->text = NULL;
    for (;;) {
        const char *begin = lines->buffer + lines->begin;
        size_t there = lines->used - lines->begin;
        const char *end = there > looked ? memchr(begin + looked, '\n', there - looked) : NULL;
        size_t length = end != NULL ? (size_t)(end - begin) : there;
        line->number = lines->number + 1;
        if (length > IMPORT_LINE_MAX) {
            (void)import_bad(fault, CFOIL_E_DATA_SIZE, "the line is longer than 1 MiB");
            return fault->result;
        }
        if (end != NULL) {
            *line = (struct import_line){begin, length, ++lines->number};
            lines->begin += length + 1;
            return CFOIL_OK;
        }
        if (lines->ended && there > 0) {
            (void)import_bad(fault, CFOIL_E_DATA_SYNTAX, "the last line has no line end: it may have been cut off");
            return fault->result;
        }
        if (lines->ended)
            return CFOIL_OK;
        looked = there;
        int32_t result = fill(lines, fault);
        if (result != CFOIL_OK)
            return result;
    }
}
