/*
 * The words of the cashier's session. See phrases.h.
 */
#include "phrases.h"

const char *phrase_make(const struct phrases *phrases, const char *key, const cfoil_argument *arguments, size_t count,
                        char text[PHRASE_MAX])
{
    int32_t result = cfoil_message(phrases->context, phrases->language, key, arguments, count, text, PHRASE_MAX, NULL);
    return result == CFOIL_OK ? text : key;
}

void phrase_print(FILE *out, const struct phrases *phrases, const char *key)
{
    char text[PHRASE_MAX];
    fprintf(out, "%s\n", phrase_make(phrases, key, NULL, 0, text));
}

void phrase_print_with(FILE *out, const struct phrases *phrases, const char *key, const char *name, const char *word)
{
    char text[PHRASE_MAX];
    const cfoil_argument argument = {name, word, 0};
    fprintf(out, "%s\n", phrase_make(phrases, key, &argument, 1, text));
}
