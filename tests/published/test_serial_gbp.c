/*
 * Serial numbers of Bank of England notes: published ones, and wrong ones made from them, against the built-in pack.
 */
#include "pack_facts.h"

static struct pack_facts pounds;

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

static void published_numbers_have_the_form(void **state)
{
    (void)state;
    static const char *const serials[][2] = {
        /* The first plastic 5: plastics trade news, 2016. */
        {"AA01 000001", "AA01000001"},
        /* Two letters, two digits, six digits: the same news and a second text on the four-character prefix. Our own
         * numbers of that form. */
        {"ch72 405318", "CH72405318"},
        {"ZZ99999999", "ZZ99999999"},
    };
    for (size_t i = 0; i < COUNT_OF(serials); i++) {
        cfoil_serial result = facts_serial(&pounds, serials[i][0]);
        assert_int_equal(result.format_known, 1);
        assert_string_equal(result.normalised, serials[i][1]);
        /* King and Queen notes have one form, so the number cannot tell which it is; what the prefix says about value or
         * series is not known (no source seen). */
        assert_string_equal(result.series, "");
        assert_string_equal(result.issuer, "");
        /* No public check figure is known (from memory). */
        assert_int_equal(result.checksum, CFOIL_CHECKSUM_NONE);
    }
}

/* Each breaks the form two letters, two digits, six digits (plastics trade news, 2016, and a second text). */
static void other_forms_are_not_taken(void **state)
{
    (void)state;
    static const char *const serials[] = {"A01000001",   "AAA1000001",  "AA0100000", "AA010000011",
                                          "AAO1 000001", "0A01 000001", "AA01-0001", ""};
    for (size_t i = 0; i < COUNT_OF(serials); i++)
        assert_int_equal(facts_serial(&pounds, serials[i]).format_known, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_numbers_have_the_form),
        cmocka_unit_test(other_forms_are_not_taken),
    };
    return cmocka_run_group_tests(tests, pounds_open, pounds_end);
}
