/* Are wrong scripts and options refused by line, and are the shipped scripts right? */
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
        {"at 5\n", 1, "'(nothing)' is no word"},
        {"device\n", 1, "no setting '(nothing)'"},
        {"device colour red\n", 1, "no setting 'colour'"},
        {"device address 1\n", 1, "address must be a number from 2 to 255, not '1'"},
        {"device address 4x\n", 1, "not '4x'"},
        {"device address -4\n", 1, "not '-4'"},
        {"device address 99999999999999999999\n", 1, "must be a number"},
        {"device address\n", 1, "address is missing"},
        {"device address 40 41\n", 1, "'41' is one word too many"},
        {"device check md5\n", 1, "check cannot be 'md5'"},
        {"device check\n", 1, "check cannot be '(nothing)'"},
        {"device comms 1 4\n", 1, "comms is missing"},
        {"device fault 38 900\n", 1, "fault must be"},
        {"device category \"open\n", 1, "quotation mark is not closed"},
        {"device category \"open\"x\n", 1, "blank after the closing quotation mark"},
        {"device category \"123456789012345678901234567890123\"\n", 1, "longer than 32"},
        {"device category\n", 1, "category is missing"},
        {"device maker \"\xC3\xA4\"\n", 1, "plain ASCII"},
        {"device silent\n", 1, "name the command headers"},
        {"device silent 1,x\n", 1, "a command header must be"},
        {"device nak 256\n", 1, "a command header must be"},
        {"device earlier 1\n", 1, "event byte B is missing"},
        {"device earlier 1 1\ndevice earlier 1 1\ndevice earlier 1 1\ndevice earlier 1 1\ndevice earlier 1 1\n"
         "device earlier 1 1\n",
         6, "holds only 5 events"},
        {"note 17 EU0005A\n", 1, "the bill type must be"},
        {"note 1\n", 1, "the bill id is missing"},
        {"note 1 EU05A\n", 1, "a bill id has 7"},
        {"note 1 EU00\\5A\n", 1, "a bill id has 7"},
        {"note 1 EU0005A\nnote 1 EU0005B\n", 2, "already EU0005A"},
        {"note 1 EU0005A x\n", 1, "one word too many"},
        {"country E 100 2\n", 1, "a country has 2 letters"},
        {"country\n", 1, "the country is missing"},
        {"country EU 100\n", 1, "decimal places is missing"},
        {"country EU 100 2\ncountry EU 100 2\n", 2, "already described"},
        {"country AA 1 0\ncountry AB 1 0\ncountry AC 1 0\ncountry AD 1 0\ncountry AE 1 0\ncountry AF 1 0\n"
         "country AG 1 0\ncountry AH 1 0\ncountry AI 1 0\n",
         9, "more than 8 countries"},
        {"patience\n", 1, "patience in ms is missing"},
        {"wait held\ndevice address 40\n", 2, "'device' must stand before the first step"},
        {"wait\n", 1, "the condition cannot be '(nothing)'"},
        {"wait noon\n", 1, "the condition cannot be 'noon'"},
        {"wait held now\n", 1, "'now' is one word too many"},
        {"wait 5 s\n", 1, "'s' is one word too many"},
        {"wait polls\n", 1, "the number of polls is missing"},
        {"wait request 0\n", 1, "the command header must be"},
        {"at noon end\n", 1, "the time in ms must be"},
        {"then\n", 1, "the time in ms is missing"},
        {"after lunch end\n", 1, "the condition cannot be 'lunch'"},
        {"insert\n", 1, "how the note fares cannot be '(nothing)'"},
        {"insert 17 genuine\n", 1, "the bill type must be"},
        {"insert genuine\n", 1, "say which bill type"},
        {"note 1 EU0005A\ninsert 1 badly\n", 2, "how the note fares cannot be 'badly'"},
        {"event 1\n", 1, "event byte B is missing"},
        {"jam sideways\n", 1, "the jam cannot be"},
        {"stacker\n", 1, "the stacker cannot be"},
        {"self_check\n", 1, "the fault code is missing"},
        {"self_check 1 2 3\n", 1, "one word too many"},
        {"route 1\n", 1, "write 'route fails'"},
        {"route fails\n", 1, "how many times is missing"},
        {"power on\n", 1, "write 'power off'"},
        {"power off\n", 1, "the time in ms is missing"},
        {"silence\n", 1, "the time in ms is missing"},
        {"fault\n", 1, "the fault cannot be '(nothing)'"},
        {"fault smell\n", 1, "the fault cannot be 'smell'"},
        {"fault late\n", 1, "the time in ms is missing"},
        {"fault garbage bytes 65\n", 1, "the number of bytes must be"},
        {"fault lost sometimes\n", 1, "'sometimes' is one word too many"},
        {"fault lost every 0\n", 1, "every must be"},
        {"fault lost reply\n", 1, "the reply number is missing"},
        {"fault lost chance 101\n", 1, "the chance in percent must be"},
        {"fault lost times x\n", 1, "times must be"},
        {"fault lost byte 300\n", 1, "the byte position must be"},
        {"fault lost seed 0\n", 1, "the seed must be"},
        {"fault lost on\n", 1, "the command header is missing"},
        {"fault lost every 2 chance 3\n", 1, "use only one of"},
        {"faults on\n", 1, "write 'faults off'"},
        {"repeat\n", 1, "how many times is missing"},
        {"wait held\nrepeat 2\nevent 1 0\n", 2, "'repeat' without 'end repeat'"},
        {"end repeat\n", 1, "no 'repeat' to end"},
        {"repeat 2\nend repeat\nend repeat\n", 3, "no 'repeat' to end"},
        {"repeat 1\nrepeat 1\nrepeat 1\nrepeat 1\nrepeat 1\n", 5, "inside more than"},
        {"end now\n", 1, "'now' is one word too many"},
        {"a b c d e f g h i j k l m n o p q r s t u v w x y\n", 1, "more than 24 words"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        expect_script_error(cases[i].script, cases[i].line, cases[i].message);
}

