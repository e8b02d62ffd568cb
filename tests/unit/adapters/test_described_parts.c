/*
 * The parts of the adapter of described devices by themselves: frames and lines, checks, conditions, numbers, raw texts,
 * counts, and the starting steps that the examples do not need.
 */
#include "described/check.h"
#include "described/match.h"
#include "described/wire.h"
#include "described_rig.h"

static struct described_view view_of(const char *text, uint32_t length, char separator)
{
    return (struct described_view){(const uint8_t *)text, length, separator};
}

/* ---- Checks ---- */

static void sums_and_complements(void **state)
{
    (void)state;
    static const struct {
        enum described_check_kind kind;
        uint32_t width;
        enum described_complement complement;
        uint8_t low, high;
    } rows[] = {
        {DESCRIBED_CHECK_SUM, 8, DESCRIBED_COMPLEMENT_NONE, 0x2C, 0}, /* 100 + 200 = 0x12C */
        {DESCRIBED_CHECK_SUM, 8, DESCRIBED_COMPLEMENT_ONES, 0xD3, 0},
        {DESCRIBED_CHECK_SUM, 8, DESCRIBED_COMPLEMENT_TWOS, 0xD4, 0},
        {DESCRIBED_CHECK_SUM, 16, DESCRIBED_COMPLEMENT_NONE, 0x2C, 0x01},
        {DESCRIBED_CHECK_SUM, 16, DESCRIBED_COMPLEMENT_TWOS, 0xD4, 0xFE},
        {DESCRIBED_CHECK_XOR, 8, DESCRIBED_COMPLEMENT_NONE, 0xAC, 0}, /* 0x64 ^ 0xC8 */
        {DESCRIBED_CHECK_XOR, 8, DESCRIBED_COMPLEMENT_ONES, 0x53, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct described_check check = {.kind = rows[i].kind,
                                        .width = rows[i].width,
                                        .complement = rows[i].complement,
                                        .from = 0,
                                        .to = -1,
                                        .count = rows[i].width / 8,
                                        .at = {2, 3}};
        uint8_t bytes[4] = {100, 200, 77, 88};
        uint32_t length = 2 + check.count;
        assert_true(check_put(&check, bytes, length));
        assert_int_equal(bytes[2], rows[i].low);
        if (check.count == 2)
            assert_int_equal(bytes[3], rows[i].high);
        assert_true(check_fits(&check, bytes, length));
        for (uint32_t at = 0; at < length; at++) {
            bytes[at] ^= 1;
            assert_false(check_fits(&check, bytes, length));
            bytes[at] ^= 1;
        }
    }
}

static void a_message_without_room_for_its_check_does_not_fit(void **state)
{
    (void)state;
    uint8_t bytes[4] = {0};
    static const struct described_check checks[] = {
        {.kind = DESCRIBED_CHECK_SUM, .width = 8, .from = 9, .to = -1, .count = 1, .at = {-1}},
        {.kind = DESCRIBED_CHECK_SUM, .width = 8, .from = 0, .to = -9, .count = 1, .at = {-1}},
        {.kind = DESCRIBED_CHECK_SUM, .width = 8, .from = 0, .to = -1, .count = 1, .at = {-9}},
    };
    for (size_t i = 0; i < 3; i++) {
        assert_false(check_put(&checks[i], bytes, 4));
        assert_false(check_fits(&checks[i], bytes, 4));
    }
    const struct described_check none = {.kind = DESCRIBED_CHECK_NONE};
    assert_true(check_put(&none, bytes, 4) && check_fits(&none, bytes, 4));
}

/* ---- Frames ---- */

static enum described_found take(const struct description *description, const char *raw, uint32_t length,
                                 struct described_message *message, uint32_t *used)
{
    return described_message_take(description, (const uint8_t *)raw, length, message, used);
}

static void frames_of_every_form_are_built_and_found(void **state)
{
    (void)state;
    static struct description forms[6];
    const struct described_number byte = {.at = 1, .bytes = 1, .mask = 0xFF};
    forms[0].frame = (struct described_frame){.fixed_length = 5};
    forms[1].frame = (struct described_frame){.begin_length = 1, .begin = {1}, .has_length = true, .length = byte};
    forms[2].frame = (struct described_frame){.begin_length = 1,
                                              .begin = {1},
                                              .end_length = 2,
                                              .end = {13, 10},
                                              .has_length = true,
                                              .length = {.at = 1, .bytes = 2, .big_endian = true, .mask = 0xFFFF},
                                              .not_counted = 3};
    forms[3].frame = (struct described_frame){.begin_length = 1, .begin = {1}, .end_length = 1, .end = {4}};
    forms[4].frame = (struct described_frame){.begin_length = 1,
                                              .begin = {1},
                                              .end_length = 1,
                                              .end = {4},
                                              .has_escape = true,
                                              .escape = 5,
                                              .escape_xor = 64};
    forms[5].frame = (struct described_frame){
        .begin_length = 2, .begin = {16, 2}, .end_length = 2, .end = {16, 3}, .has_escape = true, .escape = 16};
    static const struct described_bytes sends[6] = {
        {5, {1, 2, 3, 4, 5}}, {5, {1, 0, 9, 9, 9}},        {7, {1, 0, 0, 4, 4, 13, 10}},
        {5, {1, 7, 7, 7, 4}}, {7, {1, 1, 4, 5, 65, 7, 4}}, {8, {16, 2, 16, 3, 16, 2, 16, 3}},
    };
    for (int form = 0; form < 6; form++) {
        uint8_t raw[DESCRIBED_FRAME_MAX + 1];
        struct described_message message;
        uint32_t used;
        uint32_t length = described_message_build(&forms[form], &sends[form], 0, raw);
        assert_true(length >= sends[form].length);
        raw[length] = 0xEE;
        assert_int_equal(described_message_take(&forms[form], raw, length + 1, &message, &used), DESCRIBED_MESSAGE);
        assert_int_equal(used, length);
        assert_int_equal(message.length, sends[form].length);
        if (!forms[form].frame.has_length)
            assert_memory_equal(message.bytes, sends[form].bytes, message.length);
        for (uint32_t cut = 0; cut < length; cut++)
            assert_int_equal(described_message_take(&forms[form], raw, cut, &message, &used), DESCRIBED_NEED_MORE);
    }
}

static void damaged_frames_are_known(void **state)
{
    (void)state;
    static struct description device;
    struct described_message message;
    uint32_t used;
    device.frame = (struct described_frame){.begin_length = 2,
                                            .begin = {1, 2},
                                            .end_length = 1,
                                            .end = {4},
                                            .has_length = true,
                                            .length = {.at = 2, .bytes = 2, .mask = 0xFFFF}};
    assert_int_equal(take(&device, "\x01\x03", 2, &message, &used), DESCRIBED_DAMAGED);         /* no begin */
    assert_int_equal(take(&device, "\x01\x02\xFF\xFF", 4, &message, &used), DESCRIBED_DAMAGED); /* too long */
    assert_int_equal(take(&device, "\x01\x02\xFF\x01", 4, &message, &used), DESCRIBED_NEED_MORE);
    assert_int_equal(take(&device, "\x01\x02\x04\x00", 4, &message, &used), DESCRIBED_DAMAGED);         /* too short */
    assert_int_equal(take(&device, "\x01\x02\x06\x00\x09\x05", 6, &message, &used), DESCRIBED_DAMAGED); /* no end */
    assert_int_equal(take(&device, "\x01\x02\x06\x00\x09\x04", 6, &message, &used), DESCRIBED_MESSAGE);
    device.frame = (struct described_frame){.begin_length = 1, .begin = {1}, .end_length = 1, .end = {4}};
    static char endless[DESCRIBED_FRAME_MAX];
    memset(endless, 1, sizeof endless);
    assert_int_equal(take(&device, endless, sizeof endless, &message, &used), DESCRIBED_DAMAGED);
    device.frame.has_length = true;
    device.frame.length = (struct described_number){.at = 1, .bytes = 4, .mask = UINT32_MAX};
    device.frame.not_counted = 100;
    assert_int_equal(take(&device, "\x01\xFF\xFF\xFF\xFF", 5, &message, &used), DESCRIBED_DAMAGED);
}

/* A number over several bytes shares them with other bits. */
static void numbers_are_written_among_other_bits(void **state)
{
    (void)state;
    static struct description device;
    uint8_t raw[DESCRIBED_FRAME_MAX];
    const struct described_bytes send = {4, {0x81, 0x00, 0x0F, 0x55}};
    device.frame.fixed_length = 4;
    device.driver = DESCRIBED_DRIVER_HOST;
    device.sequence.number = (struct described_number){
        .at = -3, .bytes = 2, .mask = 0x0FF0, .shift = 4, .big_endian = true};
    assert_int_equal(described_message_build(&device, &send, 0xA5, raw), 4);
    assert_memory_equal(raw, "\x81\x0A\x5F\x55", 4);
    device.sequence.number.big_endian = false;
    assert_int_equal(described_message_build(&device, &send, 0xA5, raw), 4);
    assert_memory_equal(raw, "\x81\x50\x0A\x55", 4);
    device.sequence.number.at = 3; /* no room: left alone */
    assert_int_equal(described_message_build(&device, &send, 0xA5, raw), 4);
    assert_memory_equal(raw, "\x81\x00\x0F\x55", 4);
    device.sequence.number.at = -9;
    assert_int_equal(described_message_build(&device, &send, 0xA5, raw), 4);
    assert_memory_equal(raw, "\x81\x00\x0F\x55", 4);
}

static void lines_are_built_with_their_number(void **state)
{
    (void)state;
    static struct description device;
    uint8_t raw[DESCRIBED_FRAME_MAX];
    device.text_lines = true;
    struct described_bytes send = {.length = 17};
    memcpy(send.bytes, "A {sequence}{seq!", 17);
    device.lines.end = DESCRIBED_END_CRLF;
    assert_int_equal(described_message_build(&device, &send, 4000000000u, raw), 19);
    assert_memory_equal(raw, "A 4000000000{seq!\r\n", 19);
    device.lines.end = DESCRIBED_END_CR;
    assert_int_equal(described_message_build(&device, &send, 7, raw), 9);
    assert_memory_equal(raw, "A 7{seq!\r", 9);
    device.lines.end = DESCRIBED_END_LF;
    send.length = 2;
    assert_int_equal(described_message_build(&device, &send, 7, raw), 3);
    assert_memory_equal(raw, "A \n", 3);
}

/* ---- Conditions and numbers ---- */

static bool fits(struct described_condition condition, const char *text, uint32_t length)
{
    const struct described_conditions conditions = {1, {condition}};
    struct described_view view = view_of(text, length, ';');
    return described_fits(&conditions, &view);
}

static void conditions_look_where_they_should(void **state)
{
    (void)state;
    struct described_condition bytes = {.test = DESCRIBED_TEST_BYTES, .at = -2, .length = 2, .bytes = "YZ"};
    assert_true(fits(bytes, "XYZ", 3));
    assert_false(fits(bytes, "YZX", 3));
    assert_false(fits(bytes, "Z", 1));
    bytes.at = 2;
    assert_false(fits(bytes, "XYZ", 3)); /* reaches beyond the end */
    struct described_condition bits = {.test = DESCRIBED_TEST_BITS, .at = 1, .mask = 0xF0, .low = 0x20, .high = 0x30};
    assert_true(fits(bits, "\x00\x2F", 2) && fits(bits, "\x00\x3F", 2));
    assert_false(fits(bits, "\x00\x1F", 2) || fits(bits, "\x00\x40", 2) || fits(bits, "\x20", 1));
    struct described_condition length = {.test = DESCRIBED_TEST_LENGTH, .low = 2, .high = 2};
    assert_true(fits(length, "AB", 2));
    assert_false(fits(length, "ABC", 3));
    struct described_condition field = {.test = DESCRIBED_TEST_FIELD, .field = 2, .length = 2, .bytes = "UV"};
    assert_true(fits(field, "A;UV;B", 6) && fits(field, ";UV", 3));
    assert_false(fits(field, "A;UVX", 5) || fits(field, "A;UX", 4) || fits(field, "A", 1));
    struct described_condition number = {.test = DESCRIBED_TEST_FIELD_NUMBER, .field = 1, .low = 7, .high = 9};
    assert_true(fits(number, "7", 1) && fits(number, "009;x", 5));
    assert_false(fits(number, "6", 1) || fits(number, "10", 2) || fits(number, "", 0) || fits(number, "7a", 2));
    assert_false(fits(number, "/", 1) || fits(number, "0000000007", 10));
    number.field = 3;
    assert_false(fits(number, "7;7", 3));
    const struct described_conditions none = {.count = 0};
    struct described_view view = view_of("", 0, 0);
    assert_true(described_fits(&none, &view));
}

static void numbers_are_read_in_both_orders(void **state)
{
    (void)state;
    struct described_view view = view_of("\x12\x34\x56", 3, 0);
    struct described_number number = {.at = 0, .bytes = 2, .mask = 0xFFFF};
    uint32_t value;
    assert_true(described_number_read(&number, &view, &value));
    assert_int_equal(value, 0x3412);
    number.big_endian = true;
    number.mask = 0x0FF0;
    number.shift = 4;
    assert_true(described_number_read(&number, &view, &value));
    assert_int_equal(value, 0x23);
    number.at = 2;
    assert_false(described_number_read(&number, &view, &value));
    number.at = -4;
    assert_false(described_number_read(&number, &view, &value));
    number = (struct described_number){.field = 1, .mask = UINT32_MAX};
    view = view_of("12;x", 4, 0);
    assert_false(described_number_read(&number, &view, &value)); /* nothing parts the fields */
    view.separator = ';';
    assert_true(described_number_read(&number, &view, &value));
    assert_int_equal(value, 12);
}

static void notes_are_found_by_type_and_by_name(void **state)
{
    (void)state;
    static struct description device = {
        .note_count = 2,
        .notes = {{.type = 1, .name = "E5"}, {.type = 300, .name = "E10"}},
    };
    struct described_rule rule = {.note_by = DESCRIBED_NOTE_TYPE, .note_number = {.at = 0, .bytes = 2, .mask = 0xFFFF}};
    struct described_view view = view_of("\x2C\x01"
                                         "E10;E5",
                                         8, ';');
    assert_int_equal(described_note_find(&device, &rule, &view), 1);
    rule.note_number.at = 7;
    assert_int_equal(described_note_find(&device, &rule, &view), -1);
    rule = (struct described_rule){
        .note_by = DESCRIBED_NOTE_NAME, .note_number = {.at = 2, .bytes = 1}, .note_length = 3};
    assert_int_equal(described_note_find(&device, &rule, &view), 1);
    rule.note_number.at = 6;
    rule.note_length = 2;
    assert_int_equal(described_note_find(&device, &rule, &view), 0);
    rule.note_length = 3;
    assert_int_equal(described_note_find(&device, &rule, &view), -1);
    rule.note_number.at = -9;
    assert_int_equal(described_note_find(&device, &rule, &view), -1);
    rule.note_number = (struct described_number){.field = 2};
    assert_int_equal(described_note_find(&device, &rule, &view), 0);
    rule.note_number.field = 3;
    assert_int_equal(described_note_find(&device, &rule, &view), -1);
    rule.note_by = DESCRIBED_NOTE_NONE;
    assert_int_equal(described_note_find(&device, &rule, &view), -1);
}

static void raw_texts_are_made_and_cut(void **state)
{
    (void)state;
    static const struct {
        const char *form;
        const char *text;
    } rows[] = {
        {"plain", "plain"}, {"{0},{x1}", "65,42"},      {"<{-1}>", "<67>"}, {"{x-1}{x-9}!", "43!"},
        {"{9}", ""},        {"{f1}/{f2}/{f3}", "A/C/"}, {"{line}", "AB;C"},
    };
    char text[72];
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        bool fields = rows[i].form[1] == 'f' || rows[i].form[1] == 'l';
        struct described_view view = fields ? view_of(i == 5 ? "A;C" : "AB;C", i == 5 ? 3 : 4, ';')
                                            : view_of("ABC", 3, 0);
        described_raw_text_make(rows[i].form, &view, text, sizeof text);
        assert_string_equal(text, rows[i].text);
    }
    struct described_view view = view_of("0123456789", 10, 0);
    described_raw_text_make("{line}{line}", &view, text, 16);
    assert_string_equal(text, "012345678901234");
    described_raw_text_plain(&view, true, text, 6);
    assert_string_equal(text, "01234");
    described_raw_text_plain(&view, false, text, 12);
    assert_string_equal(text, "30 31 32");
}

