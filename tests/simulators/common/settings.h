/* What is the device? A table of settings with one row a word: numbers, texts and choices at an offset of a struct. */
#ifndef SIMULATOR_SETTINGS_H
#define SIMULATOR_SETTINGS_H

#include "words.h"

enum setting_kind { SETTING_NUMBERS, SETTING_TEXT, SETTING_CHOICE };

/* Numbers and choices are of type long. */
struct setting {
    const char *word;
    enum setting_kind kind;
    size_t offset;
    long least, most;    /* SETTING_TEXT: most characters */
    int needed, allowed; /* how many numbers */
    const char *const *choices;
};

/* Reads what follows "device" on a line: the word of a row and its values. */
bool setting_read(struct words *words, void *settings, const struct setting *table, size_t count);
/* Letters, digits, blanks and dots only: safe to print in a log. */
bool text_plain(const char *text);

#endif
