/* Does the simulated validator speak MDB as published, behind the word carrier of docs/word-carrier.md? Word for word
 * over TCP. */
#include "mdb_client.h"

#include <sys/socket.h>
#include <unistd.h>

/* RFC 1662, appendix C.2: the 16-bit FCS. "123456789" gives 906E, the check value that catalogues of CRCs print for it
 * (from memory); docs/word-carrier.md states the same. */
static void test_check_value(void **state)
{
    (void)state;
    assert_int_equal(check_16((const uint8_t *)"123456789", 9), 0x906E);
}

static void expect_bytes(const struct run *run, const uint8_t *expected, size_t count)
{
    uint8_t heard[FRAME_MOST];
    hear_bytes(run, heard, count);
    assert_memory_equal(heard, expected, count);
}

static void bytes_send(const struct run *run, const void *bytes, size_t count)
{
    assert_int_equal(send(run->client, bytes, count, MSG_NOSIGNAL), count);
}

/* The bytes of a session, written out. The controller's session number is its own choice. */
static void test_literal_frames(void **state)
{
    (void)state;
    struct host host = {.session = 1};
    run_start(&host.run, FAST);
    host_hello(&host);
    const uint8_t send_setup[] = {0x7E, 0x10, 0x01, 0x33, 0x01, 0x33, 0x00};
    unsigned check = check_16(send_setup + 1, sizeof send_setup - 1);
    const uint8_t tail[] = {(uint8_t)(check & 0xFFU), (uint8_t)(check >> 8), 0x7E};
    bytes_send(&host.run, send_setup, sizeof send_setup);
    bytes_send(&host.run, tail, sizeof tail);
    const struct packet receipt = {.kind = ACKNOWLEDGE, .payload = {1}, .length = 1};
    const struct packet block = {.kind = BLOCK, .number = 1, .payload = {0x06, 0x00, 0x06, 0x01}, .length = 4};
    uint8_t frame[FRAME_MOST];
    size_t length = frame_make(&receipt, frame);
    expect_bytes(&host.run, frame, length);
    length = frame_make(&block, frame);
    expect_bytes(&host.run, frame, length);
    expect_bytes(&host.run, frame, length); /* not acknowledged: the same again after 100 ms */
    acknowledge(&host, &block);
    host.number = 1;
    ask(&host, POLL_WORDS, ACK_WORD);
    host_end(&host, 0);
}

/* Octet stuffing, shared flags, empty packets, noise between packets, damage: RFC 1662 sections 4.1 and 4.2, and
 * rules 3 and 5 of docs/word-carrier.md. */
static void test_framing(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, FAST);
    bytes_send(&host.run, "\x7E\x7E\x7E\x01\x02\x7D\x7E", 7); /* empty packets, one too short, one cut by a flag */
    bytes_send(&host.run, "\x10\x01\x33\x01\x33\x00\x00\x00\x7E", 9);
    uint8_t long_one[400];
    memset(long_one, 0x55, sizeof long_one);
    bytes_send(&host.run, long_one, sizeof long_one);
    expect_started(&host);
    const struct packet unknown = {.kind = 0x33, .number = 1, .length = 0};
    uint8_t frame[FRAME_MOST];
    size_t length = frame_make(&unknown, frame);
    bytes_send(&host.run, frame, length);
    struct packet big = {.kind = SEND, .number = 3, .length = PAYLOAD_MOST + 2};
    length = frame_make(&big, frame);
    bytes_send(&host.run, frame, length);
    ask(&host, POLL_WORDS, ACK_WORD);
    while (host.number != 0x7C) /* numbers 7D and 7E must be stuffed; so must the controller's, later */
        ask(&host, POLL_WORDS, ACK_WORD);
    ask(&host, POLL_WORDS, ACK_WORD);
    ask(&host, POLL_WORDS, ACK_WORD);
    while (host.number != 3) /* from 255 to 1 */
        ask(&host, POLL_WORDS, ACK_WORD);
    expect_log(&host.run, "packet_dropped");
    host_end(&host, 0);
}

/* Rule 1: a number seen last is acknowledged again and not used twice. */
static void test_repeated_packets(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, NOTES "wait polls 1\nevent 0B\nevent 0B\nwait events_read\nevent 0C\n");
    expect_started(&host);
    ask(&host, POLL_WORDS, "0B 0B 16*");
    const uint8_t poll[] = {0x33, 0x01, 0x33, 0x00};
    packet_send(&host, SEND, host.number, poll, sizeof poll);
    struct packet again = packet_hear(&host);
    assert_int_equal(again.kind, ACKNOWLEDGE);
    assert_int_equal(again.payload[0], host.number);
    expect_silence(&host, "00"); /* no second answer has come in between */
    ask(&host, POLL_WORDS, "0C 0C*");
    host_end(&host, 0);
}