static void counts_wrap_as_they_are_told_to(void **state)
{
    (void)state;
    const struct described_count count = {.first = 1, .last = 255, .has_reset = true, .reset = 0};
    assert_int_equal(described_steps_between(&count, 0, 3), 3);
    assert_int_equal(described_steps_between(&count, 255, 1), 1);
    assert_int_equal(described_steps_between(&count, 3, 3), 0);
    assert_int_equal(described_steps_between(&count, 3, 2), 254);
    assert_int_equal(described_steps_between(&count, 3, 0), 252);
    assert_int_equal(described_count_next(&count, 0), 1);
    assert_int_equal(described_count_next(&count, 255), 1);
    assert_int_equal(described_count_next(&count, 7), 8);
    assert_true(described_count_valid(&count, 0) && described_count_valid(&count, 255));
    assert_false(described_count_valid(&count, 256));
    const struct described_count plain = {.first = 5, .last = 6};
    assert_false(described_count_valid(&plain, 0) || described_count_valid(&plain, 7));
    assert_int_equal(described_count_next(&plain, 6), 5);
}

/* ---- Asked devices that the examples do not cover ---- */

#define HEAD                                                                                                           \
    "{\"schema\": \"counterfoil.device/1\", \"id\": \"asked\", \"version\": \"1\", \"reviewed\": \"2026-01-01\",\n"    \
    "\"name\": \"Asked\", \"source\": \"invented\", \"confidence\": \"practice\",\n"                                   \
    "\"line\": {\"baud\": 9600, \"data_bits\": 8, \"parity\": \"none\", \"stop_bits\": 1},\n"

