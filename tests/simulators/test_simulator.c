/* Does the simulated validator speak ccTalk as published? Compares its answers byte for byte over TCP. */
#include "cctalk_client.h"

#include <unistd.h>

/* ccTalk fact sheet of this project, section 12.2: computed there from the framing and checksum rules that published
 * device manuals restate; the bill commands are from memory of the generic specification. */
static void test_worked_sequences(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, NOTES "wait enabled\nwait polls 1\ninsert 2 genuine\nwait stacked\nwait events_read\n"
                          "insert refused\nwait events_read\n");
    exchange(&run, POLL, ACK);
    exchange(&run, "40 0 1 245 226", "1 14 40 0 66 105 108 108 32 86 97 108 105 100 97 116 111 114 128");
    exchange(&run, "40 0 1 242 229", "1 3 40 0 86 52 18 56");
    exchange(&run, "40 0 1 4 211", "1 3 40 0 1 4 7 200");
    exchange(&run, "40 0 1 249 222", "1 2 40 0 2 20 191");
    exchange(&run, "40 0 1 232 239", "1 1 40 0 0 214");
    exchange(&run, "40 1 1 157 1 56", "1 7 40 0 71 66 48 48 48 53 65 65");
    exchange(&run, "40 2 1 156 71 66 176", "1 3 40 0 100 0 2 110");
    exchange(&run, "40 2 1 155 71 66 177", "1 2 40 0 15 0 198");
    exchange(&run, "40 1 1 153 3 58", ACK);
    exchange(&run, "40 0 1 152 63", "1 1 40 0 3 211");
    exchange(&run, ENABLE_TYPES, ACK);
    exchange(&run, "40 0 1 230 241", "1 2 40 0 255 255 215");
    exchange(&run, "40 1 1 228 0 242", ACK);
    exchange(&run, MASTER_OPEN, ACK);
    exchange(&run, EVENTS, "1 11 40 0 0 0 0 0 0 0 0 0 0 0 0 204");
    exchange(&run, EVENTS, "1 11 40 0 1 2 1 0 0 0 0 0 0 0 0 200");
    exchange(&run, "40 1 1 154 255 61", ACK);
    exchange(&run, "40 1 1 154 1 59", ACK);
    exchange(&run, EVENTS, "1 11 40 0 2 2 0 2 1 0 0 0 0 0 0 197");
    exchange(&run, EVENTS, "1 11 40 0 3 0 2 2 0 2 1 0 0 0 0 194");
    exchange(&run, "40 1 1 154 0 60", "1 1 40 0 254 216"); /* escrow empty */
    exchange(&run, "40 0 1 1 214", ACK);
    exchange(&run, EVENTS, "1 11 40 0 0 0 0 0 0 0 0 0 0 0 0 204");
    expect_log(&run, "\"truth\":\"held\",\"note\":1,\"type\":2,\"id\":\"GB0010A\",\"event\":[2,1],\"counter\":1}");
    expect_log(&run, "\"truth\":\"stacked\",\"note\":1,\"type\":2,\"id\":\"GB0010A\",\"event\":[2,0],\"counter\":2}");
    expect_log(&run, "\"truth\":\"rejected\",\"note\":2,\"type\":0,\"id\":\"\",\"event\":[0,2],\"counter\":3}");
    expect_log(&run, "\"truth\":\"reset_by_host\",\"counter\":3}");
    run_end(&run, 0);
}

/* Same fact sheet, section 12.2: the last counter was 254, now it is 1; 0 is left out (published device manuals). */
static void test_counter_wrap(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "device counter 254\ndevice earlier 0 2\ndevice earlier 2 0\ndevice earlier 2 1\n"
                         "wait polls 1\nevent 3 1\nevent 3 0\n");
    exchange(&run, EVENTS, "1 11 40 0 254 0 2 2 0 2 1 0 0 0 0 199");
    exchange(&run, EVENTS, "1 11 40 0 1 3 0 3 1 0 2 2 0 2 1 189");
    run_end(&run, 0);
}

