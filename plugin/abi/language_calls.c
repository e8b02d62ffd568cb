/*
 * The exported functions about languages: one message, and what a language lacks.
 */
#include "abi/context.h"
#include "model/error.h"
#include "model/text.h"
#include "packs/message_format.h"
#include "packs/pack.h"

#include <string.h>

#define LANGUAGE_SIZE_MAX  16
#define ARGUMENTS_MAX      16
#define ARGUMENT_BYTES_MAX 4096

static int32_t arguments_check(const cfoil_argument *arguments, size_t count)
{
    if (count > ARGUMENTS_MAX)
        return CFOIL_E_ARGUMENT_RANGE;
    if (count > 0 && arguments == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    for (size_t i = 0; i < count; i++) {
        const char *text = arguments[i].text;
        if (arguments[i].name == NULL)
            return CFOIL_E_ARGUMENT_NULL;
        if (text != NULL && (strlen(text) > ARGUMENT_BYTES_MAX || !text_utf8_valid(text, strlen(text))))
            return CFOIL_E_ARGUMENT_TEXT;
    }
    return CFOIL_OK;
}

static int32_t language_check(const struct pack_set *packs, const char *language, cfoil_error_info *error)
{
    if (language != NULL && !text_acceptable(language, 0, LANGUAGE_SIZE_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, "packs", "Give a language of at most 16 bytes, or NULL.");
    if (!pack_language_known(packs, language))
        return error_set(error, CFOIL_E_MISSING_LANGUAGE, 0, "packs",
                         "There are no texts in the language %s: load a pack, or give NULL for English.", language);
    return CFOIL_OK;
}

/* "jurisdiction.DE.found_later": a text of the rules of a place, not of the catalogue. */
struct place_key {
    char id[LANGUAGE_SIZE_MAX + 1]; /* "" = a key of the catalogue */
    const char *name;
};

static struct place_key place_key_of(const char *key)
{
    static const char beginning[] = "jurisdiction.";
    struct place_key place = {"", key};
    if (strncmp(key, beginning, sizeof beginning - 1) != 0)
        return place;
    const char *id = key + sizeof beginning - 1;
    size_t length = strcspn(id, ".");
    if (length == 0 || length >= sizeof place.id || id[length] == '\0')
        return place;
    memcpy(place.id, id, length);
    place.name = id + length + 1;
    return place;
}

/* On failure *packs may be there all the same. */
static int32_t language_provide(cfoil_context *context, const char *language, const char *place,
                                struct pack_set **packs, cfoil_error_info *error)
{
    struct pack_wanted wanted = {
        .language = language != NULL ? language : "",
        .jurisdiction = place[0] != '\0' ? place : NULL,
    };
    int32_t result = context_packs_provide(context, &wanted, packs, error);
    return result == CFOIL_OK ? language_check(*packs, language, error) : result;
}

/* Writes what snprintf() would, by the rule of text_export(). */
static int32_t message_export(struct pack_phrase phrase, const cfoil_argument *arguments, size_t count, char *buffer,
                              size_t capacity, size_t *needed)
{
    if (buffer == NULL && capacity > 0)
        return CFOIL_E_ARGUMENT_NULL;
    size_t length = message_format(phrase.language, phrase.pattern, arguments, count, buffer, capacity);
    if (needed != NULL)
        *needed = length + 1;
    if (length < capacity)
        return CFOIL_OK;
    if (capacity > 0)
        buffer[0] = '\0'; /* not half a message, and no half character */
    return CFOIL_E_ARGUMENT_BUFFER;
}

static struct pack_phrase phrase_find(const struct pack_set *packs, const char *language, const char *key,
                                      const struct place_key *place)
{
    if (place->id[0] == '\0')
        return pack_phrase_of_key(packs, language, key);
    const struct pack_jurisdiction *jurisdiction = pack_jurisdiction_find(packs, place->id);
    if (jurisdiction == NULL)
        return (struct pack_phrase){NULL, "en"};
    return pack_phrase_of_jurisdiction(packs, language, jurisdiction, place->name);
}

/* The arguments of the caller, and the one that the library knows. */
static size_t arguments_join(const struct pack_set *packs, const char *language, const cfoil_argument *given,
                             size_t count, cfoil_argument arguments[ARGUMENTS_MAX + 1])
{
    const char *review = pack_language_review(packs, language);
    for (size_t i = 0; i < count; i++)
        arguments[i] = given[i];
    arguments[count] = (cfoil_argument){"review", review[0] != '\0' ? review : "none", 0};
    return count + 1;
}

int32_t cfoil_message(cfoil_context *context, const char *language, const char *key, const cfoil_argument *arguments,
                      size_t argument_count, char *buffer, size_t capacity, size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    if (!text_acceptable(key, 1, 64))
        return handle_leave(entered, key == NULL ? CFOIL_E_ARGUMENT_NULL : CFOIL_E_ARGUMENT_TEXT, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct pack_set *packs = NULL;
    struct place_key place = place_key_of(key);
    result = arguments_check(arguments, argument_count);
    if (result == CFOIL_OK)
        result = language_provide(context, language, place.id, &packs, &error);
    if (result == CFOIL_OK) {
        cfoil_argument joined[ARGUMENTS_MAX + 1];
        size_t count = arguments_join(packs, language, arguments, argument_count, joined);
        struct pack_phrase phrase = phrase_find(packs, language, key, &place);
        if (phrase.pattern == NULL)
            result = error_set(&error, CFOIL_E_MISSING_MESSAGE, 0, "packs", "No message has the key %s.", key);
        else
            result = message_export(phrase, joined, count, buffer, capacity, needed);
    }
    pack_set_release(packs);
    return handle_leave(entered, result, &error);
}

int32_t cfoil_language_check(cfoil_context *context, const char *language, uint32_t *missing, char *buffer,
                             size_t capacity, size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    if (language == NULL || missing == NULL)
        return handle_leave(entered, CFOIL_E_ARGUMENT_NULL, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct pack_set *packs;
    char *lines = NULL;
    uint32_t count = 0;
    result = context_packs_provide(context, NULL, &packs, &error); /* every text is compared */
    if (result == CFOIL_OK)
        result = language_check(packs, language, &error);
    if (result == CFOIL_OK)
        result = pack_language_check(packs, &context->memory, language, &lines, &count);
    if (result == CFOIL_OK)
        result = text_export(lines, strlen(lines), buffer, capacity, needed);
    if (result == CFOIL_OK)
        *missing = count;
    memory_release(&context->memory, lines);
    pack_set_release(packs);
    return handle_leave(entered, result, &error);
}
