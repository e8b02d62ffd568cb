/*
 * Looking up rows of a built-in currency pack, for the tests that hold them against their sources.
 */
#ifndef PUBLISHED_PACK_LOOK_H
#define PUBLISHED_PACK_LOOK_H

#include "packs/pack_data.h"
#include "test.h"

/* The check of a note; NULL = the note has none of that id. */
static const struct pack_check *look_check(const struct pack_currency *currency, int64_t value_minor,
                                           const char *series, const char *id)
{
    const struct pack_note *note = pack_note_find(currency, value_minor, series);
    for (uint32_t i = 0; note != NULL && i < note->check_count; i++) {
        if (strcmp(note->checks[i].id, id) == 0)
            return &note->checks[i];
    }
    return NULL;
}

/* Words such as COPY end a case at once; the check needs no tool and stands among the first on every note. */
static inline void look_at_wording(const struct pack_currency *currency)
{
    for (uint32_t i = 0; i < currency->note_count; i++) {
        const struct pack_note *note = &currency->notes[i];
        const struct pack_check *wording = look_check(currency, note->value_minor, note->series, "wording");
        assert_non_null(wording);
        assert_int_equal(wording->ends, 1);
        assert_int_equal(wording->tool, 0);
        assert_true(wording - note->checks <= 5);
        for (uint32_t j = 0; j < note->check_count; j++)
            assert_int_equal(note->checks[j].ends, &note->checks[j] == wording);
    }
}

/* What needs light from behind, or eyes for colour, says so. */
static inline void look_at_needs(const struct pack_currency *currency)
{
    for (uint32_t i = 0; i < currency->note_count; i++) {
        for (uint32_t j = 0; j < currency->notes[i].check_count; j++) {
            const struct pack_check *check = &currency->notes[i].checks[j];
            bool light = strstr(check->instruction, "against light") != NULL;
            bool colour = strstr(check->genuine, "green") != NULL || strstr(check->genuine, "rainbow") != NULL;
            assert_int_equal((check->needs & CFOIL_WITHOUT_BACK_LIGHT) != 0, light);
            if (colour)
                assert_true((check->needs & CFOIL_WITHOUT_COLOUR_VISION) != 0);
        }
    }
}

#endif
