/*
 * Record ids against RFC 9562: the worked examples of its appendices.
 */
#include "model/uuid.h"

#include "test.h"

#include <sodium.h>

/* Appendix A.6: version 7 at 2022-02-22T14:22:22.000-05:00, rand_a 0xCC3, rand_b 0x18C4DC0C0C07398F. */
static void version_7_of_appendix_a_6(void **state)
{
    (void)state;
    static const uint8_t random[10] = {0x0C, 0xC3, 0x18, 0xC4, 0xDC, 0x0C, 0x0C, 0x07, 0x39, 0x8F};
    char text[UUID_TEXT_SIZE];
    uint8_t bytes[16];
    uuid_v7_text(INT64_C(1645557742000), random, text);
    assert_string_equal(text, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    assert_true(uuid_read("017F22E2-79B0-7CC3-98C4-DC0C0C07398F", bytes));
    uuid_text(bytes, text);
    assert_string_equal(text, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
}

/* Appendix B.2: version 8 from the SHA-256 over the name space for DNS names (section 6.6) and "www.example.com". */
static void version_8_of_appendix_b_2(void **state)
{
    (void)state;
    uint8_t name[16 + 15];
    uint8_t hash[crypto_hash_sha256_BYTES];
    char text[UUID_TEXT_SIZE];
    assert_true(uuid_read("6ba7b810-9dad-11d1-80b4-00c04fd430c8", name));
    memcpy(name + 16, "www.example.com", 15);
    crypto_hash_sha256(hash, name, sizeof name);
    uuid_mark(hash, 8);
    uuid_text(hash, text);
    assert_string_equal(text, "5c146b14-3c52-8afd-938a-375d0df1fbf6");
}

/* Section 4: 8-4-4-4-12 hexadecimal digits; section 4.1: the variant; section 4.2: versions 1 to 8. */
static void what_is_no_uuid_of_the_rfc_is_refused(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "",
        "017f22e2-79b0-7cc3-98c4-dc0c0c07398",
        "017f22e2-79b0-7cc3-98c4-dc0c0c07398f0",
        "017f22e279b0-7cc3-98c4-dc0c0c07398f",
        "017f22e2-79b0-7cc3-98c4_dc0c0c07398f",
        "017g22e2-79b0-7cc3-98c4-dc0c0c07398f",
        "{017f22e2-79b0-7cc3-98c4-dc0c0c07398f}",
        "017f22e2-79b0-7cc3-58c4-dc0c0c07398f", /* another variant */
        "017f22e2-79b0-0cc3-98c4-dc0c0c07398f", /* no version */
        "017f22e2-79b0-9cc3-98c4-dc0c0c07398f", /* a version that is not there yet */
        "00000000-0000-0000-0000-000000000000", /* section 5.9: names nothing */
        "ffffffff-ffff-ffff-ffff-ffffffffffff", /* section 5.10 */
    };
    uint8_t bytes[16];
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        assert_false(uuid_read(texts[i], bytes));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(version_7_of_appendix_a_6),
        cmocka_unit_test(version_8_of_appendix_b_2),
        cmocka_unit_test(what_is_no_uuid_of_the_rfc_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
