/*
 * The words of the cashier's session: messages of the library's catalogue in the session's language.
 */
#ifndef TOOL_PHRASES_H
#define TOOL_PHRASES_H

#include <counterfoil/counterfoil.h>
#include <stddef.h>
#include <stdio.h>

#define PHRASE_MAX 1024

struct phrases {
    cfoil_context *context;
    const char *language; /* NULL = English */
};

/* The message, or its key when there is none. Lives as long as `text`. */
const char *phrase_make(const struct phrases *phrases, const char *key, const cfoil_argument *arguments, size_t count,
                        char text[PHRASE_MAX]);

/* The message as a line of its own. */
void phrase_print(FILE *out, const struct phrases *phrases, const char *key);

/* The same with one word in it. */
void phrase_print_with(FILE *out, const struct phrases *phrases, const char *key, const char *name, const char *word);

#endif
