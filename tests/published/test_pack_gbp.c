/*
 * Does the built-in pound pack say what its sources say? The source stands beside each check; "BoE" is the Bank of
 * England. Also the rules for the United Kingdom.
 */
#include "pack_facts.h"

static struct pack_facts pounds;
static const char *const plastic[] = {"KING", "QUEEN"};
static const int64_t values[] = {5, 10, 20, 50};

static int pounds_open(void **state)
{
    (void)state;
    return facts_open(&pounds, "GBP");
}

static int pounds_end(void **state)
{
    (void)state;
    facts_end(&pounds);
    return 0;
}

static void sizes_and_issue_dates(void **state)
{
    (void)state;
    static const struct {
        int64_t value;
        uint32_t length_mm, height_mm;
        const char *issued; /* page of a retailers' body; BoE, 23 September 2022; page of a convenience stores' body */
        enum confidence size_confidence;
    } rows[] = {{5, 125, 65, "2016-09-13", CONFIDENCE_MEMORY},   /* a weak page, and from memory */
                {10, 132, 69, "2017-09-14", CONFIDENCE_ONE},     /* page of a UK retailers' body */
                {20, 139, 73, "2020-02-20", CONFIDENCE_MEMORY},  /* height: copy of the BoE page; length from memory */
                {50, 146, 77, "2021-06-23", CONFIDENCE_MEMORY}}; /* from memory */
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct pack_note *queen = facts_note(&pounds, rows[i].value, "QUEEN");
        const struct pack_note *king = facts_note(&pounds, rows[i].value, "KING");
        assert_int_equal(queen->length_mm, rows[i].length_mm);
        assert_int_equal(queen->height_mm, rows[i].height_mm);
        assert_string_equal(queen->issued, rows[i].issued);
        assert_int_equal(king->length_mm, rows[i].length_mm);
        assert_int_equal(king->height_mm, rows[i].height_mm);
        /* First King notes: BoE film text; news pages of February 2024. */
        assert_string_equal(king->issued, "2024-06-05");
        assert_int_equal(facts_feature(&pounds, rows[i].value, "KING", "size-ruler")->confidence,
                         rows[i].size_confidence);
        assert_ptr_equal(pack_note_find(pounds.currency, rows[i].value * 100, NULL), king);
    }
}

/* Queen notes stay money beside the King notes: BoE film text; news pages of February 2024. */
static void plastic_notes_have_no_last_day(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(values); i++) {
        for (size_t j = 0; j < COUNT_OF(plastic); j++)
            assert_string_equal(facts_note(&pounds, values[i], plastic[j])->tender_until, "");
    }
}

static void withdrawn_notes_have_their_last_day(void **state)
{
    (void)state;
    static const struct {
        int64_t value;
        const char *series, *until;
        enum confidence confidence;
    } rows[] = {
        /* BoE, 23 September 2022; local newspaper, 2023. */
        {5, "PAPER-5", "2017-05-05", CONFIDENCE_SEVERAL},
        {10, "PAPER-10", "2018-03-01", CONFIDENCE_SEVERAL},
        {20, "PAPER-20-50", "2022-09-30", CONFIDENCE_SEVERAL},
        {50, "PAPER-20-50", "2022-09-30", CONFIDENCE_SEVERAL},
        /* Encyclopaedia table. */
        {20, "OLD-PAPER-20", "2010-06-30", CONFIDENCE_ONE},
        {50, "OLD-PAPER-50", "2014-04-30", CONFIDENCE_ONE},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct pack_note *note = facts_note(&pounds, rows[i].value, rows[i].series);
        assert_string_equal(note->tender_until, rows[i].until);
        /* Face value for ever, at the Bank or a UK account; post offices up to 300 pounds: the same two sources. */
        assert_non_null(strstr(note->after_tender, "keeps its value for ever"));
        assert_non_null(strstr(note->after_tender, "Bank of England"));
        assert_non_null(strstr(note->after_tender, "£300"));
        assert_int_equal(pack_series_find(pounds.currency, rows[i].series)->confidence, rows[i].confidence);
        assert_int_equal(note->confidence, CONFIDENCE_MEMORY); /* sizes of the paper notes: from memory */
    }
}

