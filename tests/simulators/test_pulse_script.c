/* Are wrong scripts of the pulse device refused by line, and are those of the replay cases right? What all simulators share is tested
 * with the ccTalk scripts. */
#include "harness.h"

static void test_script_errors(void **state)
{
    (void)state;
    static const struct {
        const char *script;
        int line;
        const char *message;
    } cases[] = {
        {"insert 1 genuine\n", 1, "note type 1 has no pulses"},
        {"note 17 1\n", 1, "the note type must be"},
        {"note 1 201\n", 1, "its pulses must be"},
        {"note 1 0\n", 1, "its pulses must be"},
        {"note 1 2\nnote 1 3\n", 2, "has 2 pulses already"},
        {"note 1 2 3\n", 1, "one word too many"},
        {"note 1\n", 1, "its pulses is missing"},
        {"device line rts\n", 1, "line cannot be 'rts'"},
        {"device inhibit cts\n", 1, "inhibit cannot be 'cts'"},
        {"device active both\n", 1, "active cannot be"},
        {"device bounce_ms 21\n", 1, "bounce_ms must be"},
        {"device colour red\n", 1, "no setting 'colour'"},
        {"note 1 2\ninsert 1 torn\n", 2, "how the note fares cannot be 'torn'"},
        {"pulses 0\n", 1, "how many pulses must be"},
        {"contact half\n", 1, "the contact cannot be 'half'"},
        {"other dtr on\n", 1, "the line cannot be 'dtr'"},
        {"other cts up\n", 1, "its level cannot be 'up'"},
        {"wait request 1\n", 1, "a pulse device is asked nothing"},
        {"fault lost on 1\n", 1, "a pulse device is asked nothing"},
        {"fault flip\n", 1, "the fault cannot be 'flip'"},
        {"fault lasts\n", 1, "the time in ms is missing"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        expect_script_error(cases[i].script, cases[i].line, cases[i].message);
}

static void test_shipped_scripts_are_well_formed(void **state)
{
    (void)state;
    assert_true(scripts_check(TESTS_DIR "/replay/pulse") > 40);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_script_errors),
        cmocka_unit_test(test_shipped_scripts_are_well_formed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
