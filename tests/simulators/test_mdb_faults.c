/* Does the simulated MDB validator act out faults of the bus, of the carrier and of the machine, each when the script
 * says so? */
#include "mdb_client.h"

#include <sys/socket.h>
#include <unistd.h>

/* The device has started, and the faults of the script wait for that. */
static void started(struct host *host, const char *script)
{
    host_start(host, script);
    expect_started(host);
}

/* One fault after the other, each on the next answer. Lost, cut or without its mode bit, an answer breaks off. */
static void test_faults_on_the_bus(void **state)
{
    (void)state;
    struct host host;
    started(&host,
            NOTES "wait events_read\nfault lost byte 2 once\nwait request stacker\nfault doubled byte 1 once\n"
                  "wait request stacker\nfault cut byte 2 once\nwait request stacker\nfault garbage bytes 1 once\n"
                  "wait request stacker\nfault pause 2 byte 1 once\nwait request stacker\n"
                  "fault pause 1 byte 1 once\nwait request stacker\nfault framing once\nwait request stacker\n"
                  "fault flip byte 1 seed 3 once\nwait request stacker\n");
    words_send(&host, "36* 36");
    expect_fault(&host, 1);
    ask(&host, "36* 36", "00 00 00 00*");
    words_send(&host, "36* 36");
    expect_fault(&host, 1);
    words_send(&host, "36* 36");
    struct packet garbage = packet_hear(&host);
    assert_int_equal(garbage.length, 8);
    acknowledge(&host, &garbage);
    words_send(&host, "36* 36");
    expect_fault(&host, 1);
    ask(&host, "36* 36", "00 00 00*");
    words_send(&host, "36* 36");
    expect_fault(&host, 2);
    words_send(&host, "36* 36");
    struct packet flipped = packet_hear(&host);
    assert_int_equal(flipped.kind, BLOCK);
    assert_int_not_equal(flipped.payload[2] | flipped.payload[3], 0);
    expect_log(&host.run, "\"truth\":\"fault\",\"kind\":\"doubled\",\"on\":\"stacker\"}");
    host_end(&host, 0);
}

/* Lone ACKs can be lost and damaged too. */
static void test_faults_on_a_lone_ack(void **state)
{
    (void)state;
    struct host host;
    started(&host, FAST "wait events_read\nfault lost once\nwait request poll\nfault flip seed 4 once\n"
                        "wait request poll\nfault doubled once\nwait request poll\nfault stale once\n");
    expect_silence(&host, POLL_WORDS);
    words_send(&host, POLL_WORDS);
    struct packet flipped = packet_hear(&host);
    assert_true(flipped.kind == FAULT || (flipped.payload[0] != 0 && flipped.length == 2));
    acknowledge(&host, &flipped);
    ask(&host, POLL_WORDS, ACK_WORD);
    ask(&host, "36* 36", "00*");
    ask(&host, "36* 36", "00 00 00*");
    host_end(&host, 0);
}

/* The difference that matters: a lost answer was carried out, a lost command and a NAK were not. */
static void test_silent_deaf_and_nak(void **state)
{
    (void)state;
    struct host host;
    started(&host, NOTES "fault silence on bill_type once\nfault deaf on escrow once\nfault nak on escrow reply 1\n"
                         "wait enabled\ninsert 2 genuine\nwait stacked\n");
    expect_silence(&host, ENABLE_WORDS);
    expect_poll(&host, "92 92*");
    expect_silence(&host, "35* 01 36");
    ask(&host, "35* 01 36", "FF*");
    ask(&host, POLL_WORDS, ACK_WORD);
    ask(&host, "35* 01 36", ACK_WORD);
    expect_poll(&host, "82 82*");
    ask(&host, "35* 01 36", ACK_WORD);
    expect_poll(&host, "0A 0A*");
    host_end(&host, 0);
}

