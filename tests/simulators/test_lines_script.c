/* Are wrong scripts of the detector refused by line, and are those of the replay cases right? What all simulators share is tested
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
        {"insert 500 uv\n", 1, "there is no note of 500 euro here"},
        {"insert uv\n", 1, "the value in euro must be"},
        {"insert 20 smell\n", 1, "how the note fares cannot be 'smell'"},
        {"say\n", 1, "the line is missing"},
        {"device alive_ms x\n", 1, "alive_ms must be"},
        {"device address 1\n", 1, "no setting 'address'"},
        {"wait answered 1\n", 1, "asked nothing"},
        {"fault lost on 1\n", 1, "asked nothing"},
        {"fault stale\n", 1, "the fault cannot be 'stale'"},
        {"dirty hands\n", 1, "one word too many"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        expect_script_error(cases[i].script, cases[i].line, cases[i].message);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_script_errors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
