/*
 * A device that only talks: the detector of examples/descriptions, and every damage that a line can do.
 */
#include "described_rig.h"

/* ---- The detector ---- */

static struct rig *detector_begin(enum rig_chunks chunks)
{
    struct rig *rig = rig_of_example("detector-lines");
    rig->chunks = chunks;
    rig_open(rig, CFOIL_ACCEPT_ALL);
    rig_run(rig, 10);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    return rig;
}

static void the_detector_names_the_sensor(void **state)
{
    (void)state;
    static const struct {
        const char *line;
        int32_t channel;
    } rows[] = {
        {"FAIL;EUR5;UV\r\n", CFOIL_CHANNEL_ULTRAVIOLET}, {"FAIL;EUR10;IR\r\n", CFOIL_CHANNEL_INFRARED},
        {"FAIL;EUR20;MG\r\n", CFOIL_CHANNEL_MAGNETIC},   {"FAIL;EUR50;THREAD\r\n", CFOIL_CHANNEL_THREAD},
        {"FAIL;EUR100;SIZE\r\n", CFOIL_CHANNEL_SIZE},    {"FAIL;EUR200;THICK\r\n", CFOIL_CHANNEL_THICKNESS},
        {"FAIL;EUR20;IMAGE\r\n", CFOIL_CHANNEL_IMAGE},   {"FAIL;EUR20;UV+IR\r\n", CFOIL_CHANNEL_ULTRAVIOLET},
    };
    for (int chunks = CHUNKS_WHOLE; chunks <= CHUNKS_RANDOM; chunks++) {
        struct rig *rig = detector_begin((enum rig_chunks)chunks);
        rig_say(rig, "ALIVE\r\n");
        for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
            rig_say(rig, rows[i].line);
            const cfoil_adapter_event *event = rig_last(rig);
            assert_int_equal(rig->event_count, i + 1);
            assert_int_equal(event->kind, CFOIL_KIND_REJECTED);
            assert_int_equal(event->reason, CFOIL_REASON_AUTHENTICITY);
            assert_int_equal(event->findings[0].channel, rows[i].channel);
            assert_int_equal(event->findings[0].strength, CFOIL_STRENGTH_CLEAR);
            assert_int_equal(event->finding_count, i == 7 ? 2 : 1);
            assert_true(event->value_minor > 0);
            assert_string_equal(event->currency, "EUR");
            assert_int_equal(strlen(event->raw_text), strlen(rows[i].line) - 2);
        }
        rig_say(rig, "PASS;EUR20\r\n");
        assert_int_equal(rig->event_count, sizeof rows / sizeof rows[0]);
        assert_int_equal(rig->sent_count, 0);
        rig_end(rig);
    }
}

static void the_same_line_twice_is_two_notes(void **state)
{
    (void)state;
    struct rig *rig = detector_begin(CHUNKS_WHOLE);
    rig_say(rig, "ALIVE\r\nFAIL;EUR20;UV\r\nFAIL;EUR20;UV\r\n");
    assert_int_equal(rig_count(rig, CFOIL_KIND_REJECTED, 0), 2);
    rig_end(rig);
}

static void lines_that_are_not_known_are_told(void **state)
{
    (void)state;
    struct rig *rig = detector_begin(CHUNKS_WHOLE);
    rig_say(rig, "LO\r\n"); /* perhaps the end of HELLO: not told */
    assert_int_equal(rig->event_count, 0);
    rig_say(rig, "ALIVE\r\nFAIL;EUR20;XRAY\r\n\r\nFAIL\r\n");
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_UNKNOWN_CODE), 2);
    assert_string_equal(rig->events[0].raw_text, "FAIL;EUR20;XRAY");
    rig_say(
        rig,
        "FAIL;XXX7;UV\r\n"); /* a note that is not in the table has no value, and the refusal is told all the same */
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_REJECTED);
    assert_string_equal(rig_last(rig)->currency, "");
    rig_say(rig, "FAIL;?;NONE\r\n");
    assert_int_equal(rig_last(rig)->reason, CFOIL_REASON_NOT_RECOGNISED);
    rig_end(rig);
}

static void damaged_lines_are_told_as_lost(void **state)
{
    (void)state;
    static const char *const damaged[] = {
        "FAIL;EUR\x01;UV\r\n",                                                          /* a byte that no text has */
        "FAIL;EUR20;UV\n",                                                              /* half a line end */
        "0123456789012345678901234567890123456789012345678901234567890123456789\r\n",   /* too long */
        "01234567890123456789012345678901234567890123456789012345678901\r\n",           /* just too long */
        "0123456789012345678901234567890123456789012345678901234567890123FAIL;EUR20;UV" /* and its rest is no line */
        "\r\n",
    };
    for (size_t i = 0; i < sizeof damaged / sizeof damaged[0]; i++) {
        for (int chunks = CHUNKS_WHOLE; chunks <= CHUNKS_RANDOM; chunks++) {
            struct rig *rig = detector_begin((enum rig_chunks)chunks);
            rig_say(rig, damaged[i]); /* before the first good line nobody was listening yet */
            assert_int_equal(rig->event_count, 0);
            rig_say(rig, "ALIVE\r\n");
            rig_say(rig, damaged[i]);
            assert_int_equal(rig->event_count, 1);
            assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_LOST_EVENTS);
            assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_LINE_NOISY);
            rig_say(rig, "FAIL;EUR20;UV\r\n");
            assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_REJECTED);
            assert_int_equal(rig->event_count, 2);
            rig_end(rig);
        }
    }
}