/* Which value has what. BoE film text (changing word, window, crown, second window on 20 and 50); collector page (border
 * of the 5, quill and £ sign of the 10); page of a UK retailers' body (gold squares of the 50). */
static void features_are_on_their_values(void **state)
{
    (void)state;
    static const char *const on_all[] = {"hologram-word", "window-portrait", "window-edge", "window-picture",
                                         "crown-patch",   "back-patch",      "plastic",     "raised-print",
                                         "sharp-print",   "tiny-letters",    "uv-number",   "serial-match"};
    for (size_t i = 0; i < COUNT_OF(values); i++) {
        for (size_t j = 0; j < COUNT_OF(plastic); j++) {
            for (size_t k = 0; k < COUNT_OF(on_all); k++)
                assert_non_null(facts_feature(&pounds, values[i], plastic[j], on_all[k]));
            bool second = facts_feature(&pounds, values[i], plastic[j], "second-window") != NULL;
            assert_int_equal(second, values[i] >= 20);
            assert_int_equal(facts_feature(&pounds, values[i], plastic[j], "colour-border") != NULL, values[i] == 5);
            assert_int_equal(facts_feature(&pounds, values[i], plastic[j], "quill") != NULL, values[i] == 10);
            assert_int_equal(facts_feature(&pounds, values[i], plastic[j], "pound-sign") != NULL, values[i] == 10);
            assert_int_equal(facts_feature(&pounds, values[i], plastic[j], "gold-squares") != NULL, values[i] == 50);
        }
    }
}

static void what_differs_by_value(void **state)
{
    (void)state;
    static const struct {
        int64_t value;
        const char *feature, *words;
        enum confidence confidence;
    } rows[] = {
        /* Metal over the window: BoE film text and collector page. Its picture: trade news; radio news; BoE film text. */
        {5, "window-picture", "clock tower, gold in front and silver", CONFIDENCE_ONE},
        {10, "window-picture", "cathedral, gold in front and silver", CONFIDENCE_ONE},
        {20, "window-picture", "lighthouse and a gallery, gold and blue in front and silver", CONFIDENCE_SEVERAL},
        {50, "window-picture", "microchip, gold and green in front and silver", CONFIDENCE_SEVERAL},
        /* From memory; collector page; BoE film text and collector page; page of a UK retailers' body. */
        {5, "back-patch", "green foil with the word BLENHEIM", CONFIDENCE_MEMORY},
        {10, "back-patch", "copper foil shaped like a book, with the letters JA", CONFIDENCE_ONE},
        {20, "back-patch", "round, purple foil with the letter T", CONFIDENCE_SEVERAL},
        {50, "back-patch", "red foil with the letters AT", CONFIDENCE_ONE},
        /* Collector page. */
        {5, "colour-border", "purple and green", CONFIDENCE_ONE},
        {10, "quill", "purple and orange", CONFIDENCE_ONE},
        {10, "pound-sign", "silver in front and copper on the back", CONFIDENCE_ONE},
        /* Page of a UK retailers' body. */
        {50, "gold-squares", "50 and the £ sign", CONFIDENCE_ONE},
        /* 20 and 50: BoE pages; 5 and 10: from memory. */
        {5, "uv-number", "red and green", CONFIDENCE_MEMORY},
        {10, "uv-number", "red and green", CONFIDENCE_MEMORY},
        {20, "uv-number", "red and green", CONFIDENCE_SEVERAL},
        {50, "uv-number", "red and green", CONFIDENCE_SEVERAL},
        /* Both serial numbers equal: from memory. */
        {20, "serial-match", "the same", CONFIDENCE_MEMORY},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        for (size_t j = 0; j < COUNT_OF(plastic); j++)
            facts_say(&pounds, rows[i].value, plastic[j], rows[i].feature, rows[i].words, rows[i].confidence);
    }
}

/* First the changing word, then the windows: BoE guide, BoE film text, collector page. Feel, look and tilt soon: common
 * practice, no source. */
