/*
 * The words of a trace line, in one place for the writer and the reader.
 */
#ifndef TRANSPORT_TRACE_WORDS_H
#define TRANSPORT_TRACE_WORDS_H

#include <stdint.h>

struct trace_word {
    const char *text;
    int32_t code;
};

/* Each table ends with a NULL text. */
extern const struct trace_word trace_marks[];    /* enum trace_mark */
extern const struct trace_word trace_commands[]; /* CFOIL_COMMAND_* */
extern const struct trace_word trace_accepts[];  /* CFOIL_ACCEPT_* */
extern const struct trace_word trace_losses[];   /* CFOIL_E_PORT_* */
extern const struct trace_word trace_origins[];  /* 0 = synthetic, 1 = captured */

/* NULL when the table does not have it. */
const char *trace_word_of(const struct trace_word *table, int32_t code);
const struct trace_word *trace_word_find(const struct trace_word *table, const char *text);

#endif
