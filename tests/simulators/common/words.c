/* Which words stand on this line of a script? Splitting, strict numbers, choices, and errors that name the line. */
#include "words.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool words_fail(const struct words *words, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    fprintf(stderr, "%s:%d: ", words->file, words->line);
    vfprintf(stderr, format, arguments);
    fputc('\n', stderr);
    va_end(arguments);
    return false;
}

static bool blank(char character)
{
    return character == ' ' || character == '\t' || character == '\r' || character == '\n';
}

static bool ends_word(char character)
{
    return character == '\0' || character == '#' || blank(character);
}

/* Finds the end of the word that begins at *start; a quoted word loses its quotes. NULL: the quote is never closed. */
static char *word_end(char **start)
{
    if (**start == '"') {
        (*start)++;
        return strchr(*start, '"');
    }
    char *end = *start;
    while (!ends_word(*end))
        end++;
    return end;
}

bool words_split(struct words *words)
{
    words->count = 0;
    words->next = 0;
    char *at = words->text;
    for (;;) {
        while (blank(*at))
            at++;
        if (*at == '\0' || *at == '#')
            return true;
        if (words->count == LINE_WORDS)
            return words_fail(words, "more than %d words on one line", LINE_WORDS);
        char *end = word_end(&at);
        if (end == NULL)
            return words_fail(words, "the quotation mark is not closed");
        bool quoted = *end == '"';
        if (quoted && !ends_word(end[1]))
            return words_fail(words, "put a blank after the closing quotation mark");
        words->word[words->count++] = at;
        bool last = *end == '\0' || *end == '#';
        *end = '\0';
        if (last)
            return true;
        at = end + 1;
    }
}

bool words_at_end(const struct words *words)
{
    return words->next == words->count;
}

const char *words_peek(const struct words *words)
{
    return words_at_end(words) ? "(nothing)" : words->word[words->next];
}

bool words_digit_next(const struct words *words)
{
    char first = words_peek(words)[0];
    return first >= '0' && first <= '9';
}

bool words_skip(struct words *words, const char *expected)
{
    if (words_at_end(words) || strcmp(words->word[words->next], expected) != 0)
        return false;
    words->next++;
    return true;
}

bool words_number(struct words *words, const char *what, long least, long most, long *value)
{
    if (words_at_end(words))
        return words_fail(words, "%s is missing (a number from %ld to %ld)", what, least, most);
    const char *word = words->word[words->next];
    char *end = NULL;
    errno = 0;
    *value = strtol(word, &end, 10);
    bool digits = word[0] >= '0' && word[0] <= '9' && *end == '\0';
    if (!digits || errno != 0 || *value < least || *value > most)
        return words_fail(words, "%s must be a number from %ld to %ld, not '%s'", what, least, most, word);
    words->next++;
    return true;
}

bool words_milliseconds(struct words *words, long *value)
{
    if (!words_number(words, "the time in ms", 0, MILLISECONDS_MOST, value))
        return false;
    words_skip(words, "ms");
    return true;
}

bool words_choice(struct words *words, const char *what, const char *const *choices, long *index)
{
    for (long i = 0; choices[i] != NULL; i++) {
        if (words_skip(words, choices[i])) {
            *index = i;
            return true;
        }
    }
    return words_fail(words, "%s cannot be '%s'; the README lists the words", what, words_peek(words));
}

bool words_text(struct words *words, const char *what, size_t most, char *text)
{
    if (words_at_end(words))
        return words_fail(words, "%s is missing (a text of at most %zu characters)", what, most);
    const char *word = words->word[words->next++];
    if (strlen(word) > most)
        return words_fail(words, "%s is longer than %zu characters", what, most);
    for (const char *at = word; *at != '\0'; at++) {
        if (*at < ' ' || *at > '~')
            return words_fail(words, "%s must be plain ASCII", what);
    }
    strcpy(text, word);
    return true;
}

bool words_finish(const struct words *words)
{
    return words_at_end(words) || words_fail(words, "'%s' is one word too many", words->word[words->next]);
}
