/* Does the simulated validator act out resets, broken connections and line faults, each when the script says so? */
#include "cctalk_client.h"

#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

static void test_reset_in_escrow(void **state)
{
    (void)state;
    static const char *const fates[][2] = {{"returns",
                                            "\"truth\":\"returned\",\"note\":1,\"type\":2,\"id\":\"GB0010A\","
                                            "\"counter\":1}"},
                                           {"stacks", "\"truth\":\"stacked\",\"note\":1,\"type\":2,\"id\":\"GB0010A\","
                                                      "\"counter\":1}"}};
    for (size_t i = 0; i < 2; i++) {
        char script[512];
        snprintf(script, sizeof script,
                 NOTES "device on_power_loss %s\ndevice counters kept\nwait enabled\ninsert 2 genuine\n"
                       "wait held\nwait events_read\npower off 20\n",
                 fates[i][0]);
        struct run run;
        run_start(&run, script);
        enable(&run);
        expect_events(&run, "1 11 40 0 1 2 1 0 0 0 0 0 0 0 0 200");
        expect_restart(&run);
        exchange(&run, EVENTS, "1 11 40 0 0 0 0 0 0 0 0 0 0 0 0 204");
        exchange(&run, "40 0 1 230 241", "1 2 40 0 0 0 213");
        exchange(&run, "40 0 1 227 244", "1 1 40 0 0 214");
        exchange(&run, "40 0 1 152 63", "1 1 40 0 0 214");
        exchange(&run, "40 0 1 226 245", "1 3 40 0 1 0 0 211"); /* counters kept */
        expect_log(&run, "power_off");
        expect_log(&run, fates[i][1]);
        run_end(&run, 0);
    }
}

static void test_reset_and_silence(void **state)
{
    (void)state;
    struct run run;
    run_start(&run,
              "device start_ms 20\nwait answered 254\nevent 0 2\nwait polls 1\nreset\nwait polls 1\nsilence 30\n");
    expect_restart(&run);
    exchange(&run, EVENTS, "1 11 40 0 1 0 2 0 0 0 0 0 0 0 0 201");
    expect_restart(&run);
    exchange(&run, EVENTS, "1 11 40 0 0 0 0 0 0 0 0 0 0 0 0 204");
    expect_restart(&run);
    run_end(&run, 0);
}

static void test_drop_and_come_back(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "wait request 245\ndrop\nwait connected\nevent 0 2\nwait disconnected\n");
    say(&run, "40 0 1 245 226");
    hear_end(&run); /* the answer is lost with the line */
    close(run.client);
    client_connect(&run);
    expect_events(&run, "1 11 40 0 1 0 2 0 0 0 0 0 0 0 0 201");
    expect_log(&run, "disconnected");
    run_end(&run, 0);
}

static bool client_try(struct run *run)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons(run->port)};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    close(run->client);
    run->client = socket(AF_INET, SOCK_STREAM, 0);
    assert_true(run->client >= 0);
    return connect(run->client, (const struct sockaddr *)&address, sizeof address) == 0;
}

static void test_unplug_refuses_connections(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "patience 200\nwait answered 254\nunplug\nwait connected\n");
    exchange(&run, POLL, ACK);
    hear_end(&run);
    assert_false(client_try(&run));
    run_end(&run, 3);
}

static void test_unplug_and_replug(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "wait answered 254\nunplug\nthen 50 replug\nwait connected\n");
    exchange(&run, POLL, ACK);
    hear_end(&run);
    int64_t until = now_ms() + DEADLINE_MS;
    while (!client_try(&run))
        assert_true(now_ms() < until);
    exchange(&run, POLL, ACK);
    run_end(&run, 0);
}

/* One fault after the other, each on the next answer to a simple poll. */
static void test_faults_on_the_line(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "fault lost byte 2 once\nwait request 254\nfault doubled byte 3 once\nwait request 254\n"
                         "fault cut byte 3 once\nwait request 254\nfault silence once\nwait request 254\n"
                         "fault garbage bytes 2 seed 5 once\nwait request 254\nfault echo once\nwait request 254\n"
                         "fault stale on 254 once\nwait request 254\nfaults off\nfault flip byte 3 on 254 seed 3\n"
                         "wait request 254\nfaults off\n");
    exchange(&run, POLL, "1 0 0 215");
    exchange(&run, POLL, "1 0 40 0 0 215");
    exchange(&run, POLL, "1 0 40");
    say(&run, POLL); /* silence: the bytes that come next belong to the next answer */
    uint8_t garbage[7];
    say(&run, POLL);
    hear_bytes(&run, garbage, sizeof garbage);
    assert_memory_equal(garbage + 2, ((const uint8_t[]){1, 0, 40, 0, 215}), 5);
    exchange(&run, POLL, POLL " " ACK);
    exchange(&run, "40 0 1 232 239", "1 1 40 0 0 214");
    exchange(&run, POLL, "1 1 40 0 0 214 " ACK);
    uint8_t flipped[5];
    say(&run, POLL);
    hear_bytes(&run, flipped, sizeof flipped);
    assert_memory_equal(flipped, ((const uint8_t[]){1, 0, 40}), 3);
    assert_true(flipped[3] != 0 && (flipped[3] & (flipped[3] - 1)) == 0);
    exchange(&run, POLL, ACK);
    expect_log(&run, "\"truth\":\"fault\",\"kind\":\"doubled\",\"header\":254}");
    run_end(&run, 0);
}