static void test_script_limits(void **state)
{
    (void)state;
    static char script[16000];
    memset(script, '#', 600);
    strcpy(script + 600, "\n");
    expect_script_error(script, 1, "longer than");
    script[0] = '\0';
    for (int i = 0; i < 513; i++)
        strcat(script, "clear\n");
    expect_script_error(script, 513, "more than 512 steps");
}

/* A zero byte must not hide the rest of its line. */
static void test_script_with_zero_byte(void **state)
{
    (void)state;
    static const char script[] = "# text\nwait held\0 for ever";
    struct run run;
    char text[TEXT_MOST];
    run_prepare(&run, "");
    FILE *file = fopen(run.script, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(script, 1, sizeof script - 1, file), sizeof script - 1);
    assert_int_equal(fclose(file), 0);
    const char *const words[] = {"cctalk-simulator", "--check", "--script", run.script, NULL};
    assert_int_equal(run_words(&run, words, text), 2);
    assert_non_null(strstr(text, "test.sim:2: a zero byte"));
    run_remove(&run);
}

static void test_too_many_faults_at_once(void **state)
{
    (void)state;
    struct run run;
    char text[TEXT_MOST];
    run_prepare(&run, "repeat 17\nfault lost on 1\nend repeat\n");
    const char *const words[] = {"cctalk-simulator", "--script", run.script, NULL};
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
    const char *const help[] = {"cctalk-simulator", "--help", NULL};
    assert_int_equal(run_words(&run, help, text), 0);
    const char *const nothing[] = {"cctalk-simulator", NULL};
    assert_int_equal(run_words(&run, nothing, text), 2);
    assert_non_null(strstr(text, "--script is missing"));
    const char *const unknown[] = {"cctalk-simulator", "--speed", "2", NULL};
    assert_int_equal(run_words(&run, unknown, text), 2);
    assert_non_null(strstr(text, "cannot use '--speed'"));
    const char *const port[] = {"cctalk-simulator", "--listen", "65536", NULL};
    assert_int_equal(run_words(&run, port, text), 2);
    const char *const missing[] = {"cctalk-simulator", "--script", "/nowhere/at/all.sim", NULL};
    assert_int_equal(run_words(&run, missing, text), 2);
    assert_non_null(strstr(text, "cannot open the script"));
    const char *const check[] = {"cctalk-simulator", "--check", "--script", run.script, NULL};
    assert_int_equal(run_words(&run, check, text), 0);
    const char *const log[] = {"cctalk-simulator", "--script", run.script, "--log", "/nowhere/at/all", NULL};
    assert_int_equal(run_words(&run, log, text), 1);
    const char *const port_file[] = {"cctalk-simulator", "--script",        run.script,
                                     "--port-file",      "/nowhere/at/all", NULL};
    assert_int_equal(run_words(&run, port_file, text), 1);
    const char *const stop[] = {"cctalk-simulator", "--script", run.script, "--stop-after-ms", "20", NULL};
    assert_int_equal(run_words(&run, stop, text), 3);
    run_remove(&run);
}

static void test_shipped_scripts_are_well_formed(void **state)
{
    (void)state;
    assert_true(scripts_check(TESTS_DIR "/simulators/scripts") > 20);
    assert_true(scripts_check(SOURCE_DIR "/examples/scripts") > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_script_errors),
        cmocka_unit_test(test_script_limits),
        cmocka_unit_test(test_script_with_zero_byte),
        cmocka_unit_test(test_too_many_faults_at_once),
        cmocka_unit_test(test_options),
        cmocka_unit_test(test_shipped_scripts_are_well_formed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