static void test_wrong_numbers(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, FAST);
    const uint8_t poll[] = {0x33, 0x01, 0x33, 0x00};
    packet_send(&host, SEND, 2, poll, sizeof poll); /* 1 has never come */
    packet_send(&host, SEND, 0, poll, sizeof poll);
    packet_send(&host, BLOCK, 1, poll, sizeof poll);
    packet_send(&host, ACKNOWLEDGE, 0, poll, 1);
    packet_send(&host, HELLO, 0, poll, sizeof poll);
    expect_started(&host);
    words_send(&host, "");
    const uint8_t odd[] = {0x33, 0x01, 0x33};
    packet_send(&host, SEND, ++host.number, odd, sizeof odd);
    assert_int_equal(packet_hear(&host).kind, ACKNOWLEDGE);
    ask(&host, POLL_WORDS, ACK_WORD);
    expect_log(&host.run, "\"truth\":\"wrong_number\",\"number\":2}");
    host_end(&host, 0);
}

static void test_nothing_before_hello(void **state)
{
    (void)state;
    struct host host = {.session = 1};
    run_start(&host.run, FAST);
    const uint8_t poll[] = {0x33, 0x01, 0x33, 0x00};
    packet_send(&host, SEND, 1, poll, sizeof poll);
    host_hello(&host); /* the first packet heard */
    expect_started(&host);
    host_end(&host, 0);
}

/* Rule 2: HELLO again; numbers begin anew, what was under way is forgotten. */
static void test_hello_again(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, FAST "wait request setup\nevent 82\nwait kept\nwait events_read\n");
    host_hello(&host); /* the answer to the first may have been lost: the same session once more */
    expect_started(&host);
    ask(&host, "31* 31", "01 19 78 00 64 02 01 90 FF FF FF 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 86*");
    words_send(&host, POLL_WORDS);
    assert_int_equal(packet_hear(&host).kind, BLOCK); /* and we restart before acknowledging it */
    host.session = 2;
    host_hello(&host);
    expect_fault(&host, 4);
    expect_log(&host.run, "\"truth\":\"forgotten\",\"words\":[130,0,130,1]}");
    host_end(&host, 0);
}

/* Rules 2 and 4: what the device will not say again, and the host has not acknowledged, is forgotten with the session, and
 * the next one is told so. Only that: a block with a bad checksum was never acknowledged on the bus. */
static void test_forgotten_is_told(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, FAST "wait request setup\nevent 82\nwait kept\nwait connected\nwait events_read\n"
                           "fault flip on stacker byte 1 seed 3 once\nwait request stacker\nfaults off\n");
    expect_started(&host);
    ask(&host, "31* 31", "01 19 78 00 64 02 01 90 FF FF FF 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 86*");
    words_send(&host, POLL_WORDS);
    assert_int_equal(packet_hear(&host).kind, BLOCK);
    host.session = 2;
    host_hello(&host);
    expect_fault(&host, 4);
    ask(&host, POLL_WORDS, ACK_WORD);
    words_send(&host, "36* 36");
    assert_int_equal(packet_hear(&host).kind, BLOCK);
    host.session = 3;
    host_hello(&host);
    ask(&host, POLL_WORDS, ACK_WORD); /* and no FAULT */
    host_end(&host, 0);
}

/* A host at work that says HELLO with its old number answers a HELLO of ours; nobody answers an answer. */
static void test_hello_is_not_answered_for_ever(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, FAST);
    expect_started(&host);
    const uint8_t hello[] = {1, 1, 0, 0, 0x7E};
    packet_send(&host, HELLO, 0, hello, sizeof hello);
    packet_send(&host, HELLO, 1, hello, sizeof hello);
    const uint8_t old[] = {1, 9, 9, 0, 0x7E};
    packet_send(&host, HELLO, 1, old, sizeof old); /* the late answer of a host before us: begins nothing */
    ask(&host, POLL_WORDS, ACK_WORD);
    host_end(&host, 0);
}

/* MDB fact sheet of this project, section 10, rows 1 to 19 and 26; computed there from the format and command rules of
 * MDB/ICP, sections 2 and 6 (field values of the SETUP answers are the standard's examples). The host's own ACK
 * belongs to the controller. */
