/*
 * Devices that talk in frames: numbered and acknowledged, and parted by silence alone.
 */
#include "described_head.h"
#include "described_rig.h"

/* ---- Numbered and acknowledged frames ---- */
static const char talker_text[] = HEAD
    "\"frame\": {\"begin\": \"10 02\", \"end\": \"10 03\", \"escape\": {\"byte\": \"10\", \"xor\": \"00\"},\n"
    "  \"check\": {\"kind\": \"xor\", \"from\": 2, \"to\": -4, \"at\": [-3]}},\n"
    "\"sequence\": {\"driven_by\": \"device\", \"at\": 2, \"first\": 1, \"last\": 20, \"reset\": 0},\n"
    "\"acknowledge\": {\"send\": \"10 02 00 06 CC 10 03\"},\n"
    "\"notes\": [{\"type\": 1, \"value_minor\": 500, \"currency\": \"EUR\"},\n"
    "  {\"type\": 16, \"value_minor\": 1000, \"currency\": \"EUR\"}],\n"
    "\"rules\": [{\"when\": [{\"at\": 3, \"equals\": \"01\"}], \"event\": \"stacked\",\n"
    "   \"note\": {\"by\": \"type\", \"at\": 4}, \"raw_text\": \"{x3} {4} {-1}\", \"text\": \"stacked\"},\n"
    "  {\"when\": [{\"at\": 3, \"equals\": \"00\"}], \"event\": \"nothing\"},\n"
    "  {\"when\": [{\"at\": 3, \"equals\": \"02\"}], \"event\": \"device\", \"condition\": \"stacker_in_place\",\n"
    "   \"text\": \"box\"},\n"
    "  {\"when\": [{\"at\": 3, \"equals\": \"03\"}], \"event\": \"device\", \"condition\": \"jam_safe\",\n"
    "   \"halts\": \"until_clear\", \"text\": \"jam\"}]}";

static uint8_t acknowledged[256];
static uint32_t acknowledged_count;

static void acknowledge_hear(struct rig *rig, const uint8_t *bytes, uint32_t length)
{
    (void)rig;
    uint8_t number = bytes[2] == 0x10 ? bytes[3] : bytes[2];
    assert_int_equal(length, 7 + (number == 0x10) + ((number ^ 6) == 0x10));
    acknowledged[acknowledged_count++] = number;
}

static void talk(struct rig *rig, uint8_t number, uint8_t code, uint8_t note)
{
    uint8_t body[4] = {number, code, note, (uint8_t)(number ^ code ^ note)};
    uint8_t frame[16] = {0x10, 0x02};
    uint32_t length = 2;
    for (int i = 0; i < 4; i++) {
        frame[length++] = body[i];
        if (body[i] == 0x10)
            frame[length++] = 0x10;
    }
    frame[length++] = 0x10;
    frame[length++] = 0x03;
    rig_put(rig, frame, length, 0);
    rig_run(rig, 200);
}

static struct rig *talker_begin(void)
{
    struct rig *rig = rig_of_text(talker_text);
    acknowledged_count = 0;
    rig->heard = acknowledge_hear;
    rig_open(rig, CFOIL_ACCEPT_ALL);
    return rig;
}

static void a_message_with_the_same_number_is_taken_once(void **state)
{
    (void)state;
    struct rig *rig = talker_begin();
    talk(rig, 5, 0, 0);
    assert_int_equal(acknowledged_count, 0); /* it carried no event */
    for (uint8_t number = 6; number <= 20; number++) {
        for (int i = 0; i < 3; i++)
            talk(rig, number, 1, number % 2 == 0 ? 16 : 1);
    }
    talk(rig, 1, 1, 1); /* after 20 comes 1 */
    talk(rig, 1, 1, 1);
    assert_int_equal(rig_credits(rig), 16);
    assert_int_equal(rig->event_count, 16);
    assert_int_equal(acknowledged_count, 3 * 15 + 2);
    assert_int_equal(acknowledged[0], 6);
    assert_string_equal(rig->events[0].raw_text, "01 16 3");
    rig_end(rig);
}

static void missing_numbers_are_told(void **state)
{
    (void)state;
    struct rig *rig = talker_begin();
    talk(rig, 5, 0, 0);
    talk(rig, 8, 1, 1);
    assert_int_equal(rig->events[0].kind, CFOIL_KIND_LOST_EVENTS);
    assert_int_equal(rig->events[0].lost_count, 2);
    assert_int_equal(rig_credits(rig), 1);
    talk(rig, 7, 1, 1); /* old: nobody can say what of it was told */
    assert_int_equal(rig_credits(rig), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS, 0), 2);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT);
    talk(rig, 8, 1, 1);
    assert_int_equal(rig_credits(rig), 2);
    talk(rig, 0, 1, 1); /* it counts from its reset */
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_RESTARTED), 1);
    talk(rig, 99, 1, 1); /* a number that it does not have */
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_UNKNOWN_CODE);
    rig_end(rig);
}

