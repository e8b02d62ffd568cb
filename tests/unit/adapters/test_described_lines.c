/*
 * Devices that talk by themselves: the detector of examples/descriptions, a device with numbered and acknowledged frames,
 * and one with commands. Every damage that a line can do.
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

static void say(struct rig *rig, const char *text)
{
    rig_put_text(rig, text);
    rig_run(rig, 1000);
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
        say(rig, "ALIVE\r\n");
        for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
            say(rig, rows[i].line);
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
        say(rig, "PASS;EUR20\r\n");
        assert_int_equal(rig->event_count, sizeof rows / sizeof rows[0]);
        assert_int_equal(rig->sent_count, 0);
        rig_end(rig);
    }
}

static void the_same_line_twice_is_two_notes(void **state)
{
    (void)state;
    struct rig *rig = detector_begin(CHUNKS_WHOLE);
    say(rig, "ALIVE\r\nFAIL;EUR20;UV\r\nFAIL;EUR20;UV\r\n");
    assert_int_equal(rig_count(rig, CFOIL_KIND_REJECTED, 0), 2);
    rig_end(rig);
}

static void lines_that_are_not_known_are_told(void **state)
{
    (void)state;
    struct rig *rig = detector_begin(CHUNKS_WHOLE);
    say(rig, "LO\r\n"); /* perhaps the end of HELLO: not told */
    assert_int_equal(rig->event_count, 0);
    say(rig, "ALIVE\r\nFAIL;EUR20;XRAY\r\n\r\nFAIL\r\n");
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_UNKNOWN_CODE), 2);
    assert_string_equal(rig->events[0].raw_text, "FAIL;EUR20;XRAY");
    say(rig,
        "FAIL;XXX7;UV\r\n"); /* a note that is not in the table has no value, and the refusal is told all the same */
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_REJECTED);
    assert_string_equal(rig_last(rig)->currency, "");
    say(rig, "FAIL;?;NONE\r\n");
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
            say(rig, damaged[i]); /* before the first good line nobody was listening yet */
            assert_int_equal(rig->event_count, 0);
            say(rig, "ALIVE\r\n");
            say(rig, damaged[i]);
            assert_int_equal(rig->event_count, 1);
            assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_LOST_EVENTS);
            assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_LINE_NOISY);
            say(rig, "FAIL;EUR20;UV\r\n");
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
    say(rig, "ALIVE\r\n");
    say(rig, "FAIL;EUR20;U"); /* and then nothing for a second */
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_LOST_EVENTS);
    say(rig, "FAIL;EUR20;IR\r\n"); /* may be the end of a line that began as 'NO ' */
    assert_int_equal(rig->event_count, 1);
    say(rig, "FAIL;EUR20;IR\r\n");
    assert_int_equal(rig->event_count, 2);
    /* What comes during the pause is still the same line. */
    rig_put_text(rig, "FAIL;EU");
    rig_run(rig, 200);
    say(rig, "R20;IR\r\n");
    assert_int_equal(rig->event_count, 3);
    rig_end(rig);
}

static void a_jam_halts_until_the_detector_is_ready(void **state)
{
    (void)state;
    struct rig *rig = detector_begin(CHUNKS_WHOLE);
    say(rig, "ALIVE\r\nJAM\r\n");
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    say(rig, "READY\r\n");
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_FAULT_CLEARED), 1);
    say(rig, "READY\r\n");
    say(rig, "CLEAN\r\nSKEW\r\n");
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    assert_int_equal(rig_last(rig)->reason, CFOIL_REASON_HANDLING);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    say(rig, "HELLO\r\n");
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    rig_end(rig);
}

static void a_silent_detector_is_lost_until_it_speaks(void **state)
{
    (void)state;
    struct rig *rig = detector_begin(CHUNKS_WHOLE);
    say(rig, "ALIVE\r\n");
    rig_run(rig, 40000);
    assert_int_equal(rig->state_now, CFOIL_LANE_LOST);
    say(rig, "ALIVE\r\n");
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
        say(rig, rows[i].text);
        assert_int_equal(rig->event_count, 1);
        assert_string_equal(rig->events[0].raw_text, "NO");
        rig_run(rig, 600000);
        assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING); /* no time was given after which it is lost */
        rig_end(rig);
    }
}

/* ---- Numbered and acknowledged frames ---- */

