/* Are wrong MDB scripts refused by line, and are the shipped ones right? What all simulators share is tested with the
 * ccTalk scripts. */
#include "harness.h"

static void test_script_errors(void **state)
{
    (void)state;
    static const struct {
        const char *script;
        int line;
        const char *message;
    } cases[] = {
        {"# fine\ninsert 1 genuine\n", 2, "bill type 1 is not in the bill table"},
        {"hop\n", 1, "'hop' is no word this simulator knows"},
        {"self_check 1\n", 1, "'self_check' is no word"}, /* a word of the other simulator */
        {"device\n", 1, "no setting '(nothing)'"},
        {"device address 3\n", 1, "no setting 'address'"},
        {"device level 3\n", 1, "level must be a number from 1 to 2, not '3'"},
        {"device setup_bytes 11\n", 1, "setup_bytes must be a number from 12 to 27"},
        {"device poll_bytes 35\n", 1, "poll_bytes must be"},
        {"device scaling 65536\n", 1, "scaling must be"},
        {"device security x\n", 1, "security must be"},
        {"device escrow perhaps\n", 1, "escrow cannot be 'perhaps'"},
        {"device counting wrong\n", 1, "counting cannot be 'wrong'"},
        {"device country 1000\n", 1, "the ISO 4217 number must be"},
        {"device country EUR\n", 1, "the ISO 4217 number must be"},
        {"device country telephone\n", 1, "the telephone code is missing"},
        {"device country 978 2\n", 1, "'2' is one word too many"},
        {"device recycles\n", 1, "the bill type is missing"},
        {"device recycles 1 16\n", 1, "the bill type must be"},
        {"device stored 1\n", 1, "how many bills is missing"},
        {"device maker ABCD\n", 1, "maker is longer than 3"},
        {"device model \"a\\b\"\n", 1, "use letters, digits, blanks and dots only"},
        {"note 16 1\n", 1, "the bill type must be"},
        {"note 1\n", 1, "the credit in scaling units is missing"},
        {"note 1 256\n", 1, "the credit in scaling units must be"},
        {"note 1 5\nnote 1 token\n", 2, "already 5"},
        {"note 1 token 5\n", 1, "one word too many"},
        {"wait held\nnote 1 5\n", 2, "'note' must stand before the first step"},
        {"insert\n", 1, "how the note fares cannot be '(nothing)'"},
        {"insert genuine\n", 1, "say which bill type"},
        {"insert 16 genuine\n", 1, "the bill type must be"},
        {"note 1 5\ninsert 1 string\n", 2, "how the note fares cannot be 'string'"},
        {"event 5\n", 1, "a poll byte has two hexadecimal digits"},
        {"event 0c\n", 1, "not '0c'"},
        {"event\n", 1, "not '(nothing)'"},
        {"status tired\n", 1, "the status cannot be 'tired'"},
        {"stacker jammed\n", 1, "the stacker cannot be 'jammed'"},
        {"count\n", 1, "the count is missing"},
        {"recycler fill 1\n", 1, "this device has no recycler"},
        {"device recycles 1\nrecycler burn 1\n", 2, "what the recycler does cannot be 'burn'"},
        {"device recycles 1\nrecycler fill\n", 2, "the bill type is missing"},
        {"controller\n", 1, "write 'controller restarts'"},
        {"controller restarts soon\n", 1, "the time in ms must be"},
        {"wait request 159\n", 1, "the command cannot be '159'"},
        {"wait answered\n", 1, "the command cannot be '(nothing)'"},
        {"wait kept 1\n", 1, "'1' is one word too many"},
        {"fault smell\n", 1, "the fault cannot be 'smell'"},
        {"fault lost on block\n", 1, "the command cannot be 'block'"},
        {"fault carrier_lost on poll\n", 1, "the packet cannot be 'poll'"},
        {"fault carrier_late\n", 1, "the time in ms is missing"},
        {"fault host_garbage bytes 65\n", 1, "the number of bytes must be"},
        {"repeat 2\n", 1, "'repeat' without 'end repeat'"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        expect_script_error(cases[i].script, cases[i].line, cases[i].message);
}

static void test_too_many_faults_at_once(void **state)
{
    (void)state;
    struct run run;
    char text[TEXT_MOST];
    run_prepare(&run, "repeat 17\nfault carrier_lost on block\nend repeat\n");
    const char *const words[] = {"simulator", "--script", run.script, NULL};
    assert_int_equal(run_words(&run, words, text), 3);
    assert_non_null(strstr(text, "test.sim:2: more than 16 faults"));
    run_remove(&run);
}

static void test_options(void **state)
{
    (void)state;
    struct run run;
    char text[TEXT_MOST];
    run_prepare(&run, "wait held\n");
    const char *const help[] = {"simulator", "--help", NULL};
    assert_int_equal(run_words(&run, help, text), 0);
    const char *const nothing[] = {"simulator", NULL};
    assert_int_equal(run_words(&run, nothing, text), 2);
    assert_non_null(strstr(text, "mdb-simulator: --script is missing"));
    const char *const check[] = {"simulator", "--check", "--script", run.script, NULL};
    assert_int_equal(run_words(&run, check, text), 0);
    const char *const stop[] = {"simulator", "--script", run.script, "--stop-after-ms", "20", NULL};
    assert_int_equal(run_words(&run, stop, text), 3);
    run_remove(&run);
}

static void test_shipped_scripts_are_well_formed(void **state)
{
    (void)state;
    assert_true(scripts_check(TESTS_DIR "/simulators/scripts-mdb") > 80);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_script_errors),
        cmocka_unit_test(test_too_many_faults_at_once),
        cmocka_unit_test(test_options),
        cmocka_unit_test(test_shipped_scripts_are_well_formed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