/* MDB fact sheet, section 6: what is not acknowledged is sent again on the next POLL. */
static void test_what_is_not_acknowledged_comes_again(void **state)
{
    (void)state;
    struct host host;
    started(&host, NOTES "wait events_read\nevent 82\nfault ack_lost on poll once\nwait polls 1\nwait polls 1\n"
                         "wait events_read\nevent 81\nfault late 6 on poll once\nwait polls 1\nevent 0B\n"
                         "wait events_read\nfault late 4 once\nfault stale on poll every 2\n");
    ask(&host, POLL_WORDS, "82 82*");
    ask(&host, POLL_WORDS, "82 82*");
    expect_silence(&host, POLL_WORDS); /* too late */
    ask(&host, POLL_WORDS, "81 0B 8C*");
    ask(&host, POLL_WORDS, ACK_WORD); /* 5 ms is not too late */
    ask(&host, "36* 36", "00 00 00*");
    ask(&host, POLL_WORDS, "00 00 00*"); /* the answer before, instead */
    expect_log(&host.run, "\"truth\":\"too_late\",\"ms\":7}");
    host_end(&host, 0);
}

static void test_strays_are_passed(void **state)
{
    (void)state;
    struct host host;
    started(&host, FAST "device strays passed\nwait events_read\nfault late 40 on poll once\nwait polls 1\n"
                        "fault doubled byte 2 once\n");
    int64_t began = now_ms();
    ask(&host, POLL_WORDS, ACK_WORD);
    assert_true(now_ms() - began >= 40);
    ask(&host, "36* 36", "00 00 00*");
    expect_block(&host, "00*"); /* the second checksum looks like an ACK */
    host_end(&host, 0);
}

static void test_retransmit_can_be_ignored(void **state)
{
    (void)state;
    struct host host;
    started(&host,
            FAST "device retransmit ignored\nwait events_read\nevent 0B\nfault flip byte 0 seed 1 on poll once\n");
    words_send(&host, POLL_WORDS);
    struct packet bad = packet_hear(&host);
    acknowledge(&host, &bad);
    expect_silence(&host, "AA");
    ask(&host, POLL_WORDS, "0B 0B*");
    host_end(&host, 0);
}

/* Each damaged packet is dropped by the host, and comes again with the same number. */
static void test_faults_of_the_carrier(void **state)
{
    (void)state;
    static const char *const faults[] = {"carrier_lost byte 3", "carrier_doubled byte 2", "carrier_flip byte 2 seed 5",
                                         "carrier_cut byte 4",  "carrier_silence",        "carrier_garbage bytes 5",
                                         "carrier_stale",       "carrier_late 30",        "carrier_pause 30 byte 3",
                                         "carrier_lost byte 0"};
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        char script[200];
        snprintf(script, sizeof script, FAST "wait events_read\nfault %s on block once\nevent 0B\n", faults[i]);
        struct host host;
        started(&host, script);
        words_send(&host, "31* 31");
        struct packet setup = packet_hear(&host);
        if (setup.kind == ACKNOWLEDGE) /* it came once more */
            setup = packet_hear(&host);
        assert_int_equal(setup.kind, BLOCK); /* damaged once, if it was that, it came again */
        acknowledge(&host, &setup);
        ask(&host, POLL_WORDS, "0B 0B*");
        expect_log(&host.run, "\"truth\":\"fault\",\"kind\":\"carrier_");
        host_end(&host, 0);
    }
}

/* A packet of ours is damaged on its way in; the same again, and it is used once. */
static void test_faults_from_the_host(void **state)
{
    (void)state;
    static const char *const faults[] = {"host_lost byte 2", "host_doubled byte 2", "host_flip byte 2",
                                         "host_cut byte 3",  "host_silence",        "host_garbage"};
    const uint8_t poll[] = {0x33, 0x01, 0x33, 0x00};
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        char script[200];
        snprintf(script, sizeof script, FAST "wait events_read\nfault %s on send once\n", faults[i]);
        struct host host;
        started(&host, script);
        int number = host.number + 1;
        packet_send(&host, SEND, number, poll, sizeof poll); /* lost */
        words_send(&host, POLL_WORDS);
        expect_block(&host, ACK_WORD);
        assert_int_equal(host.number, number);
        expect_log(&host.run, "\"on\":\"send\"}");
        host_end(&host, 0);
    }
}