static void test_worked_sequences(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, FAST "device country 840\ndevice scaling 100\ndevice security 0\ndevice count 23\n"
                           "note 0 1\nnote 1 2\nnote 2 5\nnote 3 10\nnote 4 20\nnote 5 50\nnote 6 100\n"
                           "wait request bill_type\nwait request bill_type\nwait polls 1\ninsert 2 genuine\n"
                           "wait stacked\nwait events_read\ninsert 2 genuine\nwait returned\n"
                           "wait events_read\ninsert refused\nwait events_read\n");
    ask(&host, "30* 30", "00*");
    expect_poll(&host, "06 06*");
    ask(&host, "31* 31", "01 18 40 00 64 02 01 90 00 00 FF 01 02 05 0A 14 32 64 00 00 00 00 00 00 00 00 00 0B*");
    ask(&host, "32* 00 01 33", "00*");
    ask(&host, "36* 36", "00 17 17*");
    ask(&host, "34* FF FF 00 00 32", "00*");
    ask(&host, "34* 00 07 00 07 42", "00*");
    ask(&host, "33* 33", "00*");
    expect_poll(&host, "92 92*");
    ask(&host, "35* 01 36", "00*");
    expect_poll(&host, "82 82*");
    ask(&host, "36* 36", "00 18 18*");
    expect_poll(&host, "92 92*");
    ask(&host, "35* 00 35", "00*");
    expect_poll(&host, "A2 A2*");
    expect_poll(&host, "0B 0B*");
    ask(&host, "34* 00 00 00 00 34", "00*");
    expect_log(&host.run, "\"truth\":\"held\",\"note\":1,\"type\":2,\"credit\":5,\"event\":[146],\"count\":23}");
    expect_log(&host.run, "\"truth\":\"stacked\",\"note\":1,\"type\":2,\"credit\":5,\"event\":[130],\"count\":24}");
    expect_log(&host.run, "\"truth\":\"returned\",\"note\":2,\"type\":2,\"credit\":5,\"event\":[162],\"count\":24}");
    expect_log(&host.run, "\"truth\":\"rejected\",\"note\":3,\"type\":-1,\"event\":[11],\"count\":24}");
    host_end(&host, 0);
}

/* Same section, rows 4, 15, 16, 19. */
static void test_worked_answers(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, FAST "device country 978\ndevice scaling 500\ndevice security 0\ndevice count 399\n"
                           "note 0 1\nnote 1 2\nnote 2 4\nnote 3 10\nnote 4 20\nnote 5 40\nnote 6 100\n"
                           "wait request setup\ninsert 1 genuine\ninsert 1 genuine\ninsert 1 genuine\n"
                           "wait events_read\nafter enabled insert 2 genuine\nwait stacked\nstacker removed\n"
                           "wait events_read\nstacker inserted\n");
    expect_started(&host);
    ask(&host, "31* 31", "01 19 78 01 F4 02 01 90 00 00 FF 01 02 04 0A 14 28 64 00 00 00 00 00 00 00 00 00 CA*");
    ask(&host, "33* 33", "43 43*");
    ask(&host, "34* FF FF 00 00 32", "00*");
    expect_poll(&host, "82 08 8A*");
    ask(&host, "33* 33", "00*");
    ask(&host, "36* 36", "00 00 00*");
    host_end(&host, 0);
    host_start(&host, FAST "device count 400\nstacker full\n");
    ask(&host, "36* 36", "81 90 11*");
    host_end(&host, 0);
}

/* Same section, row 20: a bad checksum, RET, the good copy. */
static void test_retransmit(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, NOTES "wait events_read\nfault flip byte 1 seed 2 on poll once\nevent 82\n");
    expect_started(&host);
    words_send(&host, "33* 33");
    struct packet bad = packet_hear(&host);
    assert_int_equal(bad.length, 4);
    assert_int_equal(bad.payload[0], 0x82);
    acknowledge(&host, &bad);
    ask(&host, "AA", "82 82*");
    expect_silence(&host, "AA"); /* the controller has acknowledged it on the bus */
    expect_silence(&host, "FF");
    ask(&host, "33* 33", "00*");
    host_end(&host, 0);
}