/* Section 12.1 of the fact sheet: examples printed in the manuals of published coin devices (S2, S3, S8). */
static void test_published_frames(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "device address 2\ndevice category \"Coin Acceptor\"\nwait request 232\nself_check 2 3\n");
    exchange(&run, "2 0 1 245 8", "1 13 2 0 67 111 105 110 32 65 99 99 101 112 116 111 114 22");
    exchange(&run, "2 2 1 231 255 255 22", "1 0 2 0 253");
    exchange(&run, "2 2 1 231 63 0 213", "1 0 2 0 253");
    exchange(&run, "2 0 1 230 23", "1 2 2 0 63 0 188");
    exchange(&run, "2 0 1 232 21", "1 1 2 0 0 252");
    exchange(&run, "2 0 1 232 21", "1 2 2 0 2 3 246");
    exchange(&run, "0 0 1 253 2", "2"); /* the bare address */
    exchange(&run, "2 0 1 1 252", "1 0 2 0 253");
    run_end(&run, 0);
}

/* Section 12.3 of the fact sheet; the first two agree with the standard's example values 3F46 and 3730 (memory). */
static void test_crc_frames(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "device check crc\nevent 2 1\nevent 2 0\n");
    exchange(&run, "40 0 182 254 33", "1 0 48 0 55");
    say(&run, POLL); /* a plain checksum is not answered */
    exchange(&run, "40 1 234 228 1 73", "1 0 48 0 55");
    exchange(&run, "40 0 49 159 93", "1 11 96 0 2 2 0 2 1 0 0 0 0 0 0 246");
    exchange(&run, "40 0 70 1 63", "1 0 48 0 55");
    run_end(&run, 0);
}

static void test_bad_frames_are_dropped(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST);
    expect_silence(&run, "40 0 1 254 218"); /* checksum */
    expect_silence(&run, "41 0 1 254 216"); /* another address */
    expect_silence(&run, "40 0 1 229 242"); /* a coin command */
    expect_silence(&run, "40 0 1 233 238"); /* no such command */
    exchange(&run, "0 0 1 254 1", ACK);     /* broadcast */
    exchange(&run, "40 0 9 254 209", "9 0 40 0 207");
    exchange(&run, "40 0 1 231 240", "1 0 40 5 210"); /* too short: NAK */
    exchange(&run, "40 1 1 157 0 57", "1 0 40 5 210");
    exchange(&run, "40 1 1 154 7 53", "1 0 40 5 210");
    exchange(&run, "40 0 1 2 213", "1 3 40 0 0 5 1 206");
    expect_silence(&run, "40 253");
    say(&run, "40 0 1");
    assert_false(readable(run.client, now_ms() + 80)); /* the receiver gives up after 50 ms */
    exchange(&run, "40 0 1 2 213", "1 3 40 0 1 6 1 204");
    exchange(&run, "40 0 1 3 212", ACK);
    exchange(&run, "40 0 1 2 213", "1 3 40 0 0 0 0 212");
    run_end(&run, 0);
}

static void test_identity_and_positions(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "device maker AB\ndevice product \"C D\"\ndevice software E\ndevice build F\ndevice nak 249\n"
                         "device silent 241,192 245\ndevice busy 4\ndevice empty zeros\ndevice fault 38\n");
    exchange(&run, "40 0 1 246 225", "1 2 40 0 65 66 82");
    exchange(&run, "40 0 1 244 227", "1 3 40 0 67 32 68 45");
    exchange(&run, "40 0 1 249 222", "1 0 40 5 210");
    exchange(&run, "40 0 1 4 211", "1 0 40 6 209");
    expect_silence(&run, "40 0 1 241 230");
    expect_silence(&run, "40 0 1 192 23");
    expect_silence(&run, "40 0 1 245 226");
    exchange(&run, "40 1 1 157 5 52", "1 7 40 0 48 48 48 48 48 48 48 128");
    exchange(&run, "40 2 1 156 71 66 176", "1 3 40 0 0 0 0 212"); /* country unknown */
    exchange(&run, "40 0 1 232 239", "1 1 40 0 38 176");
    exchange(&run, "40 0 1 227 244", "1 1 40 0 0 214"); /* bill validators start inhibited */
    exchange(&run, "40 0 1 236 235", "1 1 40 0 0 214");
    run_end(&run, 0);
}

