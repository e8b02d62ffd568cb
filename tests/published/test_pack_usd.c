/*
 * Does the built-in dollar pack say what its sources say? The source stands beside each check. "Program" is the US
 * Currency Education Program, "bureau" the Bureau of Engraving and Printing. Also the rules for the United States.
 */
#include "pack_facts.h"

static struct pack_facts dollars;

/* Every design of every value: Program and bureau, launch texts of each value. */
static const struct {
    int64_t value;
    const char *series;
} designs[] = {{100, "2013"}, {5, "2003"},  {10, "2003"},  {20, "2003"},  {50, "2003"},  {5, "1996"},
               {10, "1996"},  {20, "1996"}, {50, "1996"},  {100, "1996"}, {5, "1990"},   {10, "1990"},
               {20, "1990"},  {50, "1990"}, {100, "1990"}, {1, "1963"},   {2, "1963"},   {1, "OLDER"},
               {2, "OLDER"},  {5, "OLDER"}, {10, "OLDER"}, {20, "OLDER"}, {50, "OLDER"}, {100, "OLDER"}};

static int dollars_open(void **state)
{
    (void)state;
    return facts_open(&dollars, "USD");
}

static int dollars_end(void **state)
{
    (void)state;
    facts_end(&dollars);
    return 0;
}

/* 6.14 by 2.61 inches for every value since 1929: two web pages quoting the bureau. */
static void every_value_has_one_size(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(designs); i++) {
        const struct pack_note *note = facts_note(&dollars, designs[i].value, designs[i].series);
        assert_int_equal(note->length_mm, (int)(6.14 * 25.4 + 0.5));
        assert_int_equal(note->height_mm, (int)(2.61 * 25.4 + 0.5));
    }
}

/* No US note is ever recalled: embassy release of 14 September 2004; Treasury and bureau, launch texts. */
static void no_note_has_a_last_day(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(designs); i++) {
        assert_string_equal(facts_note(&dollars, designs[i].value, designs[i].series)->tender_until, "");
        assert_non_null(strstr(pack_series_find(dollars.currency, designs[i].series)->status, "legal tender"));
    }
}

