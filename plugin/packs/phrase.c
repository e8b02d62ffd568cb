/*
 * Messages put together. See phrase.h.
 */
#include "packs/phrase.h"

#include "packs/message_format.h"

#include <stdio.h>

void phrase_add(struct growing *growing, struct pack_phrase phrase, const cfoil_argument *arguments, size_t count)
{
    size_t length = message_format(phrase.language, phrase.pattern, arguments, count, NULL, 0);
    if (length == 0)
        return;
    if (growing->length > 0)
        growing_text_add(growing, " ");
    if (!growing_reserve(growing, length))
        return;
    (void)message_format(phrase.language, phrase.pattern, arguments, count, growing->text + growing->length,
                         length + 1);
    growing->length += length;
}

struct pack_phrase phrase_of_key(const struct pack_set *packs, const char *language, const char *key)
{
    struct pack_phrase phrase = pack_phrase_of_key(packs, language, key);
    return phrase.pattern != NULL ? phrase : (struct pack_phrase){"", "en"};
}

struct pack_phrase phrase_of_word(const struct pack_set *packs, const char *language, const char *group,
                                  const char *word)
{
    char key[64];
    (void)snprintf(key, sizeof key, "%s.%s", group, word);
    return phrase_of_key(packs, language, key);
}

void phrase_name_join(struct growing *names, const struct pack_set *packs, const char *language, const char *key,
                      const char *name)
{
    if (names->length == 0) {
        growing_text_add(names, name);
        return;
    }
    struct growing joined = {.memory = names->memory, .failed = names->failed};
    const cfoil_argument arguments[] = {{"first", growing_text(names), 0}, {"second", name, 0}};
    phrase_add(&joined, phrase_of_key(packs, language, key), arguments, 2);
    growing_release(names);
    *names = joined;
}
