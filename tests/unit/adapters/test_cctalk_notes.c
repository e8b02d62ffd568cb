/*
 * Do the device's note names become the right amount of the right currency, and nothing where that is not certain?
 */
#include "cctalk/notes.h"

#include "test.h"

static bool valid(const char *id)
{
    return cctalk_id_valid((const uint8_t *)id, (uint32_t)strlen(id));
}

/* Form of an id: ccTalk Generic Specification, header 157, FROM MEMORY: two country letters, four digits, issue letter. */
static void ids_of_the_form_are_valid(void **state)
{
    (void)state;
    static const char *const ids[] = {"GB0010A", "GB0005A", "EU0005A", "EU0500B", "JP0001A",
                                      "US0001Z", "ZZ9999Z", "AA1000A", "AA0001A", "TK0001A"};
    for (size_t i = 0; i < sizeof ids / sizeof ids[0]; i++)
        assert_true(valid(ids[i]));
}

/* The standard's filler for an empty position is not known here: everything else counts as empty. */
static void other_ids_are_empty_positions(void **state)
{
    (void)state;
    static const char *const ids[] = {
        ".......",  "       ", "0000000", "GB0000A", "GB00000", "gb0010A",    "GB0010a",
        "Gb0010A",  "GB001OA", "GB 010A", "G10010A", "1B0010A", "GB00.5A",    "GB0010",
        "GB0010AA", "",        "G",       "GB0010 ", "GB-010A", "@B0010A",    "[B0010A",
        "G@0010A",  "GB0010@", "GB0010[", "GB/010A", "GB:010A", "GB0010\x80", "\xC3\x84\x30\x30\x31\x30\x41",
    };
    for (size_t i = 0; i < sizeof ids / sizeof ids[0]; i++) {
        if (valid(ids[i]))
            fail_msg("taken for a note: '%s'", ids[i]);
    }
    assert_false(cctalk_id_valid((const uint8_t *)"\0\0\0\0\0\0\0", 7));
    assert_false(cctalk_id_valid((const uint8_t *)"\xFF\xFF\xFF\xFF\xFF\xFF\xFF", 7));
    assert_false(cctalk_id_valid((const uint8_t *)"GB0010A", 6));
    assert_false(cctalk_id_valid((const uint8_t *)"GB0010A", 8));
}

/* One wrong byte at any place, of any value, is one wrong byte too many. */
static void each_place_takes_its_own_bytes_only(void **state)
{
    (void)state;
    for (unsigned place = 0; place < 7; place++) {
        for (unsigned value = 0; value < 256; value++) {
            uint8_t id[] = "GB1010A";
            id[place] = (uint8_t)value;
            bool digit = value >= '0' && value <= '9';
            bool capital = value >= 'A' && value <= 'Z';
            assert_int_equal(cctalk_id_valid(id, 7), place >= 2 && place <= 5 ? digit : capital);
        }
    }
}

/* Source: country codes of ISO 3166-1 and currency codes of ISO 4217; from memory. EU for the euro: the ccTalk
 * specification, from memory. */
static void countries_with_one_currency_are_built_in(void **state)
{
    (void)state;
    static const char *const pairs[][2] = {
        {"AU", "AUD"}, {"BR", "BRL"}, {"CA", "CAD"}, {"CH", "CHF"}, {"CN", "CNY"}, {"CZ", "CZK"}, {"DK", "DKK"},
        {"EU", "EUR"}, {"GB", "GBP"}, {"HU", "HUF"}, {"IN", "INR"}, {"JP", "JPY"}, {"MX", "MXN"}, {"NO", "NOK"},
        {"NZ", "NZD"}, {"PL", "PLN"}, {"RO", "RON"}, {"SE", "SEK"}, {"TR", "TRY"}, {"US", "USD"}, {"ZA", "ZAR"},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++)
        assert_string_equal(cctalk_currency_find(NULL, 0, pairs[i][0]), pairs[i][1]);
}

