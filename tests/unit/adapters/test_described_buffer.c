/*
 * An event buffer of another make than ccTalk's: newest entry last, a counter without a reset value, requests that the host
 * numbers, a shared line with echo, no self-check and no settings to watch.
 */
#include "described_rig.h"

static const char text[] =
    "{\"schema\": \"counterfoil.device/1\", \"id\": \"row\", \"version\": \"1\", \"reviewed\": \"2026-01-01\",\n"
    "\"name\": \"Row\", \"source\": \"invented\", \"confidence\": \"practice\",\n"
    "\"line\": {\"baud\": 9600, \"data_bits\": 8, \"parity\": \"none\", \"stop_bits\": 1},\n"
    "\"frame\": {\"fixed_length\": 6, \"check\": {\"kind\": \"xor\", \"from\": 0, \"to\": -2, \"at\": [-1]}},\n"
    "\"echo\": true,\n"
    "\"sequence\": {\"driven_by\": \"host\", \"at\": 0, \"mask\": \"C0\"},\n"
    "\"start\": [{\"send\": \"01 CC\", \"expect\": [{\"at\": 0, \"mask\": \"3F\", \"equals\": \"01\"}], \"proves\": "
    "true,\n"
    "  \"identity\": {\"at\": 2, \"to\": 4}}],\n"
    "\"poll\": {\"send\": \"02 CC\", \"every_ms\": 100, \"expect\": [{\"at\": 0, \"mask\": \"3F\", \"equals\": "
    "\"02\"}]},\n"
    "\"accept\": {\"none\": [{\"send\": \"03 00 CC\", \"optional\": true, \"tries\": 1}],\n"
    "  \"all\": [{\"send\": \"05 00 CC\", \"answer\": false, \"answer_ms\": 10}, {\"send\": \"03 01 CC\"}]},\n"
    "\"buffer\": {\"counter\": {\"at\": 1, \"first\": 1, \"last\": 20}, \"at\": 2, \"entry_bytes\": 1, \"entries\": "
    "3,\n"
    "  \"newest\": \"last\"},\n"
    "\"notes\": [{\"type\": 1, \"value_minor\": 500, \"currency\": \"EUR\"},\n"
    "  {\"type\": 2, \"value_minor\": 1000, \"currency\": \"EUR\"}],\n"
    "\"rules\": [\n"
    "  {\"when\": [{\"at\": 0, \"mask\": \"80\", \"equals\": \"80\"}], \"event\": \"stacked\",\n"
    "   \"note\": {\"by\": \"type\", \"at\": 0, \"mask\": \"0F\"}, \"text\": \"s\"},\n"
    "  {\"when\": [{\"at\": 0, \"equals\": \"11\"}], \"event\": \"device\", \"condition\": \"stacker_removed\",\n"
    "   \"go_on\": true, \"text\": \"box\"},\n"
    "  {\"when\": [{\"at\": 0, \"mask\": \"F0\", \"equals\": \"10\"}], \"event\": \"device\", \"condition\": "
    "\"fault\",\n"
    "   \"halts\": \"until_clear\", \"text\": \"fault\"},\n"
    "  {\"when\": [{\"at\": 0, \"equals\": \"20\"}], \"event\": \"device\", \"condition\": \"fault_cleared\", "
    "\"text\": "
    "\"well\"},\n"
    "  {\"when\": [{\"at\": 0, \"equals\": \"21\"}], \"event\": \"device\", \"condition\": \"stacker_in_place\", "
    "\"text\": "
    "\"in\"},\n"
    "  {\"when\": [{\"at\": 0, \"equals\": \"30\"}], \"event\": \"device\", \"condition\": \"restarted\", \"text\": "
    "\"new\"},\n"
    "  {\"when\": [{\"at\": 0, \"equals\": \"40\"}], \"event\": \"rejected\", \"reason\": \"handling\", \"note\": "
    "{\"type\": "
    "2}, \"halts\": \"until_accept\", \"text\": \"no\"}]}";

struct row {
    uint8_t counter;
    uint8_t entries[3];
    uint8_t name[3];
    bool accepting;
    bool silent;
    bool refuses;       /* answers 03 with another kind */
    uint32_t answers;   /* how many come instead of the right one: */
    uint8_t instead[4]; /* counter and entries */
    uint8_t spoil;      /* one in so many answers has a byte wrong */
};
static struct row row;

