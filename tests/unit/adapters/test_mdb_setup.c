/*
 * Do SETUP answers become notes of the right value, and only when the value is beyond doubt?
 */
#include "mdb/setup.h"

#include "test.h"

static const uint8_t usd[27] = {0x01, 0x18, 0x40, 0x00, 0x64, 0x02, 0x01, 0x90, 0x00,
                                0x00, 0xFF, 0x01, 0x02, 0x05, 0x0A, 0x14, 0x32, 0x64};

static void values_are_computed(void **unused)
{
    (void)unused;
    struct mdb_setup setup;
    assert_true(mdb_setup_read(&setup, usd, 27, ""));
    static const int64_t minor[] = {100, 200, 500, 1000, 2000, 5000, 10000};
    for (uint32_t type = 0; type < MDB_TYPES; type++) {
        assert_int_equal(setup.notes[type].valued, type < 7);
        if (type < 7)
            assert_int_equal(setup.notes[type].value_minor, minor[type]);
    }
    assert_int_equal(setup.valued_count, 7);
    assert_string_equal(setup.currency, "USD");
    assert_int_equal(setup.source, MDB_CURRENCY_TOLD);
    assert_int_equal(setup.capacity, 400);
    assert_int_equal(setup.level, 1);
    assert_true(setup.escrow);
}

static void lengths_are_checked(void **unused)
{
    (void)unused;
    struct mdb_setup setup;
    uint8_t data[28];
    memcpy(data, usd, 27);
    assert_false(mdb_setup_read(&setup, data, 11, ""));
    assert_false(mdb_setup_read(&setup, data, 28, ""));
    for (uint32_t length = MDB_SETUP_MIN; length <= MDB_SETUP_MAX; length++) {
        assert_true(mdb_setup_read(&setup, data, length, ""));
        assert_int_equal(setup.valued_count, length - 11 < 7 ? length - 11 : 7);
    }
}

static void currencies_are_never_guessed(void **unused)
{
    (void)unused;
    struct mdb_setup setup;
    uint8_t data[27];
    static const uint8_t unknown[][2] = {
        {0x00, 0x01},               /* telephone code */
        {0x00, 0x49}, {0x19, 0x99}, /* no such currency */
        {0x18, 0x4A},               /* not decimal */
        {0x1F, 0x40}, {0x28, 0x40}, {0xFF, 0xFF},
    };
    for (uint32_t i = 0; i < sizeof unknown / sizeof unknown[0]; i++) {
        memcpy(data, usd, 27);
        memcpy(data + 1, unknown[i], 2);
        assert_true(mdb_setup_read(&setup, data, 27, ""));
        assert_int_equal(setup.source, MDB_CURRENCY_MISSING);
        assert_int_equal(setup.valued_count, 0);
        assert_string_equal(setup.currency, "");
        assert_true(mdb_setup_read(&setup, data, 27, "JPY"));
        assert_int_equal(setup.source, MDB_CURRENCY_SET);
        assert_string_equal(setup.currency, "JPY");
    }
    assert_true(mdb_setup_read(&setup, usd, 27, "USD"));
    assert_int_equal(setup.source, MDB_CURRENCY_TOLD);
    assert_int_equal(setup.valued_count, 7);
    assert_true(mdb_setup_read(&setup, usd, 27, "EUR"));
    assert_int_equal(setup.source, MDB_CURRENCY_DIFFERENT);
    assert_int_equal(setup.valued_count, 0);
}

/* ISO 4217 numbers in packed BCD after the digit 1; from memory. */
static void numbers_of_currencies(void **unused)
{
    (void)unused;
    static const struct {
        uint16_t country;
        const char *currency;
    } rows[] = {
        {0x1840, "USD"}, {0x1978, "EUR"}, {0x1826, "GBP"}, {0x1356, "INR"}, {0x1756, "CHF"}, {0x1392, "JPY"},
        {0x1124, "CAD"}, {0x1036, "AUD"}, {0x1752, "SEK"}, {0x1985, "PLN"}, {0x1008, "ALL"}, {0x1986, "BRL"},
    };
    for (uint32_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_string_equal(mdb_currency_find(rows[i].country), rows[i].currency);
    assert_null(mdb_currency_find(0x0840));
    assert_null(mdb_currency_find(0x1000));
}

static void tokens_and_nothing_are_no_money(void **unused)
{
    (void)unused;
    struct mdb_setup setup;
    uint8_t data[27];
    memcpy(data, usd, 27);
    data[11 + 3] = 0xFF;
    data[11 + 15] = 0xFF;
    assert_true(mdb_setup_read(&setup, data, 27, ""));
    assert_int_equal(setup.valued_count, 6);
    assert_true(setup.notes[3].token && !setup.notes[3].valued);
    assert_true(setup.notes[15].token && !setup.notes[15].valued);
    assert_false(setup.notes[7].token || setup.notes[7].valued);
    data[3] = 0; /* scaling factor 0 */
    data[4] = 0;
    data[10] = 0;
    assert_true(mdb_setup_read(&setup, data, 27, ""));
    assert_int_equal(setup.valued_count, 0);
    assert_false(setup.escrow);
}

static void amounts_are_exact_or_none(void **unused)
{
    (void)unused;
    int64_t minor = 0;
    assert_true(mdb_value_compute(0x02, 500, 2, "EUR", &minor)); /* 10.00 */
    assert_int_equal(minor, 1000);
    assert_true(mdb_value_compute(0x0A, 1000, 0, "JPY", &minor));
    assert_int_equal(minor, 10000);
    assert_true(mdb_value_compute(0x05, 100, 2, "JPY", &minor)); /* 5.00 of a currency without cents */
    assert_int_equal(minor, 5);
    assert_false(mdb_value_compute(0x05, 101, 2, "JPY", &minor));
    assert_true(mdb_value_compute(0x01, 1, 0, "KWD", &minor));
    assert_int_equal(minor, 1000);
    assert_true(mdb_value_compute(0x01, 5, 0, "XYZ", &minor)); /* not in the table: hundredths */
    assert_int_equal(minor, 500);
    assert_true(mdb_value_compute(0xFE, 0xFFFF, 0, "USD", &minor));
    assert_int_equal(minor, INT64_C(254) * 65535 * 100);
    assert_false(mdb_value_compute(0x01, 1, 7, "USD", &minor));
    assert_false(mdb_value_compute(0x00, 1, 2, "USD", &minor));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(values_are_computed),
        cmocka_unit_test(lengths_are_checked),
        cmocka_unit_test(currencies_are_never_guessed),
        cmocka_unit_test(numbers_of_currencies),
        cmocka_unit_test(tokens_and_nothing_are_no_money),
        cmocka_unit_test(amounts_are_exact_or_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
