/* Which words stand on this line of a script? A cursor over one line, and the one place that words an error. */
#ifndef SIMULATOR_WORDS_H
#define SIMULATOR_WORDS_H

#include <stdbool.h>
#include <stddef.h>

#ifdef __GNUC__
#define WORDS_FORMAT __attribute__((format(printf, 2, 3)))
#else
#define WORDS_FORMAT
#endif

enum { LINE_WORDS = 24, LINE_BYTES = 512, MILLISECONDS_MOST = 86400000 };

struct words {
    const char *file;
    int line;
    char text[LINE_BYTES];
    char *word[LINE_WORDS];
    int count, next;
};

/* Splits words->text in place; '#' begins a comment, "..." holds blanks together. */
bool words_split(struct words *words);
/* Prints "FILE:LINE: ..." on stderr; always returns false, so that callers can return it. */
bool words_fail(const struct words *words, const char *format, ...) WORDS_FORMAT;
bool words_at_end(const struct words *words);
/* The word that comes next, or "(nothing)". */
const char *words_peek(const struct words *words);
bool words_digit_next(const struct words *words);
/* True and one word further, if the next word is this one. */
bool words_skip(struct words *words, const char *expected);
bool words_number(struct words *words, const char *what, long least, long most, long *value);
bool words_milliseconds(struct words *words, long *value);
/* A choice from a NULL-terminated list; gives the index. */
bool words_choice(struct words *words, const char *what, const char *const *choices, long *index);
bool words_text(struct words *words, const char *what, size_t most, char *text);
bool words_finish(const struct words *words);

#endif