/* Rule 1: a host that slept for long gets its block all the same. */
static void test_the_controller_never_gives_up(void **state)
{
    (void)state;
    struct host host;
    started(&host, FAST "wait events_read\nevent 0B\n");
    words_send(&host, POLL_WORDS);
    int number = packet_hear(&host).number;
    struct packet again = {0};
    for (int i = 0; i < 25; i++) {
        again = packet_hear(&host);
        assert_int_equal(again.number, number);
    }
    expect_log(&host.run, "repeated_in_vain");
    acknowledge(&host, &again);
    ask(&host, POLL_WORDS, ACK_WORD);
    host_end(&host, 0);
}

/* When the memory is full, nothing more is acknowledged on the bus: the device keeps it. */
static void test_the_memory_is_full(void **state)
{
    (void)state;
    struct host host;
    started(&host, FAST "wait events_read\nevent 0B\nfault carrier_silence on block\nwait answered poll\n"
                        "wait disconnected\n");
    for (int i = 0; i < 8; i++)
        words_send(&host, "31* 31");
    words_send(&host, POLL_WORDS);
    host.session = 2;
    host_hello(&host);
    expect_fault(&host, 4);
    words_send(&host, POLL_WORDS);
    expect_silence(&host, "FF");
    host_end(&host, 0);
}

static void test_controller_restarts(void **state)
{
    (void)state;
    struct host host;
    started(&host, NOTES "wait events_read\nevent 82\nfault carrier_silence on block\nwait kept\nfaults off\n"
                         "controller restarts 50\n");
    const uint8_t poll[] = {0x33, 0x01, 0x33, 0x00};
    packet_send(&host, SEND, host.number + 1, poll, sizeof poll);
    struct packet hello = packet_hear(&host);
    assert_int_equal(hello.kind, HELLO);
    hello = packet_hear(&host); /* nobody has answered: again after 500 ms */
    assert_int_equal(hello.kind, HELLO);
    const uint8_t answer[] = {1, 1, 0, 0, 0x7E};
    packet_send(&host, HELLO, 1, answer, sizeof answer);
    host.number = host.seen = 0;
    expect_fault(&host, 3);
    ask(&host, POLL_WORDS, ACK_WORD); /* the device had got its ACK */
    expect_log(&host.run, "\"truth\":\"forgotten\",\"words\":[130,0,130,1]}");
    expect_log(&host.run, "\"truth\":\"controller_restarted\",\"kept\":1}");
    host_end(&host, 0);
}

static void test_drop_and_come_back(void **state)
{
    (void)state;
    struct host host;
    started(&host, FAST "wait request setup\nevent 0B\ndrop\nwait connected\nwait events_read\nend\n");
    const uint8_t setup[] = {0x31, 0x01, 0x31, 0x00};
    packet_send(&host, SEND, host.number + 1, setup, sizeof setup);
    hear_end(&host.run);
    close(host.run.client);
    client_connect(&host.run);
    host.session = 2;
    host_hello(&host);
    expect_fault(&host, 4); /* the answer to SETUP */
    expect_poll(&host, "0B 0B*");
    host_end(&host, 0);
}

static void test_reset_in_escrow(void **state)
{
    (void)state;
    static const char *const fates[][2] = {
        {"returns", "\"truth\":\"returned\",\"note\":1,\"type\":2,\"credit\":4,\"count\":0}"},
        {"stacks", "\"truth\":\"stacked\",\"note\":1,\"type\":2,\"credit\":4,\"count\":1}"}};
    for (size_t i = 0; i < 2; i++) {
        char script[400];
        snprintf(script, sizeof script,
                 NOTES "device on_power_loss %s\nwait enabled\ninsert 2 genuine\nwait held\nwait events_read\n"
                       "power off 300\nwait events_read\nsilence 5000\n",
                 fates[i][0]);
        struct host host;
        started(&host, script);
        ask(&host, ENABLE_WORDS, ACK_WORD);
        expect_poll(&host, "92 92*");
        expect_silence(&host, POLL_WORDS);
        expect_poll_after_silence(&host, "06 06*");
        expect_silence(&host, POLL_WORDS);
        expect_log(&host.run, "\"truth\":\"power_off\",\"unread\":0}");
        expect_log(&host.run, fates[i][1]);
        host_end(&host, 0);
    }
}

