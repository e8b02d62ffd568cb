/*
 * What does a message say once its numbers and words are in it? A strict subset of the message patterns of ICU:
 *   {name}   {name, plural, =0 {..} one {..} other {..}}   {name, select, word {..} other {..}}
 * with # for the number inside a plural, and the apostrophe as ICU reads it: '{' quotes, '' is one apostrophe.
 */
#ifndef PACKS_MESSAGE_FORMAT_H
#define PACKS_MESSAGE_FORMAT_H

#include <counterfoil/counterfoil.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define MESSAGE_DEPTH_MAX 4  /* choices inside each other */
#define MESSAGE_WORD_MAX  24 /* bytes of a name or of a choice's word */
#define MESSAGE_NAMES_MAX 32 /* names that a pattern may be checked against */

/* A name that a pattern may use. */
struct message_name {
    const char *name;
    bool number; /* a plural needs one, a select needs a text */
};

struct message_fault {
    size_t offset; /* bytes from the beginning of the pattern */
    const char *what;
};

/* Is this a pattern of that language with none but these names? False fills *fault. *used (may be NULL) becomes a bit
 * mask of the names that stand in it. A language without plural rules here may use =N and other only. */
bool message_check(const char *language, const char *pattern, const struct message_name *names, size_t count,
                   uint32_t *used, struct message_fault *fault);

/* Writes the message as snprintf() would and returns the bytes of the whole one. Numbers are plain digits. An argument
 * that is not given stays as {name}; a pattern that is none ends at its fault. */
size_t message_format(const char *language, const char *pattern, const cfoil_argument *arguments, size_t count,
                      char *buffer, size_t capacity);

/* The plural form of Unicode CLDR for a whole number: "one", "many" or "other". */
const char *message_plural(const char *language, int64_t number);

#endif
