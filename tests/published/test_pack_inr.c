/*
 * The rupee pack against what its sources say: sizes, areas, features by value, raised lines, the end of notes as money,
 * figures. Written down here a second time, with the source beside each.
 */
#include "pack_look.h"

#include <stdio.h>

static struct pack_set *set;
static const struct pack_currency *rupee;

static int rupee_open(void **state)
{
    (void)state;
    if (pack_set_create(&memory_heap, &set, NULL) != CFOIL_OK)
        return -1;
    rupee = pack_currency_find(set, "INR");
    return rupee != NULL ? 0 : -1;
}

static int rupee_end(void **state)
{
    (void)state;
    pack_set_release(set);
    return 0;
}

/* ---- Sizes ---- */

struct size_row {
    uint32_t rupees;
    const char *series;
    uint32_t length_mm, height_mm;
    uint32_t area_mm2; /* 0 = no area was published */
};

static const struct size_row sizes[] = {
    /* New series: press reports of each launch, 2016 to 2019; the 500 and the 2000: releases of the Reserve Bank of
     * India, November 2016 (news pages with 63 x 150 mm for the 500 are wrong). Areas: tables of the Note Refund Rules in
     * newspapers, 2018 to 2022. */
    {10, "N", 123, 63, 7749},
    {20, "N", 129, 63, 8127},
    {50, "N", 135, 66, 8910},
    {100, "N", 142, 66, 9372},
    {200, "N", 146, 66, 9636},
    {500, "N", 150, 66, 9900},
    {2000, "N", 166, 66, 10956},
    /* Earlier series: a currency-history page and an encyclopaedia page. Areas up to 20: the same tables. */
    {5, "M", 117, 63, 7371},
    {10, "M", 137, 63, 8631},
    {20, "M", 147, 63, 9261},
    {50, "M", 147, 73, 0},
    {100, "M", 157, 73, 0},
    {100, "M15", 157, 73, 0},
    {500, "M", 167, 73, 0},
    {1000, "M", 177, 73, 0},
    /* Worked out from the areas of the refund tables. */
    {1, "small", 97, 63, 6111},
    {2, "small", 107, 63, 6741},
};

static void sizes_and_areas_are_the_published_ones(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        const struct pack_note *note = pack_note_find(rupee, (int64_t)sizes[i].rupees * 100, sizes[i].series);
        assert_non_null(note);
        assert_int_equal(note->length_mm, sizes[i].length_mm);
        assert_int_equal(note->height_mm, sizes[i].height_mm);
        if (sizes[i].area_mm2 != 0)
            assert_int_equal(note->length_mm * note->height_mm, sizes[i].area_mm2);
    }
    assert_int_equal(pack_note_find(rupee, 100, NULL)->confidence, CONFIDENCE_DERIVED);
    assert_int_equal(pack_currency_decimals(rupee), 2); /* ISO 4217, from memory */
}

/* The notes before 2005 are those of the earlier series without what came in 2005 (worked out from its sources). */
static void notes_before_2005_have_the_same_sizes(void **state)
{
    (void)state;
    uint32_t rows = 0;
    for (uint32_t i = 0; i < rupee->note_count; i++) {
        const struct pack_note *note = &rupee->notes[i];
        if (strcmp(note->series, "P") != 0)
            continue;
        const struct pack_note *later = pack_note_find(rupee, note->value_minor, "M");
        assert_int_equal(note->length_mm, later->length_mm);
        assert_int_equal(note->height_mm, later->height_mm);
        assert_int_equal(note->confidence, CONFIDENCE_DERIVED);
        assert_null(look_check(rupee, note->value_minor, "P", "thread-left-colour"));
        rows++;
    }
    assert_int_equal(rows, 7);
}

/* ---- Colours and pictures (press reports of each launch; releases for the 500 and the 2000) ---- */

static void colours_and_pictures_are_the_published_ones(void **state)
{
    (void)state;
    static const struct {
        uint32_t rupees;
        const char *colour, *motif;
    } rows[] = {{10, "chocolate brown", "Sun Temple"},
                {20, "greenish yellow", "Ellora"},
                {50, "fluorescent blue", "Hampi"},
                {100, "lavender", "step-well"},
                {200, "bright yellow", "Sanchi Stupa"},
                {500, "stone grey", "Red Fort"},
                {2000, "magenta", "Mars"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct pack_note *note = pack_note_find(rupee, (int64_t)rows[i].rupees * 100, "N");
        assert_string_equal(note->colour, rows[i].colour);
        assert_non_null(strstr(note->style, rows[i].motif));
        assert_non_null(strstr(look_check(rupee, note->value_minor, "N", "back")->genuine, rows[i].motif));
    }
    /* Of the earlier series no colour is known here. */
    assert_string_equal(pack_note_find(rupee, 1000, "M")->colour, "");
}

/* ---- Features of the new series (the Reserve Bank's own lists for each value, reported by the press) ---- */

static void features_are_on_their_values_only(void **state)
{
    (void)state;
    static const int64_t values[] = {1000, 2000, 5000, 10000, 20000, 50000, 200000};
    static const char *const all[] = {"register",  "devanagari", "portrait", "microprint", "thread",
                                      "watermark", "numbers",    "words",    "back"};
    static const char *const from_100[] = {"latent",      "thread-colour", "portrait-raised",
                                           "mark-raised", "bleed-lines",   "emblem-raised"};
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        for (size_t j = 0; j < sizeof all / sizeof all[0]; j++)
            assert_non_null(look_check(rupee, values[i], "N", all[j]));
        for (size_t j = 0; j < sizeof from_100 / sizeof from_100[0]; j++)
            assert_int_equal(look_check(rupee, values[i], "N", from_100[j]) != NULL, values[i] >= 10000);
        assert_int_equal(look_check(rupee, values[i], "N", "colour-number") != NULL, values[i] >= 20000);
    }
    /* Earlier series: hidden number and tiny letters by value (consumers' guidelines of 2008, press of 2015). */
    assert_null(look_check(rupee, 1000, "M", "latent-band"));
    assert_non_null(look_check(rupee, 2000, "M", "latent-band"));
    assert_null(look_check(rupee, 500, "M", "microprint-band"));
    assert_non_null(look_check(rupee, 1000, "M", "microprint-band"));
    assert_null(look_check(rupee, 1000, "M", "mark-left"));
}