#define HEAD                                                                                                           \
    "{\"schema\": \"counterfoil.device/1\", \"id\": \"talker\", \"version\": \"1\", \"reviewed\": \"2026-01-01\",\n"   \
    "\"name\": \"Talker\", \"source\": \"invented\", \"confidence\": \"practice\",\n"                                  \
    "\"line\": {\"baud\": 9600, \"data_bits\": 8, \"parity\": \"none\", \"stop_bits\": 1},\n"

/* 10 02 | number | code | note | xor | 10 03, with 10 doubled inside. */
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

/* ---- A talking device with commands and a note in escrow ---- */

static const char escrow_text[] = HEAD
    "\"lines\": {\"end\": \"LF\", \"length_max\": 40, \"separator\": \" \"},\n"
    "\"start\": [{\"send\": \"WHO\", \"expect\": [{\"field\": 1, \"text\": \"TALKER\"}], \"proves\": true,\n"
    "  \"identity\": {\"field\": 2}, \"tries\": 2},\n"
    "  {\"send\": \"QUIET\", \"answer\": false, \"answer_ms\": 20}],\n"
    "\"accept\": {\"none\": [{\"send\": \"OFF\", \"expect\": [{\"at\": 0, \"text\": \"OK OFF\"}]}],\n"
    "  \"all\": [{\"send\": \"ON\", \"expect\": [{\"at\": 0, \"text\": \"OK ON\"}]}]},\n"
    "\"held\": {\"stack\": {\"send\": \"TAKE\", \"expect\": [{\"at\": 0, \"text\": \"OK TAKE\"}], \"tries\": 1},\n"
    "  \"return\": {\"send\": \"GIVE\", \"expect\": [{\"at\": 0, \"text\": \"OK GIVE\"}], \"tries\": 1},\n"
    "  \"extend\": {\"send\": \"KEEP\", \"expect\": [{\"at\": 0, \"text\": \"OK KEEP\"}], \"tries\": 1},\n"
    "  \"extend_every_ms\": 1000},\n"
    "\"self_check\": {\"exchange\": {\"send\": \"CHECK\", \"expect\": [{\"field\": 2, \"from\": 0, \"to\": 9}]},\n"
    "  \"every_ms\": 2000},\n"
    "\"watch\": {\"exchange\": {\"send\": \"MODE\", \"expect\": [{\"at\": 0, \"text\": \"MODE 1\"}], \"tries\": 1},\n"
    "  \"every_ms\": 5000},\n"
    "\"times\": {\"silence_ms\": 20000, \"outcome_ms\": 3000},\n"
    "\"notes\": [{\"type\": 1, \"value_minor\": 500, \"currency\": \"EUR\"},\n"
    "  {\"type\": 2, \"value_minor\": 1000, \"currency\": \"EUR\"}],\n"
    "\"rules\": [{\"when\": [{\"field\": 1, \"text\": \"HELD\"}], \"event\": \"held\",\n"
    "   \"note\": {\"by\": \"type\", \"field\": 2}, \"text\": \"held\"},\n"
    "  {\"when\": [{\"field\": 1, \"text\": \"STACKED\"}], \"event\": \"stacked\", \"after_held\": true,\n"
    "   \"note\": {\"by\": \"type\", \"field\": 2}, \"raw_text\": \"s{f2}\", \"text\": \"stacked\"},\n"
    "  {\"when\": [{\"field\": 1, \"text\": \"BACK\"}], \"event\": \"returned\", \"text\": \"back\"},\n"
    "  {\"when\": [{\"field\": 1, \"text\": \"STUCK\"}], \"event\": \"device\", \"condition\": \"jam_safe\",\n"
    "   \"halts\": \"until_clear\", \"text\": \"jam\"}]}";

struct talker {
    char heard[64][16];
    uint32_t heard_count;
    const char *name;
    bool silent;
    bool moves; /* carries TAKE and GIVE out */
    bool refuses;
    char held;
    char check;
    char mode;
    uint32_t stacked;
};
static struct talker talker;

static void answer(struct rig *rig, const char *text)
{
    if (!talker.silent)
        rig_put(rig, text, (uint32_t)strlen(text), 3000);
}