static void test_empty_positions(void **state)
{
    (void)state;
    static const char *const words[][2] = {{"dots", "1 7 40 0 46 46 46 46 46 46 46 142"},
                                           {"spaces", "1 7 40 0 32 32 32 32 32 32 32 240"},
                                           {"nak", "1 0 40 5 210"},
                                           {"silence", NULL}};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        char script[128];
        snprintf(script, sizeof script, FAST "device empty %s\n", words[i][0]);
        struct run run;
        run_start(&run, script);
        if (words[i][1] == NULL)
            expect_silence(&run, "40 1 1 157 5 52");
        else
            exchange(&run, "40 1 1 157 5 52", words[i][1]);
        run_end(&run, 0);
    }
}

static void test_echo_on_the_line(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "device echo on\n");
    exchange(&run, POLL, POLL " " ACK);
    exchange(&run, "40 0 1 254 218", "40 0 1 254 218");
    exchange(&run, POLL, POLL " " ACK);
    run_end(&run, 0);
}

static void test_inhibits_are_honoured(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, NOTES "wait polls 1\ninsert 1 genuine\nwait enabled\ninsert 3 genuine\nwait rejected\n"
                          "wait events_read\ninsert 1 genuine\nwait held\nwait returned\n");
    exchange(&run, EVENTS, "1 11 40 0 0 0 0 0 0 0 0 0 0 0 0 204");
    exchange(&run, EVENTS, "1 11 40 0 1 0 0 0 0 0 0 0 0 0 0 203");
    exchange(&run, "40 1 1 153 3 58", ACK);
    exchange(&run, "40 2 1 231 1 0 237", ACK);
    exchange(&run, MASTER_OPEN, ACK);
    expect_events(&run, "1 11 40 0 2 0 4 0 0 0 0 0 0 0 0 198");
    expect_events(&run, "1 11 40 0 3 1 1 0 4 0 0 0 0 0 0 195");
    exchange(&run, "40 0 1 236 235", "1 1 40 0 1 213"); /* a note is in the path */
    exchange(&run, "40 1 1 154 0 60", ACK);
    expect_events(&run, "1 11 40 0 4 0 1 1 1 0 4 0 0 0 0 193");
    run_end(&run, 0);
}

static void test_without_escrow_a_note_is_stacked_at_once(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, NOTES "wait enabled\ninsert 4 genuine\nwait stacked\nwait events_read\nend\n");
    exchange(&run, ENABLE_TYPES, ACK);
    exchange(&run, MASTER_OPEN, ACK);
    exchange(&run, EVENTS, "1 11 40 0 1 4 0 0 0 0 0 0 0 0 0 199");
    hear_end(&run);
    run_end(&run, 0);
}

static void test_counters(void **state)
{
    (void)state;
    struct run run;
    run_start(&run,
              NOTES "wait enabled\ninsert 2 genuine\nwait stacked\ninsert 2 refused\ninsert pulled\nwait finished\n"
                    "wait request 1\n");
    exchange(&run, ENABLE_TYPES, ACK);
    exchange(&run, MASTER_OPEN, ACK);
    expect_events(&run, "1 11 40 0 3 0 8 0 2 2 0 0 0 0 0 189");
    exchange(&run, "40 0 1 226 245", "1 3 40 0 3 0 0 209");
    exchange(&run, "40 0 1 225 246", "1 3 40 0 1 0 0 211");
    exchange(&run, "40 0 1 194 21", "1 3 40 0 1 0 0 211");
    exchange(&run, "40 0 1 193 22", "1 3 40 0 1 0 0 211");
    exchange(&run, "40 1 1 150 2 62", "1 3 40 0 1 0 0 211");
    exchange(&run, "40 1 1 149 8 57", "1 3 40 0 1 0 0 211");
    exchange(&run, "40 1 1 150 99 221", "1 3 40 0 0 0 0 212");
    exchange(&run, "40 0 1 1 214", ACK);
    exchange(&run, "40 0 1 226 245", "1 3 40 0 0 0 0 212");
    run_end(&run, 0);
}

static void test_escrow_times_out(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, NOTES "device escrow_timeout_ms 40\nwait enabled\ninsert 2 genuine\nwait returned\n");
    enable(&run);
    expect_events(&run, "1 11 40 0 2 0 1 2 1 0 0 0 0 0 0 198");
    expect_log(&run, "escrow_timeout");
    run_end(&run, 0);
}

