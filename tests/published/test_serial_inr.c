/*
 * Rupee numbers: a digit and two letters, six digits, and the star of a replacement note. No list of whole numbers was
 * published: the prefix is a published one, the digits are ours.
 */
#include "packs/pack.h"
#include "test.h"

static struct pack_set *set;

static int set_open(void **state)
{
    (void)state;
    return pack_set_create(&memory_heap, &set, NULL) == CFOIL_OK && pack_currency_find(set, "INR") != NULL ? 0 : -1;
}

static int set_end(void **state)
{
    (void)state;
    pack_set_release(set);
    return 0;
}

static cfoil_serial check(const char *serial)
{
    cfoil_serial result = CFOIL_SERIAL_INIT;
    serial_check(pack_currency_find(set, "INR"), serial, &result);
    return result;
}

/* Form: a press page (prefix 5BP, then six digits: nine characters) and the release of 2015 (three characters of one size,
 * then digits that grow). */
static void numbers_of_the_usual_form_are_known(void **state)
{
    (void)state;
    static const char *const serials[] = {"5BP123456", "5BP 123456", "5bp 123 456", "0AA000001"};
    for (size_t i = 0; i < sizeof serials / sizeof serials[0]; i++) {
        cfoil_serial result = check(serials[i]);
        assert_int_equal(result.format_known, 1);
        assert_int_equal(result.checksum, CFOIL_CHECKSUM_NONE);
        assert_string_equal(result.series, ""); /* new and earlier notes have the same form */
        assert_string_equal(result.issuer, "");
    }
    assert_string_equal(check("5bp 123 456").normalised, "5BP123456");
}

/* A star between prefix and number replaces a misprint: legal tender, first used in 2006, on the 500 since December 2016
 * (release of 16 December 2016, and the press of 27 July 2023). It must never raise a doubt. */
static void a_star_is_normal(void **state)
{
    (void)state;
    assert_int_equal(check("5BP*123456").format_known, 1);
    assert_int_equal(check("5BP \xE2\x98\x85 123456").format_known, 1);
    assert_string_equal(check("5BP*123456").text, check("5BP123456").text);
    assert_int_equal(check("*5BP123456").format_known, 0);
    assert_int_equal(check("5BP123456*").format_known, 0);
}

/* Too short, too long, or in another order. Older notes may have one (from memory): it is told, and read again. */
static void other_forms_are_told(void **state)
{
    (void)state;
    static const char *const serials[] = {"5BP12345",  "5BP1234567", "BP5123456",
                                          "5B1234567", "PBP123456",  "5BP**123456"};
    for (size_t i = 0; i < sizeof serials / sizeof serials[0]; i++) {
        assert_int_equal(check(serials[i]).format_known, 0);
        assert_non_null(strstr(check(serials[i]).text, "Read it again"));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_of_the_usual_form_are_known),
        cmocka_unit_test(a_star_is_normal),
        cmocka_unit_test(other_forms_are_told),
    };
    return cmocka_run_group_tests(tests, set_open, set_end);
}
