/*
 * In which words: the texts of one language, found by key or by their English, with English as the last resort.
 */
#include "packs/pack_data.h"

#include <stdlib.h>
#include <string.h>

static char lower(char letter)
{
    return letter >= 'A' && letter <= 'Z' ? (char)(letter - 'A' + 'a') : letter;
}

/* Are the first `length` characters of `wanted` this language? Case does not matter (RFC 5646 section 2.1.1). */
static bool language_is(const char *language, const char *wanted, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        if (lower(language[i]) != lower(wanted[i]))
            return false;
    }
    return language[length] == '\0';
}

/* The length of the language before its last '-'; 0 = there is none. */
static size_t language_shorten(const char *language, size_t length)
{
    while (length > 0 && language[length - 1] != '-')
        length--;
    return length > 0 ? length - 1 : 0;
}

bool pack_language_serves(const char *language, const char *wanted)
{
    size_t length = strlen(wanted);
    while (length > 0 && !language_is(language, wanted, length))
        length = language_shorten(wanted, length);
    return length > 0;
}

static const char *message_in(const struct pack_messages *messages, const char *key)
{
    const cJSON *text = cJSON_GetObjectItemCaseSensitive(messages->messages, key);
    return text != NULL ? text->valuestring : NULL;
}

static int english_compare(const void *key, const void *element)
{
    const struct pack_translation *translation = element;
    return strcmp(key, translation->english);
}

static const char *translation_in(const struct pack_messages *messages, const char *english)
{
    const struct pack_translation *found = NULL;
    if (messages->translation_count > 0)
        found = bsearch(english, messages->translations, messages->translation_count, sizeof *found, english_compare);
    return found != NULL ? found->text : NULL;
}

typedef const char *(*finder)(const struct pack_messages *messages, const char *what);

/* In one language, named by its first `length` characters. */
static struct pack_phrase phrase_find(const struct pack_set *set, const char *language, size_t length, finder find,
                                      const char *what)
{
    for (uint32_t i = pack_set_count(set); i > 0; i--) {
        const struct pack *pack = pack_set_at(set, i - 1);
        if (pack->kind != PACK_MESSAGES || !language_is(pack->as.messages.language, language, length))
            continue;
        const char *pattern = find(&pack->as.messages, what);
        if (pattern != NULL)
            return (struct pack_phrase){pattern, pack->as.messages.language};
    }
    return (struct pack_phrase){NULL, "en"};
}

/* In the language and what stands before each '-'. */
static struct pack_phrase phrase_find_own(const struct pack_set *set, const char *language, finder find,
                                          const char *what)
{
    struct pack_phrase phrase = {NULL, "en"};
    size_t length = language != NULL ? strlen(language) : 0;
    for (; phrase.pattern == NULL && length > 0; length = language_shorten(language, length))
        phrase = phrase_find(set, language, length, find, what);
    return phrase;
}

static struct pack_phrase phrase_find_any(const struct pack_set *set, const char *language, finder find,
                                          const char *what)
{
    struct pack_phrase phrase = phrase_find_own(set, language, find, what);
    return phrase.pattern != NULL ? phrase : phrase_find(set, "en", 2, find, what);
}

struct pack_phrase pack_phrase_of_key(const struct pack_set *set, const char *language, const char *key)
{
    return phrase_find_any(set, language, message_in, key);
}

struct pack_phrase pack_phrase_of_text(const struct pack_set *set, const char *language, const char *english)
{
    struct pack_phrase phrase = phrase_find_any(set, language, translation_in, english);
    return phrase.pattern != NULL ? phrase : (struct pack_phrase){english, "en"};
}

struct pack_phrase pack_phrase_own_key(const struct pack_set *set, const char *language, const char *key)
{
    return phrase_find_own(set, language, message_in, key);
}

struct pack_phrase pack_phrase_own_text(const struct pack_set *set, const char *language, const char *english)
{
    return phrase_find_own(set, language, translation_in, english);
}

const char *pack_message(const struct pack_set *set, const char *language, const char *key)
{
    const char *pattern = pack_phrase_of_key(set, language, key).pattern;
    return pattern != NULL ? pattern : key;
}

const char *pack_text(const struct pack_set *set, const char *language, const char *english)
{
    return pack_phrase_of_text(set, language, english).pattern;
}

static const char *self(const struct pack_messages *messages, const char *what)
{
    (void)what;
    return messages->language;
}

bool pack_language_known(const struct pack_set *set, const char *language)
{
    return language == NULL || language[0] == '\0' || strcmp(language, "en") == 0 ||
           phrase_find_own(set, language, self, NULL).pattern != NULL;
}

const char *pack_language_review(const struct pack_set *set, const char *language)
{
    const char *found = language == NULL || language[0] == '\0' ? "en" : language;
    struct pack_phrase own = phrase_find_own(set, found, self, NULL);
    const char *review = NULL;
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        const struct pack *pack = pack_set_at(set, i);
        if (pack->kind != PACK_MESSAGES || !language_is(pack->as.messages.language, own.language, strlen(own.language)))
            continue;
        if (review == NULL || strcmp(pack->as.messages.native_review, review) < 0)
            review = pack->as.messages.native_review;
    }
    return review != NULL ? review : "";
}
