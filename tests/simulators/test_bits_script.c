/* Are wrong scripts of the validator with status bits refused by line, and are those of the replay cases right? What all simulators share is tested
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
        {"device model TOOLONG\n", 1, "model is longer than 4"},
        {"device model AB\n", 1, "four letters or digits"},
        {"device serial a-b1\n", 1, "four letters or digits"},
        {"device unread lost\n", 1, "unread cannot be 'lost'"},
        {"device escrow_timeout_ms 0\n", 1, "escrow_timeout_ms must be"},
        {"insert 16 genuine\n", 1, "the note type must be"},
        {"insert 1 torn\n", 1, "how the note fares cannot be 'torn'"},
        {"insert genuine\n", 1, "the note type must be"},
        {"stacker jammed\n", 1, "the stacker cannot be 'jammed'"},
        {"bits 1 2\n", 1, "two hexadecimal digits"},
        {"bits 01\n", 1, "not '(nothing)'"},
        {"bits 0g 00\n", 1, "not '0g'"},
        {"wait answered reset\n", 1, "the command cannot be 'reset'"},
        {"fault lost on 16\n", 1, "the command cannot be '16'"},
        {"fault echo\n", 1, "the fault cannot be 'echo'"},
        {"jam now\n", 1, "one word too many"},
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