/* Lines that are asked for, numbered by the device, with optional steps and texts as identity. */
static const char asked_lines[] = HEAD
    "\"lines\": {\"end\": \"CR\", \"length_max\": 40, \"separator\": \" \"},\n"
    "\"sequence\": {\"driven_by\": \"device\", \"field\": 2, \"first\": 0, \"last\": 9},\n"
    "\"start\": [{\"send\": \"HI\", \"optional\": true, \"tries\": 1},\n"
    "  {\"send\": \"ID\", \"expect\": [{\"field\": 1, \"text\": \"ID\"}], \"proves\": true, \"events\": true,\n"
    "   \"identity\": {\"at\": 3, \"to\": 60}}],\n"
    "\"poll\": {\"send\": \"?\", \"every_ms\": 100},\n"
    "\"acknowledge\": {\"send\": \"OK {sequence}\"},\n"
    "\"accept\": {\"none\": [{\"send\": \"OFF\", \"events\": true}, {\"send\": \"OFF2\", \"answer\": false}],\n"
    "  \"hold\": [{\"send\": \"ON\"}]},\n"
    "\"rules\": [{\"when\": [{\"field\": 1, \"text\": \"ID\"}], \"event\": \"nothing\"},\n"
    "  {\"when\": [{\"field\": 1, \"text\": \"S\"}], \"event\": \"nothing\"},\n"
    "  {\"when\": [{\"field\": 1, \"text\": \"R\"}], \"event\": \"rejected\", \"reason\": \"handling\", \"halts\":\n"
    "   \"until_accept\", \"text\": \"no\"}]}";