static void the_rest_of_a_broken_line_is_no_line(void **state)
{
    (void)state;
    struct rig *rig = detector_begin(CHUNKS_WHOLE);
    rig_say(rig, "ALIVE\r\n");
    rig_say(rig, "FAIL;EUR20;U"); /* and then nothing for a second */
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_LOST_EVENTS);
    rig_say(rig, "FAIL;EUR20;IR\r\n"); /* may be the end of a line that began as 'NO ' */
    assert_int_equal(rig->event_count, 1);
    rig_say(rig, "FAIL;EUR20;IR\r\n");
    assert_int_equal(rig->event_count, 2);
    /* What comes during the pause is still the same line. */
    rig_put_text(rig, "FAIL;EU");
    rig_run(rig, 200);
    rig_say(rig, "R20;IR\r\n");
    assert_int_equal(rig->event_count, 3);
    rig_end(rig);
}

static void a_jam_halts_until_the_detector_is_ready(void **state)
{
    (void)state;
    struct rig *rig = detector_begin(CHUNKS_WHOLE);
    rig_say(rig, "ALIVE\r\nJAM\r\n");
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    rig_say(rig, "READY\r\n");
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_FAULT_CLEARED), 1);
    rig_say(rig, "READY\r\n");
    rig_say(rig, "CLEAN\r\nSKEW\r\n");
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    assert_int_equal(rig_last(rig)->reason, CFOIL_REASON_HANDLING);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    rig_say(rig, "HELLO\r\n");
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    rig_end(rig);
}

static void a_silent_detector_is_lost_until_it_speaks(void **state)
{
    (void)state;
    struct rig *rig = detector_begin(CHUNKS_WHOLE);
    rig_say(rig, "ALIVE\r\n");
    rig_run(rig, 40000);
    assert_int_equal(rig->state_now, CFOIL_LANE_LOST);
    rig_say(rig, "ALIVE\r\n");
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_QUIT, 0), CFOIL_OK);
    rig_run(rig, 60000);
    assert_int_equal(rig->sent_count, 0);
    rig_end(rig);
}

static void what_it_cannot_do_is_said(void **state)
{
    (void)state;
    struct rig *rig = rig_of_example("detector-lines");
    rig_open(rig, CFOIL_ACCEPT_HOLD);
    rig_run(rig, 10);
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    assert_int_equal(rig->adapter.capabilities, 0);
    assert_int_equal(rig->adapter.answer_max_ms, 30000);
    rig_end(rig);
}

/* ---- Line ends ---- */

static void lines_may_end_in_cr_or_lf(void **state)
{
    (void)state;
    static const struct {
        const char *end;
        const char *text;
    } rows[] = {{"CR", "OK\rNO\rOK\r"}, {"LF", "OK\nNO\nOK\n"}};
    for (size_t i = 0; i < 2; i++) {
        char text[1024];
        snprintf(text, sizeof text,
                 "{\"schema\": \"counterfoil.device/1\", \"id\": \"d\", \"version\": \"1\", \"reviewed\": "
                 "\"2026-01-01\", \"name\": \"d\", \"source\": \"s\", \"confidence\": \"practice\", "
                 "\"line\": {\"baud\": 9600, \"data_bits\": 8, \"parity\": \"none\", \"stop_bits\": 1}, "
                 "\"lines\": {\"end\": \"%s\", \"length_max\": 10}, "
                 "\"rules\": [{\"when\": [{\"at\": 0, \"text\": \"OK\"}, {\"length\": 2}], \"event\": \"nothing\"}, "
                 "{\"when\": [{\"at\": -2, \"text\": \"NO\"}], \"event\": \"rejected\", \"reason\": \"handling\", "
                 "\"text\": \"no\"}]}",
                 rows[i].end);
        struct rig *rig = rig_of_text(text);
        assert_int_equal(rig->adapter.answer_max_ms, 60000);
        rig_open(rig, CFOIL_ACCEPT_ALL);
        rig_say(rig, rows[i].text);
        assert_int_equal(rig->event_count, 1);
        assert_string_equal(rig->events[0].raw_text, "NO");
        rig_run(rig, 600000);
        assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING); /* no time was given after which it is lost */
        rig_end(rig);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_detector_names_the_sensor),
        cmocka_unit_test(the_same_line_twice_is_two_notes),
        cmocka_unit_test(lines_that_are_not_known_are_told),
        cmocka_unit_test(damaged_lines_are_told_as_lost),
        cmocka_unit_test(the_rest_of_a_broken_line_is_no_line),
        cmocka_unit_test(a_jam_halts_until_the_detector_is_ready),
        cmocka_unit_test(a_silent_detector_is_lost_until_it_speaks),
        cmocka_unit_test(what_it_cannot_do_is_said),
        cmocka_unit_test(lines_may_end_in_cr_or_lf),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