static void test_events_kept_over_a_reset(void **state)
{
    (void)state;
    struct host host;
    started(&host, FAST "device events kept\nwait events_read\nevent 82\nreset\n");
    ask(&host, POLL_WORDS, "06 82 88*");
    expect_log(&host.run, "\"truth\":\"reset\",\"unread\":1}");
    host_end(&host, 0);
}

static void test_jams_and_pulls(void **state)
{
    (void)state;
    struct host host;
    started(&host,
            NOTES "wait enabled\ninsert 1 pulled\nwait finished\nwait events_read\ninsert 2 genuine\nwait held\n"
                  "wait events_read\npull\nwait events_read\npull\nwait events_read\ninsert 0 jams\nwait finished\n"
                  "wait polls 2\ninsert 0 genuine\nclear\njam\nwait polls 1\nclear\n");
    ask(&host, ENABLE_WORDS, ACK_WORD);
    expect_poll(&host, "07 A1 A8*");
    expect_poll(&host, "92 92*");
    expect_poll(&host, "07 A2 A9*");
    expect_poll(&host, "07 07*");
    ask(&host, POLL_WORDS, "05 05*");
    ask(&host, POLL_WORDS, "05 05*");
    ask(&host, POLL_WORDS, "05 05*");
    ask(&host, POLL_WORDS, ACK_WORD);
    expect_log(&host.run, "\"truth\":\"pulled\",\"note\":1,\"type\":1");
    expect_log(&host.run, "\"truth\":\"jammed\",\"note\":3,\"type\":0");
    expect_log(&host.run, "\"truth\":\"not_taken\",\"note\":4,\"type\":0");
    expect_log(&host.run, "\"truth\":\"removed\",\"note\":3,\"type\":0");
    host_end(&host, 0);
}

static void test_jams_on_the_way_to_the_stacker(void **state)
{
    (void)state;
    struct host host;
    started(&host,
            NOTES "device statuses once\nwait enabled\ninsert 1 jams_in_stacker\nwait finished\nwait events_read\n"
                  "clear\ninsert 1 jams_within_reach\nwait finished\nwait events_read\nclear\ninsert 3 genuine\n"
                  "wait held\nwait events_read\njam\nwait events_read\n");
    ask(&host, "34* FF FF 00 08 3A", ACK_WORD);
    expect_poll(&host, "05 05*");
    expect_poll(&host, "05 A1 A6*");
    expect_poll(&host, "93 93*");
    expect_poll(&host, "05 05*");
    ask(&host, POLL_WORDS, ACK_WORD);
    host_end(&host, 0);
}

static void test_statuses(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, NOTES "device says_disabled once\nwait events_read\nstatus motor\nwait polls 1\nstatus sensor\n"
                            "wait polls 1\nstatus busy\nwait polls 1\nstatus rom\nwait polls 1\nstatus good\n"
                            "wait enabled\nwait inhibited\n");
    expect_poll(&host, "06 09 0F*");
    ask(&host, POLL_WORDS, "01 01*");
    ask(&host, POLL_WORDS, "02 02*");
    ask(&host, POLL_WORDS, "03 03*");
    ask(&host, POLL_WORDS, "04 04*");
    ask(&host, POLL_WORDS, ACK_WORD);
    ask(&host, ENABLE_WORDS, ACK_WORD);
    ask(&host, "34* 00 00 00 00 34", ACK_WORD);
    ask(&host, POLL_WORDS, "09 09*");
    host_end(&host, 0);
}