static void event_make(uint8_t code)
{
    row.counter = row.counter == 20 ? 1 : (uint8_t)(row.counter + 1);
    memmove(row.entries, row.entries + 1, 2);
    row.entries[2] = code;
}

static void row_hear(struct rig *rig, const uint8_t *bytes, uint32_t length)
{
    uint8_t sum = 0;
    for (uint32_t i = 0; i < length; i++)
        sum ^= bytes[i];
    assert_int_equal(sum, 0);
    rig_put(rig, bytes, length, 0); /* its echo */
    uint8_t kind = bytes[0] & 0x3F;
    if (row.silent || kind == 5)
        return;
    uint8_t answer[6] = {bytes[0], row.counter, row.entries[0], row.entries[1], row.entries[2]};
    if (kind == 1)
        memcpy(answer + 2, row.name, 3);
    if (kind == 3)
        row.accepting = bytes[1] == 1;
    if (kind == 3 && row.refuses)
        answer[0] ^= 0x80; /* the answer to another request */
    if (kind == 2 && row.answers > 0) {
        row.answers--;
        memcpy(answer + 1, row.instead, 4);
    }
    answer[5] = answer[0] ^ answer[1] ^ answer[2] ^ answer[3] ^ answer[4];
    if (row.spoil > 0 && rig_random(rig, row.spoil) == 0)
        answer[rig_random(rig, 6)] ^= 4;
    rig_put(rig, answer, 6, 3000);
}

static struct rig *begin(int32_t accept)
{
    struct rig *rig = rig_of_text(text);
    row = (struct row){.counter = 7, .name = "R 1"};
    rig->heard = row_hear;
    rig_open(rig, accept);
    rig_run(rig, 2000);
    return rig;
}

static void events_are_read_in_their_order(void **state)
{
    (void)state;
    for (int chunks = CHUNKS_WHOLE; chunks <= CHUNKS_RANDOM; chunks++) {
        struct rig *rig = begin(CFOIL_ACCEPT_ALL);
        rig->chunks = (enum rig_chunks)chunks;
        assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
        assert_true(row.accepting);
        assert_non_null(strstr(rig->events[0].text, "row/R1"));
        for (int i = 0; i < 30; i++) {
            event_make(0x81);
            event_make(0x82);
            rig_run(rig, 600);
            assert_int_equal(rig_last(rig)->value_minor, 1000);
        }
        assert_int_equal(rig_credits(rig), 60);
        assert_int_equal(rig->shortfalls, 0);
        rig_end(rig);
    }
}

static void a_jump_is_believed_after_another_look(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_ALL);
    for (int i = 0; i < 5; i++)
        event_make(0x81);
    rig_run(rig, 3000);
    assert_int_equal(rig_credits(rig), 3);
    assert_int_equal(rig->events[1].lost_count, 2);
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    rig_end(rig);
}

static void old_answers_are_not_believed(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_ALL);
    event_make(0x81);
    rig_run(rig, 600);
    event_make(0x82);
    rig_run(rig, 600);
    assert_int_equal(rig_credits(rig), 2);
    row.answers = 20; /* what it said before the last event, again and again */
    memcpy(row.instead, "\x08\x00\x00\x81", 4);
    rig_run(rig, 6000);
    assert_int_equal(rig_credits(rig), 2);
    assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS, 0), 0);
    event_make(0x81);
    rig_run(rig, 1000);
    assert_int_equal(rig_credits(rig), 3);
    row.answers = 3; /* a number that the counter never has */
    memcpy(row.instead, "\x00\x81\x81\x81", 4);
    rig_run(rig, 2000);
    row.answers = 3;
    row.instead[0] = 21;
    rig_run(rig, 2000);
    assert_int_equal(rig_credits(rig), 3);
    rig_end(rig);
}