static void talker_hear(struct rig *rig, const uint8_t *bytes, uint32_t length)
{
    char line[32] = "";
    char text[64];
    memcpy(line, bytes, length - 1);
    assert_int_equal(bytes[length - 1], '\n');
    snprintf(talker.heard[talker.heard_count++ % 64], 16, "%.15s", line);
    if (strcmp(line, "WHO") == 0)
        snprintf(text, sizeof text, "%s 77\n", talker.name);
    else if (strcmp(line, "CHECK") == 0)
        snprintf(text, sizeof text, "CHECK %c\n", talker.check);
    else if (strcmp(line, "MODE") == 0)
        snprintf(text, sizeof text, "MODE %c\n", talker.mode);
    else
        snprintf(text, sizeof text, talker.refuses ? "NO %s\n" : "OK %s\n", line);
    if (strcmp(line, "ON") == 0)
        talker.mode = '1';
    if (strcmp(line, "QUIET") != 0)
        answer(rig, text);
    bool take = strcmp(line, "TAKE") == 0;
    if (!talker.moves || talker.held == 0 || (!take && strcmp(line, "GIVE") != 0))
        return;
    snprintf(text, sizeof text, take ? "STACKED %c\n" : "BACK\n", talker.held);
    talker.stacked += take ? 1 : 0;
    talker.held = 0;
    rig_put(rig, text, (uint32_t)strlen(text), 300000);
}

static struct rig *talk_begin(int32_t accept)
{
    struct rig *rig = rig_of_text(escrow_text);
    talker = (struct talker){.name = "TALKER", .moves = true, .check = '0', .mode = '0'};
    rig->heard = talker_hear;
    rig_open(rig, accept);
    rig_run(rig, 1000);
    return rig;
}

static void hold_note(struct rig *rig, char type)
{
    char text[16];
    talker.held = type;
    snprintf(text, sizeof text, "HELD %c\n", type);
    say(rig, text);
}

static bool heard(const char *line)
{
    for (uint32_t i = 0; i < 64; i++) {
        if (strcmp(talker.heard[i], line) == 0)
            return true;
    }
    return false;
}

static void a_talking_device_is_commanded(void **state)
{
    (void)state;
    for (int chunks = CHUNKS_WHOLE; chunks <= CHUNKS_RANDOM; chunks++) {
        struct rig *rig = talk_begin(CFOIL_ACCEPT_HOLD);
        rig->chunks = (enum rig_chunks)chunks;
        assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
        assert_true(heard("WHO") && heard("QUIET") && heard("CHECK") && heard("ON"));
        assert_non_null(strstr(rig->events[0].text, "talker/77"));
        hold_note(rig, '2');
        assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
        rig_run(rig, 3000);
        assert_true(heard("KEEP"));
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
        rig_run(rig, 1000);
        assert_int_equal(rig_credits(rig), 1);
        assert_int_equal(rig_last(rig)->value_minor, 1000);
        assert_string_equal(rig_last(rig)->raw_text, "s2");
        hold_note(rig, '1');
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_OK);
        rig_run(rig, 1000);
        assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_RETURNED);
        assert_int_equal(rig_last(rig)->value_minor, 500);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
        rig_run(rig, 1000);
        assert_true(heard("OFF"));
        assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
        rig_end(rig);
    }
}

static void a_doubled_word_of_money_is_taken_once(void **state)
{
    (void)state;
    struct rig *rig = talk_begin(CFOIL_ACCEPT_HOLD);
    hold_note(rig, '2');
    say(rig, "STACKED 2\nSTACKED 2\n");
    assert_int_equal(rig_credits(rig), 1);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    hold_note(rig, '2');
    say(rig, "STACKED 1\n"); /* not the note that is held */
    assert_int_equal(rig_credits(rig), 1);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    say(rig, "STACKED 2\n"); /* late, of the note whose fate was not known */
    assert_int_equal(rig_credits(rig), 2);
    say(rig, "STACKED 2\n");
    assert_int_equal(rig_credits(rig), 2);
    rig_end(rig);
}

static void a_note_that_does_not_move_is_told(void **state)
{
    (void)state;
    struct rig *rig = talk_begin(CFOIL_ACCEPT_ALL);
    talker.moves = false;
    hold_note(rig, '2');
    rig_run(rig, 2000);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
    rig_run(rig, 3000);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_OUTCOME_UNKNOWN);
    talker.refuses = true;
    hold_note(rig, '1');
    rig_run(rig, 6000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 2);
    rig_end(rig);
}

static void two_held_notes_are_one_too_many(void **state)
{
    (void)state;
    struct rig *rig = talk_begin(CFOIL_ACCEPT_HOLD);
    hold_note(rig, '2');
    hold_note(rig, '1');
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    say(rig, "NOISE\x01\n"); /* a line is lost: perhaps what became of the note */
    assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS, 0), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 2);
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    rig_end(rig);
}