static void the_first_message_is_no_credit(void **state)
{
    (void)state;
    struct rig *rig = talker_begin();
    talk(rig, 99, 1, 1); /* even after one that has no good number */
    talk(rig, 5, 1, 1);
    assert_int_equal(rig_credits(rig), 0);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT);
    talk(rig, 6, 1, 1);
    assert_int_equal(rig_credits(rig), 1);
    rig_end(rig);
}

static void frames_are_found_again_after_damage(void **state)
{
    (void)state;
    static const struct {
        uint32_t length;
        uint8_t bytes[24];
    } rows[] = {
        {3, {0x55, 0x10, 0x55}},                    /* noise */
        {8, {0x10, 0x02, 7, 1, 1, 99, 0x10, 0x03}}, /* check */
        {6, {0x10, 0x02, 7, 1, 0x10, 0x02}},        /* cut short */
        {4, {0x10, 0x02, 7, 1}},                    /* and silent */
        {5, {0x10, 0x02, 7, 1, 0x10}},              /* in an escape */
        {4, {0x10, 0x02, 0x10, 0x03}},              /* too short */
        {16, {0x10, 0x02, 0x10, 0x02, 1, 1, 0x10, 0x10, 0x10, 0x02, 1, 0x10, 0x10, 0x10, 0x10, 0x02}}, /* a mess */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        for (int chunks = CHUNKS_WHOLE; chunks <= CHUNKS_RANDOM; chunks++) {
            struct rig *rig = talker_begin();
            rig->chunks = (enum rig_chunks)chunks;
            talk(rig, 5, 0, 0);
            rig_put(rig, rows[i].bytes, rows[i].length, 0);
            rig_run(rig, 500);
            talk(rig, 6, 1, 1);
            assert_int_equal(rig_credits(rig), 1);
            assert_int_equal(rig->event_count, 1); /* the device repeats what it gets no answer to: nothing is lost */
            rig_end(rig);
        }
    }
}

static void a_jam_ends_with_the_box_in_its_place(void **state)
{
    (void)state;
    struct rig *rig = talker_begin();
    talk(rig, 5, 3, 0);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    talk(rig, 6, 2, 0);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_FAULT_CLEARED), 1);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    talk(rig, 7, 2, 0);
    assert_int_equal(rig->event_count, 4);
    rig_end(rig);
}

/* ---- Frames without a mark: only silence parts them ---- */

static const char bare_text[] = HEAD
    "\"frame\": {\"fixed_length\": 3, \"check\": {\"kind\": \"sum\", \"from\": 0, \"to\": 1, \"at\": [2]}},\n"
    "\"times\": {\"byte_gap_ms\": 20},\n"
    "\"rules\": [{\"when\": [{\"at\": 0, \"equals\": \"01\"}], \"event\": \"nothing\"},\n"
    "  {\"when\": [{\"at\": 0, \"equals\": \"02\"}], \"event\": \"rejected\", \"reason\": \"handling\",\n"
    "   \"text\": \"no\"}]}";

static void without_a_mark_silence_parts_messages(void **state)
{
    (void)state;
    struct rig *rig = rig_of_text(bare_text);
    static const uint8_t good[] = {2, 7, 9, 2, 8, 10};
    static const uint8_t bad[] = {2, 7, 8, 2, 7, 9};
    rig_open(rig, CFOIL_ACCEPT_ALL);
    rig_put(rig, good, sizeof good, 0);
    rig_run(rig, 100);
    assert_int_equal(rig->event_count, 2);
    rig_put(rig, bad, sizeof bad, 0); /* what follows in one go is not believed either */
    rig_put(rig, good, sizeof good, 10000);
    rig_run(rig, 100);
    assert_int_equal(rig->event_count, 3);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_LOST_EVENTS);
    rig_put(rig, good, sizeof good, 0);
    rig_run(rig, 100);
    assert_int_equal(rig->event_count, 5);
    rig_put(rig, good, 2, 0);
    rig_run(rig, 100);
    rig_put(rig, good, 3, 0);
    rig_run(rig, 100);
    assert_int_equal(rig->event_count, 7);
    rig_end(rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_message_with_the_same_number_is_taken_once),
        cmocka_unit_test(missing_numbers_are_told),
        cmocka_unit_test(the_first_message_is_no_credit),
        cmocka_unit_test(frames_are_found_again_after_damage),
        cmocka_unit_test(a_jam_ends_with_the_box_in_its_place),
        cmocka_unit_test(without_a_mark_silence_parts_messages),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