static void the_order_is_that_of_the_guide(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(values); i++) {
        const struct pack_note *note = facts_note(&pounds, values[i], "KING");
        assert_string_equal(note->checks[0].id, "hologram-word");
        assert_string_equal(note->checks[1].id, "window-portrait");
        assert_int_equal(note->checks[0].sense, CFOIL_SENSE_TILT);
        assert_int_equal(note->checks[1].sense, CFOIL_SENSE_LOOK);
        assert_int_equal(note->checks[2].sense, CFOIL_SENSE_FEEL);
    }
}

static void only_printed_words_end_a_case(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(values); i++) {
        facts_only_words_end(facts_note(&pounds, values[i], "KING"));
        facts_only_words_end(facts_note(&pounds, values[i], "QUEEN"));
    }
}

/* The rate is the count divided by the notes in circulation, in millions: BoE, 28 April 2008, and trade press (2007); a
 * newspaper and a web page (2012); BoE, 2013; BoE newsletter (2018, 2019); trade press quoting the BoE (2021). */
static void yearly_figures_are_the_published_ones(void **state)
{
    (void)state;
    static const struct {
        uint32_t year;
        uint32_t withdrawn;
        uint32_t circulation_millions;
    } rows[] = {{2021, 103000, 4700}, {2019, 427000, 3960}, {2018, 473000, 3800},
                {2013, 680000, 3000}, {2012, 719000, 2950}, {2007, 290000, 2200}};
    uint32_t count;
    const struct pack_rate *rates = pack_currency_rates(pounds.currency, &count);
    assert_int_equal(count, COUNT_OF(rows));
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        assert_int_equal(rates[i].year, rows[i].year);
        assert_int_equal(rates[i].withdrawn, rows[i].withdrawn);
        double rate = (double)rows[i].withdrawn / rows[i].circulation_millions;
        assert_true(rates[i].per_million > 0.95 * rate && rates[i].per_million < 1.05 * rate);
    }
    /* 2013 by value: trade press quoting the BoE: 5 000 of 5, 244 000 of 10, 416 000 of 20. */
    assert_int_equal(rates[3].share_count, 3);
    assert_int_equal(rates[3].shares[0].permille, (5000 * 1000 + 340000) / 680000);
    assert_int_equal(rates[3].shares[1].permille, (244000LL * 1000 + 340000) / 680000);
    assert_int_equal(rates[3].shares[2].permille, (416000LL * 1000 + 340000) / 680000);
}

/* Keep it if safe with a receipt, give it back at any risk: BoE, education site. Police 101 and 999: BoE, page on
 * checking notes; page of a retailers' body. */
static void the_kingdom_asks_to_keep_it_only_if_safe(void **state)
{
    (void)state;
    const struct pack_jurisdiction *kingdom = pack_jurisdiction_find(pounds.set, "UK");
    assert_non_null(kingdom);
    assert_int_equal(kingdom->first_disposition, CFOIL_DISPOSITION_SET_ASIDE);
    assert_int_equal(kingdom->set_aside.confidence, CONFIDENCE_ONE);
    assert_non_null(strstr(kingdom->set_aside.text, "Only if you feel safe"));
    assert_non_null(strstr(kingdom->set_aside.text, "receipt"));
    assert_non_null(strstr(kingdom->set_aside.text, "At any risk give the note back"));
    assert_non_null(strstr(kingdom->tell_whom.text, "101"));
    assert_non_null(strstr(kingdom->tell_whom.text, "999"));
    assert_true(kingdom->found_later.text[0] != '\0' && kingdom->deadline.text[0] != '\0');
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sizes_and_issue_dates),
        cmocka_unit_test(plastic_notes_have_no_last_day),
        cmocka_unit_test(withdrawn_notes_have_their_last_day),
        cmocka_unit_test(features_are_on_their_values),
        cmocka_unit_test(what_differs_by_value),
        cmocka_unit_test(the_order_is_that_of_the_guide),
        cmocka_unit_test(only_printed_words_end_a_case),
        cmocka_unit_test(yearly_figures_are_the_published_ones),
        cmocka_unit_test(the_kingdom_asks_to_keep_it_only_if_safe),
    };
    return cmocka_run_group_tests(tests, pounds_open, pounds_end);
}
