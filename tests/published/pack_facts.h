/*
 * What a built-in currency pack says, for checks that hold it against what its sources say.
 */
#ifndef PACK_FACTS_H
#define PACK_FACTS_H

#include "packs/pack.h"

#include "test.h"

#define COUNT_OF(rows) (sizeof(rows) / sizeof((rows)[0]))

struct pack_facts {
    struct pack_set *set;
    const struct pack_currency *currency;
};

static inline int facts_open(struct pack_facts *facts, const char *code)
{
    if (pack_set_create(&memory_heap, &facts->set, NULL) != CFOIL_OK)
        return -1;
    facts->currency = pack_currency_find(facts->set, code);
    return facts->currency != NULL ? 0 : -1;
}

static inline void facts_end(struct pack_facts *facts)
{
    pack_set_release(facts->set);
    *facts = (struct pack_facts){0};
}

/* A note that must be there. */
static inline const struct pack_note *facts_note(const struct pack_facts *facts, int64_t value, const char *series)
{
    const struct pack_note *note = pack_note_find(facts->currency, value * 100, series);
    if (note == NULL)
        fail_msg("there is no %d of series %s", (int)value, series);
    return note;
}

/* The check of a note, or NULL: the note has no such feature. */
static inline const struct pack_check *facts_feature(const struct pack_facts *facts, int64_t value, const char *series,
                                                     const char *id)
{
    const struct pack_note *note = facts_note(facts, value, series);
    uint32_t i = 0;
    while (i < note->check_count && strcmp(note->checks[i].id, id) != 0)
        i++;
    return i < note->check_count ? &note->checks[i] : NULL;
}

/* Of the checks of a note only that of printed words such as specimen ends a case, and it needs no tool: common practice,
 * no source. */
static inline void facts_only_words_end(const struct pack_note *note)
{
    bool words = false;
    for (uint32_t i = 0; i < note->check_count; i++) {
        bool wording = strcmp(note->checks[i].id, "wording") == 0;
        assert_int_equal(note->checks[i].ends, wording);
        words = words || (wording && note->checks[i].tool == 0);
    }
    assert_true(words);
}

/* A feature of a note, and what the sources say of it. */
struct pack_fact {
    int64_t value;
    const char *series;
    const char *words;
    enum confidence confidence;
};

/* The check is there, says this, and is trusted so far. */
static inline void facts_say(const struct pack_facts *facts, int64_t value, const char *series, const char *id,
                             const char *words, enum confidence confidence)
{
    const struct pack_check *check = facts_feature(facts, value, series, id);
    if (check == NULL || strstr(check->genuine, words) == NULL || check->confidence != confidence)
        fail_msg("%d of %s: %s does not say '%s' as sure as it should", (int)value, series, id, words);
}

static inline cfoil_serial facts_serial(const struct pack_facts *facts, const char *serial)
{
    cfoil_serial result = CFOIL_SERIAL_INIT;
    serial_check(facts->currency, serial, &result);
    return result;
}

#endif