/* Same section, rows 21 to 25, and the recycler's answers of section 4.5. */
static void test_identification_and_recycler(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, NOTES "device level 2\ndevice recycles 1 2\ndevice stored 1 3\ndevice stored 2 30\n"
                            "after enabled insert 1 genuine\nwait stacked\nrecycler fill 1\nrecycler dispense 1\n"
                            "recycler to_cash_box 2\nrecycler dispense 5\nwait events_read\n");
    expect_started(&host);
    ask(&host, "37* 00 37",
        "53 49 4D 30 30 30 30 30 30 30 30 31 32 33 34 53 49 4D 55 4C 41 54 45 44 20 20 20 01 00 3C*");
    ask(&host, "37* 02 39",
        "53 49 4D 30 30 30 30 30 30 30 30 31 32 33 34 53 49 4D 55 4C 41 54 45 44 20 20 20 01 00 00 00 00 02 3E*");
    ask(&host, "37* 01 00 00 00 02 3A", "00*");
    ask(&host, "37* 03 3A", "00 06 06*");
    ask(&host, "37* 05 3C",
        "00 04 00 00 00 03 00 1E 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 "
        "00 00 00 00 25*");
    ask(&host, "37* 04 00 00 00 03 00 00 00 00 00 00 00 00 00 00 00 00 00 00 3E", "00*");
    ask(&host, "34* FF FF 00 00 32", "00*");
    expect_poll(&host, "B1 D1 E1 F2 E5 3A*");
    ask(&host, "37* 06 01 00 02 40", "00*");
    ask(&host, "37* 08 3F",
        "00 00 00 02 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 "
        "00 00 02*");
    ask(&host, "37* 07 00 14 52", "00*"); /* 20 scaling units: 5 of 4 */
    ask(&host, "37* 08 3F",
        "00 00 00 00 00 05 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 "
        "00 00 05*");
    ask(&host, "37* 09 40", "00*");
    ask(&host, "37* 0A 41", "00*");
    ask(&host, "37* 06 01 00 09 47", "00*"); /* there are only 2 left */
    expect_log(&host.run, "\"truth\":\"paid_out\",\"type\":1,\"notes\":2}");
    host_end(&host, 0);
}

static void test_blocks_that_nobody_answers(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, FAST);
    expect_started(&host);
    expect_silence(&host, "33* 34");       /* checksum */
    expect_silence(&host, "33 33");        /* no mode bit on the address */
    expect_silence(&host, "33* 33*");      /* mode bit on a later byte */
    expect_silence(&host, "0B* 0B");       /* another address */
    expect_silence(&host, "33*");          /* no checksum */
    expect_silence(&host, "37* 02 39");    /* a level 1 device */
    expect_silence(&host, "37* FF 36");    /* diagnostics */
    expect_silence(&host, "37* 37");       /* no sub-command */
    expect_silence(&host, "34* FF FF 32"); /* too short */
    expect_silence(&host, "33* 01 34");    /* too long */
    expect_silence(&host, "33* 1000 33");  /* no word of this bus */
    expect_silence(&host, "37* 03 3A");    /* no recycler */
    ask(&host, POLL_WORDS, ACK_WORD);
    host_end(&host, 0);
    host_start(&host, FAST "device unknown nak\n");
    ask(&host, "37* 02 39", "FF*");
    host_end(&host, 0);
    host_start(&host, FAST "device unknown ack\n");
    ask(&host, "37* 02 39", "00*");
    host_end(&host, 0);
}

/* A device with legacy country code, short SETUP and tokens: sections 4.1 and 12 of the fact sheet. */
static void test_old_devices(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, FAST "device country telephone 1\ndevice setup_bytes 20\ndevice escrow no\nnote 0 token\n"
                           "device maker AB\ndevice software 1234\ndevice serial 7\ndevice model X\n");
    ask(&host, "31* 31", "01 00 01 00 64 02 01 90 FF FF 00 FF 00 00 00 00 00 00 00 00 F6*");
    ask(&host, "37* 00 37",
        "41 42 20 37 20 20 20 20 20 20 20 20 20 20 20 58 20 20 20 20 20 20 20 20 20 20 20 12 34 38*");
    host_end(&host, 0);
}

static void test_a_bus_reset(void **state)
{
    (void)state;
    struct host host;
    host_start(&host, NOTES "device says_disabled always\nwait enabled\nwait inhibited\n");
    expect_poll(&host, "06 09 0F*");
    ask(&host, ENABLE_WORDS, ACK_WORD);
    ask(&host, POLL_WORDS, ACK_WORD);
    expect_silence(&host, "8000");
    expect_poll(&host, "06 09 0F*");
    expect_poll(&host, "09 09*");
    expect_log(&host.run, "\"truth\":\"bus_reset\"");
    host_end(&host, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_check_value),
        cmocka_unit_test(test_literal_frames),
        cmocka_unit_test(test_framing),
        cmocka_unit_test(test_repeated_packets),
        cmocka_unit_test(test_wrong_numbers),
        cmocka_unit_test(test_nothing_before_hello),
        cmocka_unit_test(test_hello_again),
        cmocka_unit_test(test_forgotten_is_told),
        cmocka_unit_test(test_hello_is_not_answered_for_ever),
        cmocka_unit_test(test_worked_sequences),
        cmocka_unit_test(test_worked_answers),
        cmocka_unit_test(test_retransmit),
        cmocka_unit_test(test_identification_and_recycler),
        cmocka_unit_test(test_blocks_that_nobody_answers),
        cmocka_unit_test(test_old_devices),
        cmocka_unit_test(test_a_bus_reset),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
