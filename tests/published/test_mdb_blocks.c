/*
 * Do our MDB/ICP blocks equal, word for word, the sequences that follow from the standard's rules?
 *
 * No worked example of the standard could be read. Every sequence is computed from the rules of MDB/ICP 4.3 sections 2
 * and 6; example values printed in the standard (extract of its section 6: scaling factor 00 64, decimal places 02,
 * stacker capacity 01 90, country code 18 40, escrow FF) where a row says so.
 */
#include "mdb/block.h"
#include "mdb/codes.h"
#include "mdb/setup.h"

#include "test.h"

#include <stdlib.h>

#define COMPUTED "computed from the rules of MDB/ICP 4.3 sections 2 and 6"
#define PRINTED  COMPUTED "; example values printed in the standard"

/* A master's command: bytes with the check at the end; a star marks the mode bit. */
struct command {
    const char *words;
    const char *meaning;
    const char *published_by;
};

static const struct command commands[] = {
    {"30* 30", "reset", COMPUTED},
    {"33* 33", "poll", COMPUTED},
    {"31* 31", "setup", COMPUTED},
    {"32* 00 01 33", "type 0 at high security", COMPUTED},
    {"32* FF FF 30", "all types at high security", COMPUTED},
    {"34* FF FF 00 00 32", "enable all, no escrow", COMPUTED},
    {"34* FF FF FF FF 30", "enable all, with escrow", COMPUTED},
    {"34* 00 07 00 07 42", "types 0 to 2 with escrow", COMPUTED},
    {"34* 00 00 00 00 34", "disable all", COMPUTED},
    {"35* 01 36", "stack", COMPUTED},
    {"35* 00 35", "return", COMPUTED},
    {"36* 36", "stacker", COMPUTED},
    {"37* 00 37", "identification, level 1", COMPUTED},
    {"37* 02 39", "identification with option bits", COMPUTED},
    {"37* 01 00 00 00 00 38", "no options", COMPUTED},
    {"37* 01 00 00 00 02 3A", "recycler option", COMPUTED},
    {"37* 03 3A", "recycler setup", COMPUTED},
    {"37* 05 3C", "recycler counts", COMPUTED},
    {"37* 06 01 00 02 40", "dispense 2 of type 1", COMPUTED},
    {"37* 07 00 14 52", "dispense 20 units", COMPUTED},
    {"37* 04 00 00 00 03 00 00 00 00 00 00 00 00 00 00 00 00 00 00 3E", "recycle type 1", COMPUTED},
};

struct answer {
    const char *words;
    enum mdb_found found;
    uint32_t length; /* of data */
    const char *published_by;
};

static const struct answer answers[] = {
    {"00*", MDB_ACK, 0, COMPUTED},
    {"FF*", MDB_NAK, 0, COMPUTED},
    {"06 06*", MDB_BLOCK, 1, COMPUTED},
    {"01 18 40 00 64 02 01 90 00 00 FF 01 02 05 0A 14 32 64 00 00 00 00 00 00 00 00 00 0B*", MDB_BLOCK, 27, PRINTED},
    {"01 19 78 01 F4 02 01 90 00 00 FF 01 02 04 0A 14 28 64 00 00 00 00 00 00 00 00 00 CA*", MDB_BLOCK, 27, COMPUTED},
    {"92 92*", MDB_BLOCK, 1, COMPUTED},
    {"82 82*", MDB_BLOCK, 1, COMPUTED},
    {"A2 A2*", MDB_BLOCK, 1, COMPUTED},
    {"82 08 8A*", MDB_BLOCK, 2, COMPUTED},
    {"43 43*", MDB_BLOCK, 1, COMPUTED},
    {"0B 0B*", MDB_BLOCK, 1, COMPUTED},
    {"00 17 17*", MDB_BLOCK, 2, COMPUTED},
    {"81 90 11*", MDB_BLOCK, 2, COMPUTED},
    {"82 83*", MDB_DAMAGED, 0, COMPUTED},
};

/* "34* 00" -> 0x134 0x000. */
static uint32_t words_parse(const char *text, uint16_t *words)
{
    uint32_t count = 0;
    while (*text != '\0') {
        char *end;
        words[count] = (uint16_t)strtoul(text, &end, 16);
        if (*end == '*') {
            words[count] |= MDB_MODE;
            end++;
        }
        count++;
        text = *end == ' ' ? end + 1 : end;
    }
    return count;
}