static void test_route_can_fail(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, NOTES "route fails 1\nwait enabled\ninsert 2 jams_in_stacker\nwait finished\nwait events_read\n"
                          "insert 1 genuine\nclear\nwait enabled\ninsert 1 genuine\nwait held\npull\n");
    enable(&run);
    expect_events(&run, "1 11 40 0 1 2 1 0 0 0 0 0 0 0 0 200");
    exchange(&run, "40 1 1 154 1 59", "1 1 40 0 255 215");
    exchange(&run, "40 1 1 154 1 59", ACK);
    expect_events(&run, "1 11 40 0 2 0 7 2 1 0 0 0 0 0 0 192");
    expect_events(&run, "1 11 40 0 4 0 8 1 1 0 7 2 1 0 0 180");
    expect_log(&run, "\"truth\":\"jammed\",\"note\":1,\"type\":2");
    expect_log(&run, "\"truth\":\"not_taken\",\"note\":2,\"type\":1,\"id\":\"GB0005A\",\"counter\":2}");
    expect_log(&run, "\"truth\":\"removed\",\"note\":1,\"type\":2");
    expect_log(&run, "\"truth\":\"pulled\",\"note\":3,\"type\":1");
    run_end(&run, 0);
}

static void test_jams_and_stacker(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, NOTES "wait polls 1\njam transport\nwait request 232\njam safe\nwait request 232\njam stacker\n"
                          "wait request 232\nclear\nstacker removed\nwait request 232\nstacker full\n"
                          "wait request 232\nstacker ok\n");
    exchange(&run, EVENTS, "1 11 40 0 0 0 0 0 0 0 0 0 0 0 0 204");
    exchange(&run, "40 0 1 232 239", "1 1 40 0 39 175");
    exchange(&run, "40 0 1 232 239", "1 1 40 0 39 175");
    exchange(&run, "40 0 1 232 239", "1 1 40 0 38 176");
    exchange(&run, "40 0 1 232 239", "1 1 40 0 44 170");
    exchange(&run, "40 0 1 232 239", "1 1 40 0 45 169");
    exchange(&run, "40 0 1 232 239", "1 1 40 0 0 214");
    exchange(&run, EVENTS, "1 11 40 0 6 0 10 0 14 0 11 0 7 0 16 140");
    run_end(&run, 0);
}

static void test_ways_to_be_refused(void **state)
{
    (void)state;
    struct run run;
    run_start(&run,
              NOTES "wait enabled\ninsert transport\ninsert switched_off\ninsert tampered\ninsert optical\n"
                    "insert string\nwait rejected\nwait events_read\ninsert unknown\ninsert jams\nwait finished\n");
    enable(&run);
    expect_events(&run, "1 11 40 0 5 0 18 0 17 0 9 0 5 0 3 147");
    expect_events(&run, "1 11 40 0 7 0 6 0 21 0 18 0 17 0 9 126");
    expect_log(&run, "\"truth\":\"stacked_unknown\"");
    run_end(&run, 0);
}

static void test_watchdog_inhibits(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, NOTES "device watchdog_ms 40\nwait enabled\nwait inhibited\ninsert 1 genuine\nwait rejected\n"
                          "wait enabled\nend\n");
    enable(&run);
    assert_false(readable(run.client, now_ms() + 60)); /* nobody polls for longer than the watchdog allows */
    exchange(&run, EVENTS, "1 11 40 0 1 0 0 0 0 0 0 0 0 0 0 203");
    hear_end(&run);
    expect_log(&run, "watchdog");
    expect_log(&run, "polling_resumed");
    run_end(&run, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_worked_sequences),
        cmocka_unit_test(test_counter_wrap),
        cmocka_unit_test(test_published_frames),
        cmocka_unit_test(test_crc_frames),
        cmocka_unit_test(test_bad_frames_are_dropped),
        cmocka_unit_test(test_identity_and_positions),
        cmocka_unit_test(test_empty_positions),
        cmocka_unit_test(test_echo_on_the_line),
        cmocka_unit_test(test_inhibits_are_honoured),
        cmocka_unit_test(test_without_escrow_a_note_is_stacked_at_once),
        cmocka_unit_test(test_counters),
        cmocka_unit_test(test_escrow_times_out),
        cmocka_unit_test(test_route_can_fail),
        cmocka_unit_test(test_jams_and_stacker),
        cmocka_unit_test(test_ways_to_be_refused),
        cmocka_unit_test(test_watchdog_inhibits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