struct teller {
    const char *hello;
    char word;
    uint32_t number;
    bool numbers; /* a new number for each answer */
    bool silent;
    char last[16];
    char acknowledged[16];
};
static struct teller teller;

static void teller_hear(struct rig *rig, const uint8_t *bytes, uint32_t length)
{
    char text[64];
    assert_int_equal(bytes[length - 1], '\r');
    snprintf(teller.last, sizeof teller.last, "%.*s", (int)(length - 1), (const char *)bytes);
    if (strncmp(teller.last, "OK", 2) == 0) {
        snprintf(teller.acknowledged, sizeof teller.acknowledged, "%s", teller.last);
        return;
    }
    if (teller.silent || strcmp(teller.last, "HI") == 0 || strcmp(teller.last, "OFF2") == 0)
        return;
    teller.number = (teller.number + (teller.numbers ? 1 : 0)) % 10;
    if (strcmp(teller.last, "ID") == 0)
        snprintf(text, sizeof text, "\r%s %u\r", teller.hello, teller.number);
    else
        snprintf(text, sizeof text, "%c %u\r", teller.word, teller.number);
    rig_put(rig, text, (uint32_t)strlen(text), 2000);
}

static void asked_lines_are_numbered_and_acknowledged(void **state)
{
    (void)state;
    for (int chunks = CHUNKS_WHOLE; chunks <= CHUNKS_RANDOM; chunks++) {
        struct rig *rig = rig_of_text(asked_lines);
        teller = (struct teller){.hello = "ID", .word = 'S', .numbers = true};
        rig->heard = teller_hear;
        rig->chunks = (enum rig_chunks)chunks;
        rig_open(rig, CFOIL_ACCEPT_ALL); /* which its list of 'hold' serves */
        rig_run(rig, 3000);
        assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
        assert_int_equal(rig->event_count, 1);
        assert_int_equal(rig->events[0].condition, CFOIL_CONDITION_IDENTIFIED);
        teller.word = 'R';
        rig_run(rig, 250);
        teller.word = 'S';
        teller.numbers = false;
        rig_run(rig, 50);
        assert_true(rig_count(rig, CFOIL_KIND_REJECTED, 0) >= 1);
        uint32_t told = rig->event_count;
        rig_run(rig, 1000);
        assert_int_equal(rig->event_count, told);
        assert_int_equal(strncmp(teller.acknowledged, "OK ", 3), 0);
        assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
        assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS, 0), 0);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
        rig_run(rig, 1000);
        assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_QUIT, 0), CFOIL_OK);
        teller.last[0] = '\0';
        rig_run(rig, 1000);
        assert_string_equal(teller.last, ""); /* more than one message says it: nothing is begun any more */
        rig_end(rig);
    }
}

