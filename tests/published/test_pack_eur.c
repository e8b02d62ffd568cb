/*
 * The euro pack against its sources, for what tests/unit/packs/test_builtin.c does not hold: days of issue, what ended,
 * light of lamps, figures of background.
 */
#include "pack_look.h"

static struct pack_set *set;
static const struct pack_currency *euro;

static int euro_open(void **state)
{
    (void)state;
    if (pack_set_create(&memory_heap, &set, NULL) != CFOIL_OK)
        return -1;
    euro = pack_currency_find(set, "EUR");
    return euro != NULL ? 0 : -1;
}

static int euro_end(void **state)
{
    (void)state;
    pack_set_release(set);
    return 0;
}

/* Deutsche Bundesbank, and press of each day. Of the first series no day is in the pack. */
static void days_of_issue_are_the_published_ones(void **state)
{
    (void)state;
    static const struct {
        int64_t value_minor;
        const char *issued;
    } rows[] = {{500, "2013-05-02"},  {1000, "2014-09-23"},  {2000, "2015-11-25"},
                {5000, "2017-04-04"}, {10000, "2019-05-28"}, {20000, "2019-05-28"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_string_equal(pack_note_find(euro, rows[i].value_minor, "ES2")->issued, rows[i].issued);
    assert_string_equal(pack_note_find(euro, 500, "ES1")->issued, "");
}

/* Both series are legal tender (two sources); the 500 is no longer issued (German encyclopaedia, state of 2024). */
static void every_euro_note_is_money(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < euro->note_count; i++) {
        assert_string_equal(euro->notes[i].tender_until, "");
        assert_string_equal(euro->notes[i].after_tender, "");
    }
    assert_non_null(strstr(pack_series_find(euro, "ES1")->status, "legal tender"));
    assert_non_null(strstr(pack_note_find(euro, 50000, "ES1")->status, "26 January 2019"));
    assert_non_null(strstr(pack_note_find(euro, 50000, "ES1")->status, "26 April 2019"));
}

/* Words such as COPY: Deutsche Bundesbank, 2021 and 2022; Bank of Lithuania. */
static void words_end_a_case_and_light_is_asked_for(void **state)
{
    (void)state;
    look_at_wording(euro);
    look_at_needs(euro);
}

/* Under a UV lamp: encyclopaedia text on the 5 (Europa); Banca d'Italia and Deutsche Bundesbank (first series). */
static void lamps_show_what_their_sources_say(void **state)
{
    (void)state;
    assert_non_null(strstr(look_check(euro, 500, "ES2", "uv-back")->genuine, "quarter circle"));
    assert_int_equal(look_check(euro, 500, "ES2", "uv-back")->confidence, CONFIDENCE_ONE);
    assert_non_null(strstr(look_check(euro, 500, "ES2", "uv-serial")->genuine, "red"));
    assert_non_null(strstr(look_check(euro, 5000, "ES1", "uv-fibres-es1")->genuine, "Red, blue and green"));
    assert_non_null(strstr(look_check(euro, 5000, "ES1", "uv-back-es1")->genuine, "yellow"));
    assert_int_equal(look_check(euro, 5000, "ES1", "uv-back-es1")->confidence, CONFIDENCE_SEVERAL);
}

/* What stands in the background only from memory stays marked so. */
static void background_keeps_its_marks(void **state)
{
    (void)state;
    uint32_t from_memory = 0;
    for (uint32_t i = 0; i < euro->background_count; i++) {
        const struct pack_rule *fact = &euro->background[i];
        assert_true(strlen(fact->source) > 5);
        if (strstr(fact->text, "mm²") != NULL && strstr(fact->text, "400 mm²") == NULL)
            assert_int_equal(fact->confidence, CONFIDENCE_MEMORY);
        from_memory += fact->confidence == CONFIDENCE_MEMORY;
    }
    assert_true(euro->background_count >= 40 && from_memory >= 9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(days_of_issue_are_the_published_ones),
        cmocka_unit_test(every_euro_note_is_money),
        cmocka_unit_test(words_end_a_case_and_light_is_asked_for),
        cmocka_unit_test(lamps_show_what_their_sources_say),
        cmocka_unit_test(background_keeps_its_marks),
    };
    return cmocka_run_group_tests(tests, euro_open, euro_end);
}