static void commands_are_as_computed(void **unused)
{
    (void)unused;
    for (uint32_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        uint16_t words[MDB_BLOCK_MAX];
        uint8_t data[MDB_BLOCK_MAX];
        uint8_t wire[MDB_WIRE_MAX];
        uint32_t count = words_parse(commands[i].words, words);
        for (uint32_t k = 0; k < count; k++)
            data[k] = (uint8_t)words[k];
        assert_int_equal(mdb_command_build(data, count - 1, wire), 2 * count);
        for (uint32_t k = 0; k < count; k++)
            assert_int_equal(wire[2 * k] | wire[2 * k + 1] << 8, words[k]);
    }
}

static void answers_are_as_computed(void **unused)
{
    (void)unused;
    for (uint32_t i = 0; i < sizeof answers / sizeof answers[0]; i++) {
        uint16_t words[MDB_BLOCK_MAX];
        uint32_t count = words_parse(answers[i].words, words);
        struct mdb_reader reader;
        mdb_reader_clear(&reader);
        for (uint32_t k = 0; k + 1 < count; k++)
            assert_int_equal(mdb_reader_take(&reader, words[k]), MDB_NEED_MORE);
        assert_int_equal(mdb_reader_take(&reader, words[count - 1]), answers[i].found);
        if (answers[i].found == MDB_BLOCK)
            assert_int_equal(reader.length, answers[i].length);
    }
}

/* A master's ACK, RET and NAK: one byte, no check, no mode bit. Computed from section 2. */
static void control_bytes_have_no_mode_bit(void **unused)
{
    (void)unused;
    static const uint8_t controls[] = {MDB_CONTROL_ACK, MDB_CONTROL_RET, MDB_CONTROL_NAK};
    static const uint8_t bytes[] = {0x00, 0xAA, 0xFF};
    for (uint32_t i = 0; i < 3; i++) {
        uint8_t wire[MDB_WIRE_MAX];
        assert_int_equal(mdb_word_build(controls[i], wire), 2);
        assert_int_equal(wire[0], bytes[i]);
        assert_int_equal(wire[1], 0x00);
    }
}

/* Amount = credit x scaling factor / 10^decimal places (section 6, SETUP); the first row has printed example values. */
static void setup_answers_give_values(void **unused)
{
    (void)unused;
    static const struct {
        const char *words;
        const char *currency;
        int64_t minor[7];
        const char *published_by;
    } rows[] = {
        {"01 18 40 00 64 02 01 90 00 00 FF 01 02 05 0A 14 32 64 00 00 00 00 00 00 00 00 00",
         "USD",
         {100, 200, 500, 1000, 2000, 5000, 10000},
         PRINTED},
        {"01 19 78 01 F4 02 01 90 00 00 FF 01 02 04 0A 14 28 64 00 00 00 00 00 00 00 00 00",
         "EUR",
         {500, 1000, 2000, 5000, 10000, 20000, 50000},
         COMPUTED},
    };
    for (uint32_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint16_t words[MDB_BLOCK_MAX];
        uint8_t data[MDB_BLOCK_MAX];
        uint32_t count = words_parse(rows[i].words, words);
        for (uint32_t k = 0; k < count; k++)
            data[k] = (uint8_t)words[k];
        struct mdb_setup setup;
        assert_true(mdb_setup_read(&setup, data, count, ""));
        assert_string_equal(setup.currency, rows[i].currency);
        for (uint32_t type = 0; type < 7; type++)
            assert_int_equal(setup.notes[type].value_minor, rows[i].minor[type]);
        assert_int_equal(setup.valued_count, 7);
    }
}

/* POLL bytes by their masks: section 6, one published decoder of it and memory agree. */
static void poll_bytes_have_their_class(void **unused)
{
    (void)unused;
    assert_int_equal(mdb_route_find(0x92)->route, MDB_ROUTE_ESCROW);
    assert_int_equal(mdb_route_find(0x82)->kind, CFOIL_KIND_STACKED);
    assert_int_equal(mdb_route_find(0xB2)->kind, CFOIL_KIND_STACKED);
    assert_int_equal(mdb_route_find(0xA2)->kind, CFOIL_KIND_RETURNED);
    assert_int_equal(mdb_route_find(0xC2)->kind, CFOIL_KIND_REJECTED);
    assert_int_equal(mdb_class_of(0x43), MDB_CLASS_ATTEMPTS);
    assert_int_equal(mdb_status_find(0x0B)->kind, CFOIL_KIND_REJECTED);
    assert_int_equal(mdb_status_find(0x08)->condition, CFOIL_CONDITION_STACKER_REMOVED);
    assert_int_equal(mdb_status_find(0x06)->effect, MDB_EFFECT_RESET);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(commands_are_as_computed),       cmocka_unit_test(answers_are_as_computed),
        cmocka_unit_test(control_bytes_have_no_mode_bit), cmocka_unit_test(setup_answers_give_values),
        cmocka_unit_test(poll_bytes_have_their_class),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