static void a_stranger_that_answers_is_left_alone(void **state)
{
    (void)state;
    struct rig *rig = rig_of_text(asked_lines);
    teller = (struct teller){.hello = "XX", .word = 'S', .numbers = true};
    rig->heard = teller_hear;
    rig_open(rig, CFOIL_ACCEPT_ALL);
    rig_run(rig, 1200);
    teller.hello = "ID"; /* it was noise after all */
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    teller.silent = true;
    rig_run(rig, 12000);
    assert_int_equal(rig->state_now, CFOIL_LANE_LOST);
    teller.silent = false;
    teller.hello = "XX";
    rig_run(rig, 10000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ENDED);
    rig_end(rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sums_and_complements),
        cmocka_unit_test(a_message_without_room_for_its_check_does_not_fit),
        cmocka_unit_test(frames_of_every_form_are_built_and_found),
        cmocka_unit_test(damaged_frames_are_known),
        cmocka_unit_test(numbers_are_written_among_other_bits),
        cmocka_unit_test(lines_are_built_with_their_number),
        cmocka_unit_test(conditions_look_where_they_should),
        cmocka_unit_test(numbers_are_read_in_both_orders),
        cmocka_unit_test(notes_are_found_by_type_and_by_name),
        cmocka_unit_test(raw_texts_are_made_and_cut),
        cmocka_unit_test(counts_wrap_as_they_are_told_to),
        cmocka_unit_test(asked_lines_are_numbered_and_acknowledged),
        cmocka_unit_test(a_stranger_that_answers_is_left_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