static void a_stranger_is_sent_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_of_text(escrow_text);
    talker = (struct talker){.name = "PRINTER"};
    rig->heard = talker_hear;
    rig_open(rig, CFOIL_ACCEPT_HOLD);
    rig_run(rig, 500);
    say(rig, "STACKED 1\n");
    rig_run(rig, 60000);
    assert_int_equal(rig->event_count, 0);
    for (uint32_t i = 0; i < talker.heard_count && i < 64; i++)
        assert_string_equal(talker.heard[i], "WHO");
    rig_end(rig);
}

static void the_self_check_halts_and_clears(void **state)
{
    (void)state;
    struct rig *rig = rig_of_text(escrow_text);
    talker = (struct talker){.name = "TALKER", .moves = true, .check = 'X', .mode = '0'};
    rig->heard = talker_hear;
    rig_open(rig, CFOIL_ACCEPT_HOLD);
    rig_run(rig, 3000); /* a talking device that gives another answer gives none to the question */
    talker.check = '3';
    rig_run(rig, 3000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    say(rig, "STUCK\n");
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_FAULT_CLEARED), 1); /* sound at once */
    talker.check = 'X';
    say(rig, "STUCK\n");
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    assert_true(heard("OFF"));
    /* The host's word does not repair it. */
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
    rig_run(rig, 1000);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    talker.check = '0';
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    rig_end(rig);
}

static void a_device_that_does_not_take_its_settings_is_started_again(void **state)
{
    (void)state;
    struct rig *rig = rig_of_text(escrow_text);
    talker = (struct talker){.name = "TALKER", .check = '0', .mode = '0', .refuses = true};
    rig->heard = talker_hear;
    rig_open(rig, CFOIL_ACCEPT_HOLD);
    rig_run(rig, 10000);
    assert_int_equal(rig->state_now, CFOIL_LANE_STARTING);
    talker.refuses = false;
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    talker.silent = true;
    rig_run(rig, 30000);
    assert_int_equal(rig->state_now, CFOIL_LANE_LOST);
    talker.silent = false;
    rig_run(rig, 10000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    talker.name = "TALKER2"; /* another device in its place */
    rig_end(rig);
}

static void random_noise_invents_no_money(void **state)
{
    (void)state;
    for (uint32_t seed = 1; seed <= 40; seed++) {
        struct rig *rig = talk_begin(CFOIL_ACCEPT_HOLD);
        rig->seed = seed;
        rig->chunks = (enum rig_chunks)(seed % 3);
        rig->policy = RIG_MIXED;
        for (int i = 0; i < 200; i++) {
            static const char *const lines[] = {"HELD 1\n", "HELD 2\n", "BACK\n", "STUCK\n", "HELD 7\n", "\n"};
            uint32_t pick = rig_random(rig, 9);
            uint8_t noise = (uint8_t)rig_random(rig, 256);
            if (pick < 6) {
                talker.held = pick < 2 ? (char)('1' + pick) : talker.held;
                rig_put_text(rig, lines[pick]);
            } else {
                rig_put(rig, &noise, 1, rig_random(rig, 3000));
            }
            rig_run(rig, 1 + rig_random(rig, 2500));
            if (rig_random(rig, 10) == 0)
                (void)rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD);
        }
        rig_run(rig, 10000);
        assert_true(rig_credits(rig) <= talker.stacked);
        assert_true(rig_credits(rig) == talker.stacked || rig->shortfalls > 0);
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
        cmocka_unit_test(a_message_with_the_same_number_is_taken_once),
        cmocka_unit_test(missing_numbers_are_told),
        cmocka_unit_test(the_first_message_is_no_credit),
        cmocka_unit_test(frames_are_found_again_after_damage),
        cmocka_unit_test(a_jam_ends_with_the_box_in_its_place),
        cmocka_unit_test(without_a_mark_silence_parts_messages),
        cmocka_unit_test(a_talking_device_is_commanded),
        cmocka_unit_test(a_doubled_word_of_money_is_taken_once),
        cmocka_unit_test(a_note_that_does_not_move_is_told),
        cmocka_unit_test(two_held_notes_are_one_too_many),
        cmocka_unit_test(a_stranger_is_sent_nothing),
        cmocka_unit_test(the_self_check_halts_and_clears),
        cmocka_unit_test(a_device_that_does_not_take_its_settings_is_started_again),
        cmocka_unit_test(random_noise_invents_no_money),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
