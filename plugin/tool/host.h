/*
 * The library as the tool uses it: one context with packs and perhaps a ledger, and failures in words.
 */
#ifndef TOOL_HOST_H
#define TOOL_HOST_H

#include "arguments.h"

#include <counterfoil/counterfoil.h>
#include <stddef.h>

struct host {
    cfoil_context *context;
    cfoil_ledger *ledger; /* NULL = none asked for */
};

/* What to do with the file of --ledger. */
enum ledger_use { LEDGER_READ, LEDGER_WRITE };

/* Opens a context, adds --packs, --description and --adapter-file, opens --ledger when given. On failure writes one line and returns
 * the exit code. */
int host_open(const struct arguments *arguments, enum ledger_use use, struct host *host);
void host_close(struct host *host);

/* Writes one line: what could not be done and why, as told by `handle` (may be NULL). Returns the exit code. */
int failure_report(const void *handle, int32_t result, const char *what);

/* The words of the last failure of `handle`, or those of the result alone. */
const char *failure_text(const void *handle, int32_t result, cfoil_error_info *info);

/* A call that fills a buffer. */
typedef int32_t (*text_source)(void *user, char *buffer, size_t capacity, size_t *needed);

/* The whole text of such a call, to be freed with free(); NULL with *result set on failure. */
char *text_fetch(text_source source, void *user, int32_t *result);

/* Prints such a text and what ends it, or complains that `failure` with the error of the handle. Answers the exit code. */
int text_print(text_source source, void *user, const char *end, const void *handle, const char *failure);

#endif