/* Whatever is in the table is an ISO-like pair, and unknown letters have no currency. */
static void every_pair_of_letters_has_a_currency_or_none(void **state)
{
    (void)state;
    int known = 0;
    for (char first = 'A'; first <= 'Z'; first++) {
        for (char second = 'A'; second <= 'Z'; second++) {
            const char country[3] = {first, second, '\0'};
            const char *currency = cctalk_currency_find(NULL, 0, country);
            if (currency == NULL)
                continue;
            known++;
            assert_int_equal(strlen(currency), 3);
            assert_int_equal(strspn(currency, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"), 3);
            /* ISO 4217: the first two letters are those of the country (EUR of EU too). */
            assert_memory_equal(currency, country, 2);
        }
    }
    assert_int_equal(known, 21);
    assert_null(cctalk_currency_find(NULL, 0, "QQ"));
    assert_null(cctalk_currency_find(NULL, 0, "gb"));
    assert_null(cctalk_currency_find(NULL, 0, "\0\0"));
}

/* TK marks tokens on some devices (from memory, weak): never money by itself. */
static void tokens_are_no_currency(void **state)
{
    (void)state;
    const struct cctalk_currency settings[] = {{"GB", "GBP"}, {"XX", "EUR"}};
    assert_null(cctalk_currency_find(NULL, 0, "TK"));
    assert_null(cctalk_currency_find(settings, 2, "TK"));
}

static void settings_come_first(void **state)
{
    (void)state;
    const struct cctalk_currency settings[] = {{"GB", "GIP"}, {"DE", "EUR"}, {"GB", "SHP"}};
    assert_string_equal(cctalk_currency_find(settings, 3, "GB"), "GIP"); /* the first of two */
    assert_string_equal(cctalk_currency_find(settings, 3, "DE"), "EUR");
    assert_string_equal(cctalk_currency_find(settings, 3, "US"), "USD"); /* else the built-in one */
    assert_null(cctalk_currency_find(settings, 3, "FR"));
    assert_string_equal(cctalk_currency_find(settings, 0, "GB"), "GBP"); /* as many as said, no more */
    assert_null(cctalk_currency_find(settings, 1, "DE"));
}

static void assert_value(const char *id, uint16_t scale, uint8_t places, const char *currency, int64_t expected)
{
    int64_t value = -1;
    assert_true(cctalk_value_compute(id, scale, places, currency, &value));
    assert_true(value == expected);
}

static void assert_no_value(const char *id, uint16_t scale, uint8_t places, const char *currency)
{
    int64_t value = -1;
    assert_false(cctalk_value_compute(id, scale, places, currency, &value));
    assert_true(value == -1);
}

/* Amount = digits x scale / 10^places (from memory of the Generic Specification, header 156); computed. */
static void values_of_the_examples(void **state)
{
    (void)state;
    assert_value("GB0010A", 100, 2, "GBP", 1000); /* 10.00 */
    assert_value("EU0005A", 100, 2, "EUR", 500);  /* 5.00 */
    assert_value("JP0001A", 1000, 0, "JPY", 1000);
    assert_value("EU0500A", 100, 2, "EUR", 50000);
    assert_value("JP0010B", 1000, 0, "JPY", 10000); /* the issue letter does not matter */
    assert_value("US0001A", 100, 2, "USD", 100);
}

/* Minor units are those of ISO 4217 (from memory), whatever number of places the device counts in. */
static void other_decimal_places_are_converted(void **state)
{
    (void)state;
    assert_value("GB0010A", 1, 0, "GBP", 1000);     /* 10 */
    assert_value("GB0010A", 10, 1, "GBP", 1000);    /* 10.0 */
    assert_value("GB0010A", 1000, 3, "GBP", 1000);  /* 10.000 */
    assert_value("GB5000A", 10000, 6, "GBP", 5000); /* 50.000000 */
    assert_value("JP0010A", 100, 2, "JPY", 10);     /* yen have no minor unit */
    assert_value("JP0001A", 10000, 1, "JPY", 1000);
    assert_value("JP0100A", 1, 2, "JPY", 1);
}

static void what_has_no_exact_amount_is_refused(void **state)
{
    (void)state;
    assert_no_value("GB0001A", 1, 3, "GBP");   /* a tenth of a penny */
    assert_no_value("GB0015A", 1, 3, "GBP");   /* 1.5 pence */
    assert_no_value("JP0001A", 150, 2, "JPY"); /* 1.50 yen */
    assert_no_value("JP0001A", 10, 2, "JPY");
    assert_no_value("GB0001A", 1000, 6, "GBP"); /* exact after the first step only */
}

/* Header 156 answers 0, 0, 0 for a country that the device does not support (from memory). */
static void unsupported_scaling_is_refused(void **state)
{
    (void)state;
    assert_no_value("GB0010A", 0, 0, "GBP");
    assert_no_value("GB0010A", 0, 2, "GBP");
    assert_no_value("GB0010A", 100, 7, "GBP"); /* no currency counts in millionths */
    assert_no_value("GB0010A", 100, 255, "GBP");
    assert_no_value("GB0010A", 100, 7, "KWD");
    assert_no_value("GB0010A", 1, 6, "XTS"); /* ten millionths are no whole number of hundredths */
}

/* The minor unit is the currency's (ISO 4217), whatever places the device counts in. */
static void the_minor_unit_is_that_of_the_currency(void **state)
{
    (void)state;
    assert_value("KW0010A", 1000, 3, "KWD", 10000); /* 10.000 dinars */
    assert_value("DE0020A", 100, 2, "EUR", 2000);   /* a known currency of another country */
    assert_value("XK0020A", 1000, 3, "EUR", 2000);
    assert_value("KR1000A", 100, 2, "KRW", 1000); /* the won has no smaller unit */
    assert_value("IS0500A", 1, 0, "ISK", 500);
    assert_value("TN0005A", 100, 2, "TND", 5000); /* the dinar has a thousand */
}

static void the_largest_amount_does_not_overflow(void **state)
{
    (void)state;
    assert_value("GB9999Z", 65535, 0, "GBP", INT64_C(65528446500)); /* 9999 x 65535 x 100 */
    assert_value("GB9999Z", 65535, 2, "GBP", INT64_C(655284465));
    assert_value("JP9999Z", 65535, 0, "JPY", INT64_C(655284465));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ids_of_the_form_are_valid),
        cmocka_unit_test(other_ids_are_empty_positions),
        cmocka_unit_test(each_place_takes_its_own_bytes_only),
        cmocka_unit_test(countries_with_one_currency_are_built_in),
        cmocka_unit_test(every_pair_of_letters_has_a_currency_or_none),
        cmocka_unit_test(tokens_are_no_currency),
        cmocka_unit_test(settings_come_first),
        cmocka_unit_test(values_of_the_examples),
        cmocka_unit_test(other_decimal_places_are_converted),
        cmocka_unit_test(what_has_no_exact_amount_is_refused),
        cmocka_unit_test(unsupported_scaling_is_refused),
        cmocka_unit_test(the_minor_unit_is_that_of_the_currency),
        cmocka_unit_test(the_largest_amount_does_not_overflow),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