/* Raised lines and marks: lists for the new series; release of 2015 for the earlier 100; that they begin with the 100 is
 * confirmed by the text of a tender. */
static void raised_lines_and_marks_are_those_of_their_value(void **state)
{
    (void)state;
    static const struct {
        int64_t value_minor;
        const char *series, *lines, *mark_check, *mark;
    } rows[] = {{10000, "N", "Four raised lines", "mark-raised", "triangle"},
                {20000, "N", "Four raised lines at each edge, with two circles", "mark-raised", "letter H"},
                {50000, "N", "Five raised lines", "mark-raised", "circle"},
                {200000, "N", "Seven raised lines", "mark-raised", "rectangle"},
                {10000, "M15", "Four raised lines", "mark-left", "triangle"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const char *lines = look_check(rupee, rows[i].value_minor, rows[i].series, "bleed-lines")->genuine;
        const char *mark = look_check(rupee, rows[i].value_minor, rows[i].series, rows[i].mark_check)->genuine;
        assert_int_equal(strncmp(lines, rows[i].lines, strlen(rows[i].lines)), 0);
        assert_non_null(strstr(mark, rows[i].mark));
    }
    /* Marks of the earlier series (consumers' guidelines of 2008, press of 2015). */
    assert_non_null(strstr(look_check(rupee, 2000, "M", "mark-left")->genuine, "rectangle"));
    assert_non_null(strstr(look_check(rupee, 5000, "M", "mark-left")->genuine, "square"));
    assert_non_null(strstr(look_check(rupee, 10000, "M", "mark-left")->genuine, "triangle"));
}

/* No official list names a hologram or a window. */
static void nothing_is_asked_that_no_list_names(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < rupee->note_count; i++) {
        for (uint32_t j = 0; j < rupee->notes[i].check_count; j++) {
            const char *feature = rupee->notes[i].checks[j].feature;
            assert_string_not_equal(feature, "hologram");
            assert_string_not_equal(feature, "window");
        }
    }
    look_at_wording(rupee); /* common practice, no source */
    look_at_needs(rupee);
}

/* ---- What is money ---- */

static void the_end_of_notes_as_money_is_dated(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < rupee->note_count; i++) {
        const struct pack_note *note = &rupee->notes[i];
        /* 500 and 1000 of the earlier series: no legal tender since midnight of 8 November 2016 (summary of the Reserve
         * Bank's questions and answers; one source). */
        bool ended = strcmp(note->series, "N") != 0 && note->value_minor >= 50000;
        assert_string_equal(note->tender_until, ended ? "2016-11-08" : "");
        assert_int_equal(note->after_tender[0] != '\0', ended);
    }
    /* 2000: withdrawn from circulation, still legal tender (releases of the Reserve Bank, reported in 2026). */
    assert_int_equal(strncmp(pack_note_find(rupee, 200000, "N")->status, "legal tender, withdrawn", 23), 0);
    /* Before 2005: legal tender (circular of 31 December 2014). */
    assert_int_equal(strncmp(pack_series_find(rupee, "P")->status, "legal tender;", 13), 0);
}

/* ---- Figures (annual reports of the Reserve Bank, reported by the press; 2025-26: one page of 2026) ---- */

static void yearly_figures_are_the_reported_ones(void **state)
{
    (void)state;
    static const uint32_t totals[] = {229746, 217396, 222639, 225769, 230971, 208625, 296695};
    uint32_t count;
    const struct pack_rate *rates = pack_currency_rates(rupee, &count);
    assert_int_equal(count, sizeof totals / sizeof totals[0]);
    for (uint32_t i = 0; i < count; i++) {
        assert_int_equal(rates[i].year, 2026 - i);
        assert_int_equal(rates[i].withdrawn, totals[i]);
        assert_int_equal(rates[i].per_million, 0); /* about 1.5: none was published */
    }
    /* 117 722 of 217 396, and 141 907 of 229 746, were of 500. */
    assert_int_equal(rates[1].shares[2].value_minor, 50000);
    assert_int_equal(rates[1].shares[2].permille, 542);
    assert_int_equal(rates[0].shares[3].permille, 618);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sizes_and_areas_are_the_published_ones),
        cmocka_unit_test(notes_before_2005_have_the_same_sizes),
        cmocka_unit_test(colours_and_pictures_are_the_published_ones),
        cmocka_unit_test(features_are_on_their_values_only),
        cmocka_unit_test(raised_lines_and_marks_are_those_of_their_value),
        cmocka_unit_test(nothing_is_asked_that_no_list_names),
        cmocka_unit_test(the_end_of_notes_as_money_is_dated),
        cmocka_unit_test(yearly_figures_are_the_reported_ones),
    };
    return cmocka_run_group_tests(tests, rupee_open, rupee_end);
}
