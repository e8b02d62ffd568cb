/*
 * The picture of a place: to scale, for every check of every note; what it says; what it never holds.
 */
#include "guidance/picture.h"

#include "packs/pack_data.h"
#include "unit/guidance/case.h"

#include <stdlib.h>
#include <string.h>

static const struct picture_words plain = {"Tilt the <stripe> & look", "Front",
                                           "Front side, at the left. Tilt the note."};

/* The number after `key="` in the nth place where that stands, in thousandths. */
static long number_after(const char *text, const char *key, int nth)
{
    for (const char *at = strstr(text, key); at != NULL; at = strstr(at + 1, key)) {
        if (nth-- == 0)
            return (long)(strtod(at + strlen(key), NULL) * 1000 + 0.5);
    }
    fail_msg("no %s", key);
    return 0;
}

static void check_draw(const struct pack_note *note, const struct pack_check *check)
{
    char picture[4096];
    size_t length = picture_write(note, check, &plain, picture, sizeof picture);
    assert_true(length < sizeof picture);
    assert_int_equal(length, strlen(picture));
    /* The outline is the note's own size in millimetres, and the place lies inside it. */
    assert_int_equal(number_after(picture, " width=\"", 1), 1000l * note->length_mm);
    assert_int_equal(number_after(picture, " height=\"", 1), 1000l * note->height_mm);
    if (check->box.known) {
        long left = number_after(picture, " x=\"", 1);
        long top = number_after(picture, " y=\"", 1);
        assert_in_range(left, 8000, 8000 + 1000l * note->length_mm);
        assert_in_range(top, 8000, 8000 + 1000l * note->height_mm);
        assert_true(left + number_after(picture, " width=\"", 2) <= 8000 + 1000l * note->length_mm);
        assert_true(top + number_after(picture, " height=\"", 2) <= 8000 + 1000l * note->height_mm);
    }
    /* What the words say is there for a screen reader, and marks of the language of XML are not taken for it. */
    assert_non_null(strstr(picture, "<title>Tilt the &lt;stripe&gt; &amp; look</title>"));
    assert_non_null(strstr(picture, "<desc>Front side, at the left. Tilt the note.</desc>"));
    /* No image can be embedded or fetched. */
    assert_null(strstr(picture, "<image"));
    assert_null(strstr(picture, "href"));
}

static void every_check_of_every_note_is_drawn_to_scale(void **state)
{
    (void)state;
    uint32_t drawn = 0;
    for (uint32_t p = 0; p < pack_set_count(case_packs); p++) {
        const struct pack *pack = pack_set_at(case_packs, p);
        if (pack->kind != PACK_CURRENCY)
            continue;
        for (uint32_t n = 0; n < pack->as.currency.note_count; n++) {
            const struct pack_note *note = &pack->as.currency.notes[n];
            for (uint32_t c = 0; c < note->check_count; c++, drawn++)
                check_draw(note, &note->checks[c]);
        }
    }
    assert_true(drawn > 500);
}

static struct pack_check made_check(int32_t sense, uint32_t tool, uint32_t needs)
{
    return (struct pack_check){.sense = sense, .tool = tool, .needs = needs, .side = 1};
}

static void every_way_of_checking_has_its_word_and_sign(void **state)
{
    (void)state;
    static const struct {
        int32_t sense;
        uint32_t tool;
        uint32_t needs;
        const char *how;
    } ways[] = {
        {CFOIL_SENSE_FEEL, 0, CFOIL_WITHOUT_BOTH_HANDS, "feel"},
        {CFOIL_SENSE_LOOK, 0, 0, "look"},
        {CFOIL_SENSE_LOOK, 0, CFOIL_WITHOUT_BACK_LIGHT, "light"},
        {CFOIL_SENSE_TILT, 0, 0, "tilt"},
        {CFOIL_SENSE_TOOL, CFOIL_TOOL_UV_A, 0, "ultraviolet"},
        {CFOIL_SENSE_TOOL, CFOIL_TOOL_MAGNIFIER, 0, "magnifier"},
        {CFOIL_SENSE_TOOL, CFOIL_TOOL_RULER, 0, "ruler"},
        {CFOIL_SENSE_TOOL, CFOIL_TOOL_KNOWN_NOTE, 0, "known_note"},
    };
    const struct pack_note note = {.length_mm = 120, .height_mm = 62};
    char all[8][4096];
    for (size_t i = 0; i < sizeof ways / sizeof ways[0]; i++) {
        struct pack_check check = made_check(ways[i].sense, ways[i].tool, ways[i].needs);
        struct picture_place place;
        picture_place_find(&check, &place);
        assert_string_equal(place.how, ways[i].how);
        assert_string_equal(place.across, "all");
        (void)picture_write(&note, &check, &plain, all[i], sizeof all[i]);
        assert_non_null(strstr(all[i], "<g transform=\"translate(118 86)\""));
        for (size_t j = 0; j < i; j++)
            assert_string_not_equal(all[i], all[j]);
    }
}