static void test_late_and_pausing_answers(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "device reply_ms 1\nfault late 40 once\nwait request 254\nfault pause 40 byte 2 once\n");
    int64_t began = now_ms();
    exchange(&run, POLL, ACK);
    assert_true(now_ms() - began >= 40);
    began = now_ms();
    exchange(&run, POLL, "1 0");
    hear(&run, "40 0 215");
    assert_true(now_ms() - began >= 40);
    run_end(&run, 0);
}

/* The difference that matters: a lost answer was carried out, a lost request was not. */
static void test_deaf_and_silent(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "fault silence on 228 once\nfault deaf on 231 once\n");
    expect_silence(&run, MASTER_OPEN);
    exchange(&run, "40 0 1 227 244", "1 1 40 0 1 213");
    expect_silence(&run, ENABLE_TYPES);
    exchange(&run, "40 0 1 230 241", "1 2 40 0 0 0 213");
    run_end(&run, 0);
}

static unsigned silences_count(const char *fault)
{
    char script[128];
    snprintf(script, sizeof script, FAST "%s\n", fault);
    struct run run;
    run_start(&run, script);
    unsigned pattern = 0;
    for (int i = 0; i < 12; i++) {
        uint8_t first = 0;
        say(&run, POLL);
        say(&run, "40 0 1 232 239");
        hear_bytes(&run, &first, 1);
        uint8_t second = 0;
        hear_bytes(&run, &second, 1);
        bool silent = second == 1; /* the first answer heard has one data byte: it is the self-check's */
        pattern = pattern << 1 | silent;
        uint8_t rest[9];
        hear_bytes(&run, rest, silent ? 4 : 9);
    }
    run_end(&run, 0);
    return pattern;
}

static void test_when_a_fault_strikes(void **state)
{
    (void)state;
    assert_int_equal(silences_count("fault silence on 254 every 4"), 0x111);
    assert_int_equal(silences_count("fault silence on 254 every 4 times 2"), 0x110);
    assert_int_equal(silences_count("fault silence on 254 reply 3"), 0x200);
    assert_int_equal(silences_count("fault silence on 254 times 2"), 0xC00);
    assert_int_equal(silences_count("fault silence on 254 chance 100"), 0xFFF);
    unsigned some = silences_count("fault silence on 254 chance 50 seed 7");
    assert_true(some != 0 && some != 0xFFF);
    assert_int_equal(silences_count("fault silence on 254 chance 50 seed 7"), some);
    assert_int_not_equal(silences_count("fault silence on 254 chance 50 seed 8"), some);
}

static void test_repeat(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "wait polls 1\nrepeat 3\nevent 1 0\nrepeat 2\nevent 0 2\nend repeat\nend repeat\nevent 7 0\n"
                         "wait events_read\nend\n");
    exchange(&run, EVENTS, "1 11 40 0 0 0 0 0 0 0 0 0 0 0 0 204");
    exchange(&run, EVENTS, "1 11 40 0 10 7 0 0 2 0 2 1 0 0 2 180");
    hear_end(&run);
    run_end(&run, 0);
}

static void test_port_file_and_times(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "at 1 event 0 2\nafter events_read event 0 3\nwait 1 ms\nafter events_read end\n");
    char text[TEXT_MOST];
    file_read(run.port_file, text);
    assert_int_equal(strtoul(text, NULL, 10), run.port);
    expect_events(&run, "1 11 40 0 2 0 3 0 2 0 0 0 0 0 0 197");
    hear_end(&run);
    run_end(&run, 0);
}

static void test_waiting_in_vain(void **state)
{
    (void)state;
    struct run run;
    run_start(&run, FAST "patience 30\nwait held\n");
    char text[TEXT_MOST];
    hear_end(&run);
    close(run.client);
    run.client = -1;
    assert_int_equal(run_status(&run), 3);
    file_read(run.errors, text);
    assert_non_null(strstr(text, "test.sim:4: waited 30 ms in vain"));
    run_remove(&run);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reset_in_escrow),          cmocka_unit_test(test_reset_and_silence),
        cmocka_unit_test(test_drop_and_come_back),       cmocka_unit_test(test_unplug_refuses_connections),
        cmocka_unit_test(test_unplug_and_replug),        cmocka_unit_test(test_faults_on_the_line),
        cmocka_unit_test(test_late_and_pausing_answers), cmocka_unit_test(test_deaf_and_silent),
        cmocka_unit_test(test_when_a_fault_strikes),     cmocka_unit_test(test_repeat),
        cmocka_unit_test(test_port_file_and_times),      cmocka_unit_test(test_waiting_in_vain),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