static void issue_dates(void **state)
{
    (void)state;
    static const struct {
        int64_t value;
        const char *series, *issued;
    } rows[] = {
        {100, "2013", "2013-10-08"}, /* press of 2010 to 2013; bureau, leaflet on the 100 */
        {5, "2003", "2008-03-13"},   /* Federal Reserve, press text of that day; Program */
        {10, "2003", "2006-03-02"},  /* bureau, release of that day; trade press, 2006 */
        {20, "2003", "2003-10-09"},  /* Program; bureau, fact sheet of that day */
        {50, "2003", "2004-09-28"},  /* news page, 2004; encyclopaedia text on the 50 */
        {20, "1996", "1998-09-24"},  /* Program; bureau, fact sheet of 9 October 2003 */
        {100, "1996", "1996-03-25"}, /* press of 2010 to 2013; bureau, leaflet on the 100 */
        {5, "1996", ""},             /* 2000 or 2001: the sources differ */
        {10, "1990", ""},            /* the day is not in the sources seen */
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_string_equal(facts_note(&dollars, rows[i].value, rows[i].series)->issued, rows[i].issued);
    assert_string_equal(pack_note_find(dollars.currency, 10000, NULL)->series, "2013");
    assert_string_equal(pack_note_find(dollars.currency, 2000, NULL)->series, "2003");
    assert_string_equal(pack_note_find(dollars.currency, 100, NULL)->series, "1963");
}

static void strips_say_their_value_on_their_side(void **state)
{
    (void)state;
    static const struct pack_fact rows[] = {
        {5, "2003", "right of the portrait says USA {value}",
         CONFIDENCE_SEVERAL}, /* Federal Reserve, 13 March 2008; Program */
        {5, "1996", "left of the portrait, through the seal, says USA FIVE", CONFIDENCE_SEVERAL}, /* Program; bureau */
        {10, "2003", "right of the portrait says USA TEN",
         CONFIDENCE_SEVERAL},                                                  /* bureau, 2 March 2006; exchange page */
        {10, "1996", "right of the portrait says USA TEN", CONFIDENCE_MEMORY}, /* words from memory */
        {20, "2003", "left of the portrait says USA TWENTY", CONFIDENCE_SEVERAL},   /* Program; a write-up of 1998 */
        {20, "1996", "left of the portrait says USA TWENTY", CONFIDENCE_SEVERAL},   /* the same */
        {50, "2003", "right of the portrait says USA {value}", CONFIDENCE_SEVERAL}, /* news pages, 2004 */
        {50, "1996", "right of the portrait says USA {value}", CONFIDENCE_MEMORY},  /* from memory */
        {100, "2013", "left of the portrait says USA {value}", CONFIDENCE_SEVERAL}, /* press; local newspaper, 2013 */
        {100, "1996", "left of the portrait says USA {value}", CONFIDENCE_SEVERAL}, /* bureau, leaflet; web entry */
        /* Federal Reserve Bank of Dallas, notice 91-64; collectors' press. */
        {5, "1990", "left of the black seal", CONFIDENCE_SEVERAL},
        {100, "1990", "left of the black seal", CONFIDENCE_SEVERAL},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        facts_say(&dollars, rows[i].value, rows[i].series, "thread", rows[i].words, rows[i].confidence);
        const struct pack_box *box = &facts_feature(&dollars, rows[i].value, rows[i].series, "thread")->box;
        bool right = strncmp(rows[i].words, "right", 5) == 0;
        assert_true(!box->known || (box->left_permille > 500) == right);
        assert_int_equal(box->known, strcmp(rows[i].series, "1990") != 0);
    }
    /* 17 mm from the edge of the 20: a local police notice, 2012. */
    const struct pack_box *box = &facts_feature(&dollars, 20, "2003", "thread")->box;
    assert_int_equal((box->left_permille + box->right_permille) / 2, (int)(17.0 / 156.0 * 1000.0 + 1.5));
}

static void strips_shine_in_their_colour(void **state)
{
    (void)state;
    static const struct pack_fact rows[] = {
        {5, "2003", "blue", CONFIDENCE_SEVERAL},          /* Federal Reserve, 13 March 2008; Program */
        {5, "1996", "blue", CONFIDENCE_SEVERAL},          /* Program; bureau */
        {10, "2003", "orange", CONFIDENCE_SEVERAL},       /* bureau, 2 March 2006; exchange page */
        {10, "1996", "orange", CONFIDENCE_MEMORY},        /* from memory */
        {20, "2003", "green", CONFIDENCE_SEVERAL},        /* Program; a write-up of 1998 */
        {20, "1996", "green", CONFIDENCE_SEVERAL},        /* the same */
        {50, "2003", "yellow", CONFIDENCE_SEVERAL},       /* news pages, 2004 */
        {50, "1996", "yellow", CONFIDENCE_ONE},           /* a weak guide to the 50 */
        {100, "2013", "pink", CONFIDENCE_SEVERAL},        /* press; local newspaper, 2013 */
        {100, "1996", "red or pink", CONFIDENCE_SEVERAL}, /* bureau, leaflet says red; later texts say pink */
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        facts_say(&dollars, rows[i].value, rows[i].series, "uv-thread", rows[i].words, rows[i].confidence);
    /* The sources on 1990 contradict each other: not asked. */
    assert_null(facts_feature(&dollars, 100, "1990", "uv-thread"));
}

static void colours_of_the_number(void **state)
{
    (void)state;
    static const struct pack_fact rows[] = {
        {10, "2003", "copper to green", CONFIDENCE_SEVERAL},  /* bureau, 2 March 2006, and the other values' texts */
        {20, "2003", "copper to green", CONFIDENCE_SEVERAL},  /* Program */
        {50, "2003", "copper to green", CONFIDENCE_SEVERAL},  /* news page, 2004 */
        {100, "2013", "copper to green", CONFIDENCE_SEVERAL}, /* press, 2010 to 2013 */
        {100, "1996", "green to black", CONFIDENCE_SEVERAL},  /* bureau, leaflet; collectors' press, 1996 */
        {50, "1996", "green to black", CONFIDENCE_ONE},       /* news page on the 50 */
        {20, "1996", "green to black", CONFIDENCE_ONE},       /* a write-up of 1998 */
        {10, "1996", "green to black", CONFIDENCE_MEMORY},    /* from memory */
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        facts_say(&dollars, rows[i].value, rows[i].series, "colour-number", rows[i].words, rows[i].confidence);
}

/* Which design has what. Strip, watermark, colour: Program, quick reference guide and pages by value; watermark and colour
 * new with Series 1996: collectors' press, 1996; 1 and 2 have none: Program; ribbon and bell: press, 2010 to 2013. */
static void features_are_on_their_designs(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(designs); i++) {
        int64_t value = designs[i].value;
        const char *series = designs[i].series;
        bool newest = strcmp(series, "2013") == 0;
        bool since_1996 = newest || strcmp(series, "2003") == 0 || strcmp(series, "1996") == 0;
        bool strip = since_1996 || strcmp(series, "1990") == 0;
        assert_int_equal(facts_feature(&dollars, value, series, "thread") != NULL, strip);
        assert_int_equal(facts_feature(&dollars, value, series, "uv-thread") != NULL, since_1996);
        assert_int_equal(facts_feature(&dollars, value, series, "watermark") != NULL, since_1996);
        assert_int_equal(facts_feature(&dollars, value, series, "colour-number") != NULL, since_1996 && value > 5);
        assert_int_equal(facts_feature(&dollars, value, series, "ribbon") != NULL, newest);
        assert_int_equal(facts_feature(&dollars, value, series, "bell") != NULL, newest);
        assert_int_equal(facts_feature(&dollars, value, series, "serial-bank") != NULL, since_1996);
        assert_non_null(facts_feature(&dollars, value, series, "relief"));
        assert_non_null(facts_feature(&dollars, value, series, "fibres"));
        assert_non_null(facts_feature(&dollars, value, series, "sharp-print"));
    }
}

static void pictures_and_tiny_letters(void **state)
{
    (void)state;
    static const struct {
        int64_t value;
        const char *series, *feature, *words;
        enum confidence confidence;
    } rows[] = {
        /* Federal Reserve, 13 March 2008; Program. */
        {5, "2003", "watermark", "A large 5 appears there, and three small 5s left", CONFIDENCE_SEVERAL},
        {5, "1996", "watermark", "portrait", CONFIDENCE_SEVERAL},  /* Program; bureau */
        {20, "2003", "watermark", "portrait", CONFIDENCE_SEVERAL}, /* Program, and the other values' texts */
        /* Press, 2010 to 2013, two texts. */
        {100, "2013", "ribbon", "forward, they move sideways. Tilted sideways, they move up and down",
         CONFIDENCE_SEVERAL},
        {100, "2013", "ribbon-woven", "woven", CONFIDENCE_SEVERAL},
        {100, "2013", "bell", "copper to green", CONFIDENCE_SEVERAL},
        {5, "2003", "tiny-letters", "borders and on the shield", CONFIDENCE_ONE},       /* a collector's page */
        {5, "1996", "tiny-letters", "FIVE DOLLARS", CONFIDENCE_SEVERAL},                /* Program; bureau */
        {10, "2003", "tiny-letters", "TEN DOLLARS", CONFIDENCE_MEMORY},                 /* from memory */
        {20, "2003", "tiny-letters", "20 USA", CONFIDENCE_ONE},                         /* a police notice, 2012 */
        {20, "1996", "tiny-letters", "USA {value} stands inside", CONFIDENCE_SEVERAL},  /* a write-up; encyclopaedia */
        {50, "2003", "tiny-letters", "two blue stars", CONFIDENCE_SEVERAL},             /* two news pages */
        {100, "2013", "tiny-letters", "collar of the jacket", CONFIDENCE_SEVERAL},      /* trade press; web entry */
        {100, "1996", "tiny-letters", "USA {value} stands inside", CONFIDENCE_SEVERAL}, /* bureau; web entry */
        {50, "1990", "tiny-letters", "a line round the portrait", CONFIDENCE_SEVERAL}, /* notice 91-64; encyclopaedia */
        {10, "2003", "serial-bank", "second letter of the serial number", CONFIDENCE_ONE}, /* Program, identifiers */
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        facts_say(&dollars, rows[i].value, rows[i].series, rows[i].feature, rows[i].words, rows[i].confidence);
}

/* "Feel, tilt, check with light": Program, item on the 100, 2017. */
static void the_order_is_feel_tilt_light(void **state)
{
    (void)state;
    static const int64_t values[] = {10, 20, 50, 100};
    for (size_t i = 0; i < COUNT_OF(values); i++) {
        const struct pack_note *note = pack_note_find(dollars.currency, values[i] * 100, NULL);
        assert_int_equal(note->checks[0].sense, CFOIL_SENSE_FEEL);
        assert_int_equal(note->checks[1].sense, CFOIL_SENSE_TILT);
        assert_int_equal(note->checks[2].sense, CFOIL_SENSE_LOOK);
        assert_int_equal(note->checks[2].needs, CFOIL_WITHOUT_BACK_LIGHT);
    }
}

static void only_printed_words_end_a_case(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(designs); i++)
        facts_only_words_end(facts_note(&dollars, designs[i].value, designs[i].series));
}

/* Do not return it, initials and date in the white border, envelope, only to an identified officer; safety first: police
 * and bank pages that report the official advice alike. */
static void the_states_ask_to_keep_it_if_safe(void **state)
{
    (void)state;
    const struct pack_jurisdiction *states = pack_jurisdiction_find(dollars.set, "US");
    assert_non_null(states);
    assert_int_equal(states->first_disposition, CFOIL_DISPOSITION_SET_ASIDE);
    assert_non_null(strstr(states->set_aside.text, "Only if you are safe"));
    assert_non_null(strstr(states->set_aside.text, "initials and the date in its white border"));
    assert_non_null(strstr(states->set_aside.text, "envelope"));
    assert_non_null(strstr(states->tell_whom.text, "only to an officer or agent"));
    assert_non_null(strstr(states->never.text, "Never put yourself in danger"));
    assert_true(states->found_later.text[0] != '\0' && states->deadline.text[0] != '\0');
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_value_has_one_size),
        cmocka_unit_test(no_note_has_a_last_day),
        cmocka_unit_test(issue_dates),
        cmocka_unit_test(strips_say_their_value_on_their_side),
        cmocka_unit_test(strips_shine_in_their_colour),
        cmocka_unit_test(colours_of_the_number),
        cmocka_unit_test(features_are_on_their_designs),
        cmocka_unit_test(pictures_and_tiny_letters),
        cmocka_unit_test(the_order_is_feel_tilt_light),
        cmocka_unit_test(only_printed_words_end_a_case),
        cmocka_unit_test(the_states_ask_to_keep_it_if_safe),
    };
    return cmocka_run_group_tests(tests, dollars_open, dollars_end);
}