static void test_counting(void **state)
{
    (void)state;
    static const char *const words[][2] = {{"right", "00 01 01*"}, {"stuck", "00 00 00*"}, {"jumps", "00 02 02*"}};
    for (size_t i = 0; i < 3; i++) {
        char script[300];
        snprintf(script, sizeof script, NOTES "device counting %s\nwait enabled\ninsert 1 genuine\nwait stacked\n",
                 words[i][0]);
        struct host host;
        started(&host, script);
        ask(&host, "34* FF FF 00 00 32", ACK_WORD);
        expect_poll(&host, "81 81*");
        ask(&host, "36* 36", words[i][1]);
        host_end(&host, 0);
    }
}

static void test_unsaid_and_recycled(void **state)
{
    (void)state;
    struct host host;
    started(&host, NOTES "device level 2\ndevice recycles 1\ndevice recycling yes\ndevice holds 1\nwait enabled\n"
                         "insert 2 unsaid\nwait stacked\ninsert 1 genuine\nwait finished\ninsert 1 genuine\n"
                         "wait finished\ncount 9\n");
    ask(&host, "34* FF FF 00 00 32", ACK_WORD);
    expect_poll(&host, "B1 81 32*");
    ask(&host, "36* 36", "00 09 09*");
    expect_log(&host.run, "\"truth\":\"stacked\",\"note\":1,\"type\":2,\"credit\":4,\"count\":1}");
    host_end(&host, 0);
}

static void test_refusals(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, NOTES "repeat 40\ninsert 1 genuine\nend repeat\nwait enabled\ninsert 3 genuine\nwait rejected\n"
                            "wait events_read\ninsert refused\n");
    expect_poll(&host, "06 5F 49 AE*");
    ask(&host, "34* 00 07 00 07 42", ACK_WORD);
    expect_poll(&host, "C3 C3*");
    expect_poll(&host, "0B 0B*");
    host_end(&host, 0);
}

static void test_escrow_times_out(void **state)
{
    (void)state;
    struct host host;
    started(&host, NOTES "device escrow_timeout_ms 40\nwait enabled\ninsert 2 genuine\nwait returned\n");
    ask(&host, ENABLE_WORDS, ACK_WORD);
    expect_poll(&host, "92 92*");
    expect_poll(&host, "A2 A2*");
    expect_log(&host.run, "escrow_timeout");
    host_end(&host, 0);
}

static void test_long_answers(void **state)
{
    (void)state;
    struct host host;
    started(&host, FAST "wait events_read\nrepeat 17\nevent 0B\nend repeat\n");
    ask(&host, POLL_WORDS, "0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B B0*");
    ask(&host, POLL_WORDS, "0B 0B*");
    host_end(&host, 0);
    started(&host, FAST "device poll_bytes 17\nwait events_read\nrepeat 17\nevent 0B\nend repeat\n");
    ask(&host, POLL_WORDS, "0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B 0B BB*");
    host_end(&host, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_faults_on_the_bus),
        cmocka_unit_test(test_faults_on_a_lone_ack),
        cmocka_unit_test(test_silent_deaf_and_nak),
        cmocka_unit_test(test_what_is_not_acknowledged_comes_again),
        cmocka_unit_test(test_strays_are_passed),
        cmocka_unit_test(test_retransmit_can_be_ignored),
        cmocka_unit_test(test_faults_of_the_carrier),
        cmocka_unit_test(test_faults_from_the_host),
        cmocka_unit_test(test_the_controller_never_gives_up),
        cmocka_unit_test(test_the_memory_is_full),
        cmocka_unit_test(test_controller_restarts),
        cmocka_unit_test(test_drop_and_come_back),
        cmocka_unit_test(test_reset_in_escrow),
        cmocka_unit_test(test_events_kept_over_a_reset),
        cmocka_unit_test(test_jams_and_pulls),
        cmocka_unit_test(test_jams_on_the_way_to_the_stacker),
        cmocka_unit_test(test_statuses),
        cmocka_unit_test(test_counting),
        cmocka_unit_test(test_unsaid_and_recycled),
        cmocka_unit_test(test_refusals),
        cmocka_unit_test(test_escrow_times_out),
        cmocka_unit_test(test_long_answers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