static void a_fault_is_cleared_by_what_the_device_says(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_ALL);
    event_make(0x11); /* two rules say something about it */
    rig_run(rig, 1000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_STACKER_REMOVED), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_FAULT), 1);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    assert_false(row.accepting);
    event_make(0x20);
    rig_run(rig, 1000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_FAULT_CLEARED), 1);
    event_make(0x12);
    event_make(0x21);
    rig_run(rig, 1000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_FAULT_CLEARED), 2);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    event_make(0x12);
    rig_run(rig, 1000);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
    rig_run(rig, 1000);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
    rig_run(rig, 1000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING); /* it cannot say so itself: the host's word counts */
    event_make(0x77);
    rig_run(rig, 1000);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_UNKNOWN_CODE);
    event_make(0x40);
    rig_run(rig, 1000);
    assert_int_equal(rig_last(rig)->value_minor, 1000);
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    rig_end(rig);
}

static void what_it_says_of_a_reset_is_taken(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_ALL);
    event_make(0x30);
    event_make(0x81);
    rig_run(rig, 3000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    assert_int_equal(rig_credits(rig), 1);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    rig_end(rig);
}

static void what_it_cannot_be_told_is_left(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_HOLD); /* which it cannot */
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    assert_false(row.accepting);
    row.refuses = true; /* the step of 'none' is optional, the one of 'all' is not */
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
    rig_run(rig, 15000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_IDENTIFIED), 1);
    assert_true(rig->state_now == CFOIL_LANE_STARTING || rig->state_now == CFOIL_LANE_IDLE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
    rig_run(rig, 8000);
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    row.silent = true;
    rig_run(rig, 15000);
    assert_int_equal(rig->state_now, CFOIL_LANE_LOST);
    memset(row.name, ' ', 3); /* and what comes back does not tell its name */
    row.silent = false;
    row.refuses = false;
    rig_run(rig, 5000);
    assert_non_null(strstr(rig_last(rig)->text, "does not tell which one it is"));
    event_make(0x81);
    rig_run(rig, 1000);
    assert_int_equal(rig_credits(rig), 1);
    rig_end(rig);
}

static void a_new_life_goes_on_where_the_last_one_ended(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_ALL);
    event_make(0x81);
    rig_run(rig, 1000);
    event_make(0x82);
    rig_open(rig, CFOIL_ACCEPT_ALL);
    rig_run(rig, 2000);
    assert_int_equal(rig_credits(rig), 2);
    for (int i = 0; i < 3; i++)
        event_make(0x82); /* a buffer full of new ones */
    rig_open(rig, CFOIL_ACCEPT_ALL);
    rig_run(rig, 2000);
    assert_int_equal(rig_credits(rig), 5);
    row.entries[0] = row.entries[1] = 0x81; /* and one that does not continue */
    rig_open(rig, CFOIL_ACCEPT_ALL);
    rig_run(rig, 2000);
    assert_int_equal(rig_credits(rig), 5);
    assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS, 0), 1);
    rig_end(rig);
}

static void random_damage_invents_no_money(void **state)
{
    (void)state;
    for (uint32_t seed = 1; seed <= 40; seed++) {
        struct rig *rig = begin(CFOIL_ACCEPT_ALL);
        uint32_t stacked[3] = {0};
        rig->seed = seed;
        rig->chunks = (enum rig_chunks)(seed % 3);
        row.spoil = (uint8_t)(2 + seed % 7);
        for (int i = 0; i < 100; i++) {
            uint8_t type = (uint8_t)(1 + rig_random(rig, 2));
            stacked[type]++;
            event_make(0x80 | type);
            rig_run(rig, rig_random(rig, 2500));
        }
        row.spoil = 0;
        rig_run(rig, 5000);
        for (int type = 1; type < 3; type++) {
            assert_true(rig->credited[type] <= stacked[type]);
            assert_true(rig->credited[type] == stacked[type] || rig->shortfalls > 0);
        }
        rig_end(rig);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(events_are_read_in_their_order),
        cmocka_unit_test(a_jump_is_believed_after_another_look),
        cmocka_unit_test(old_answers_are_not_believed),
        cmocka_unit_test(a_fault_is_cleared_by_what_the_device_says),
        cmocka_unit_test(what_it_says_of_a_reset_is_taken),
        cmocka_unit_test(what_it_cannot_be_told_is_left),
        cmocka_unit_test(a_new_life_goes_on_where_the_last_one_ended),
        cmocka_unit_test(random_damage_invents_no_money),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
