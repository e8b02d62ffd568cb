/*
 * Reading serial numbers: normal form, forms of a made-up currency, check figure as data, what is said of a prefix.
 * The published euro numbers are in tests/published/test_serial_eur.c.
 */
#include "pack_texts.h"
#include "packs/pack_data.h"
#include "test.h"

static struct pack *pack;

static int pack_open(void **state)
{
    (void)state;
    return pack_parse(&memory_heap, "test.json", good_currency, strlen(good_currency), &pack, NULL);
}

static int pack_end(void **state)
{
    (void)state;
    pack_release(pack);
    return 0;
}

static cfoil_serial check(const char *serial)
{
    cfoil_serial result = CFOIL_SERIAL_INIT;
    memset(result.normalised, 'x', sizeof result.normalised);
    memset(result.text, 'x', sizeof result.text);
    result.seen_refused = 42;
    serial_check(&pack->as.currency, serial, &result);
    assert_int_equal(result.struct_size, sizeof result);
    assert_int_equal(result.seen_refused, 42);
    return result;
}

static void blanks_and_case_do_not_matter(void **state)
{
    (void)state;
    assert_string_equal(check(" a b 1\xC2\xA0"
                              "2 ")
                            .normalised,
                        "AB12");
    assert_string_equal(check("\xC3\xA4"
                              "b12")
                            .normalised,
                        "\xC3\xA4"
                        "B12");
    assert_int_equal(check("\xC3\xA4"
                           "b12")
                         .format_known,
                     0);
}

static void the_form_tells_the_series(void **state)
{
    (void)state;
    assert_string_equal(check("AB12").series, "B");
    assert_string_equal(check("123").series, "A");
    static const char *const others[] = {"",   "A",    "AB1",  "AB123", "A112", "ABC1", "1234",
                                         "12", "AB1-", "@B12", "[B12",  "AB1:", "AB/1", "{B12"};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        cfoil_serial result = check(others[i]);
        assert_int_equal(result.format_known, 0);
        assert_int_equal(result.checksum, CFOIL_CHECKSUM_NONE);
        assert_string_equal(result.series, "");
        assert_string_equal(result.issuer, "");
        assert_non_null(strstr(result.text, "Read it again"));
    }
}

/* letter_a 1, modulus 7, remainder 3: A counts 1, B 2; 1 + 2 + 0 + 0 = 3. */
static void the_check_figure_follows_the_pack(void **state)
{
    (void)state;
    assert_int_equal(check("AB00").checksum, CFOIL_CHECKSUM_FITS);
    assert_int_equal(check("AB07").checksum, CFOIL_CHECKSUM_FITS);
    assert_int_equal(check("AB01").checksum, CFOIL_CHECKSUM_DIFFERS);
    assert_int_equal(check("ZZ00").checksum, 52 % 7 == 3 ? CFOIL_CHECKSUM_FITS : CFOIL_CHECKSUM_DIFFERS);
    assert_int_equal(check("123").checksum, CFOIL_CHECKSUM_NONE);
}

static void every_line_says_that_only_misreading_is_caught(void **state)
{
    (void)state;
    static const char *const serials[] = {"AB00", "AB01", "123"};
    for (size_t i = 0; i < sizeof serials / sizeof serials[0]; i++)
        assert_non_null(strstr(check(serials[i]).text, "misreading only"));
}

static void a_prefix_is_named_and_an_unknown_one_told(void **state)
{
    (void)state;
    assert_string_equal(check("AB12").issuer, "works: first");
    assert_string_equal(check("CX12").issuer, "works: second");
    assert_string_equal(check("DX12").issuer, "kept free for third, no such notes known");
    assert_string_equal(check("AX12").issuer, "works not in this pack's list");
    assert_int_equal(check("AX12").format_known, 1);
    assert_string_equal(check("123").issuer, "");
}

static void a_long_text_is_cut_and_not_known(void **state)
{
    (void)state;
    cfoil_serial result = check("0123456789012345678901234567890123456789");
    assert_int_equal(result.format_known, 0);
    assert_string_equal(result.normalised, "0123456789012345678901234567890");
    assert_string_equal(check("1                                       2 3").normalised, "123");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(blanks_and_case_do_not_matter),
        cmocka_unit_test(the_form_tells_the_series),
        cmocka_unit_test(the_check_figure_follows_the_pack),
        cmocka_unit_test(every_line_says_that_only_misreading_is_caught),
        cmocka_unit_test(a_prefix_is_named_and_an_unknown_one_told),
        cmocka_unit_test(a_long_text_is_cut_and_not_known),
    };
    return cmocka_run_group_tests(tests, pack_open, pack_end);
}