static void places_are_named_by_thirds(void **state)
{
    (void)state;
    static const struct {
        struct pack_box box;
        const char *across;
        const char *down;
    } boxes[] = {
        {{true, 0, 0, 200, 200, CONFIDENCE_ONE}, "left", "top"},
        {{true, 234, 234, 433, 433, CONFIDENCE_ONE}, "left", "top"},      /* middle 333 */
        {{true, 234, 234, 434, 434, CONFIDENCE_ONE}, "middle", "middle"}, /* middle 334 */
        {{true, 566, 566, 766, 766, CONFIDENCE_ONE}, "middle", "middle"}, /* middle 666 */
        {{true, 567, 567, 767, 767, CONFIDENCE_ONE}, "right", "bottom"},  /* middle 667 */
        {{true, 0, 0, 666, 667, CONFIDENCE_ONE}, "left", "top"},          /* two thirds: its middle counts */
        {{true, 0, 0, 668, 668, CONFIDENCE_ONE}, "all", "all"},
    };
    for (size_t i = 0; i < sizeof boxes / sizeof boxes[0]; i++) {
        struct pack_check check = made_check(CFOIL_SENSE_LOOK, 0, 0);
        check.box = boxes[i].box;
        struct picture_place place;
        picture_place_find(&check, &place);
        assert_string_equal(place.across, boxes[i].across);
        assert_string_equal(place.down, boxes[i].down);
    }
}

static void a_small_buffer_is_counted_and_never_overrun(void **state)
{
    (void)state;
    const struct pack_note note = {.length_mm = 120, .height_mm = 62};
    struct pack_check check = made_check(CFOIL_SENSE_TILT, 0, 0);
    char whole[4096];
    char small[4096];
    size_t length = picture_write(&note, &check, &plain, whole, sizeof whole);
    assert_int_equal(picture_write(&note, &check, &plain, NULL, 0), length);
    for (size_t capacity = 1; capacity <= length + 1; capacity += 7) {
        memset(small, 'x', sizeof small);
        assert_int_equal(picture_write(&note, &check, &plain, small, capacity), length);
        assert_memory_equal(small, whole, strlen(small));
        assert_true(strlen(small) < capacity);
        assert_int_equal(small[capacity], 'x');
    }
}

static void a_case_shows_its_open_check_and_nothing_after(void **state)
{
    (void)state;
    cfoil_case_options options = case_options(5000);
    struct guidance *guidance;
    assert_int_equal(guidance_open(&memory_heap, case_packs, &options, CASE_ID, &guidance, &case_error), CFOIL_OK);
    cfoil_step step = CFOIL_STEP_INIT;
    assert_int_equal(guidance_step(guidance, &step, &case_error), CFOIL_OK);
    assert_string_not_equal(step.where, "");
    char picture[4096];
    size_t needed = 0;
    assert_int_equal(guidance_picture(guidance, picture, 10, &needed, &case_error), CFOIL_E_ARGUMENT_BUFFER);
    assert_int_equal(guidance_picture(guidance, picture, sizeof picture, NULL, &case_error), CFOIL_OK);
    assert_int_equal(needed, strlen(picture) + 1);
    assert_non_null(strstr(picture, step.where));
    /* Answered to the end, there is nothing to look at. */
    while (step.kind == CFOIL_STEP_CHECK) {
        assert_int_equal(guidance_answer(guidance, step.check, BAD, &case_error), CFOIL_OK);
        assert_int_equal(guidance_step(guidance, &step, &case_error), CFOIL_OK);
    }
    assert_string_equal(step.where, "");
    assert_int_equal(guidance_picture(guidance, picture, sizeof picture, &needed, &case_error), CFOIL_E_STATE_NO_CHECK);
    guidance_close(guidance);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_check_of_every_note_is_drawn_to_scale),
        cmocka_unit_test(every_way_of_checking_has_its_word_and_sign),
        cmocka_unit_test(places_are_named_by_thirds),
        cmocka_unit_test(a_small_buffer_is_counted_and_never_overrun),
        cmocka_unit_test(a_case_shows_its_open_check_and_nothing_after),
    };
    return cmocka_run_group_tests(tests, case_packs_load, case_packs_release);
}
