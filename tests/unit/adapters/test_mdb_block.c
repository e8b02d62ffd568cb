/*
 * Are blocks built as section 2 of MDB/ICP says, and is everything else found to be damaged?
 */
#include "mdb/block.h"

#include "test.h"

static enum mdb_found words_read(struct mdb_reader *reader, const uint16_t *words, uint32_t count)
{
    enum mdb_found found = MDB_NEED_MORE;
    mdb_reader_clear(reader);
    for (uint32_t i = 0; i < count; i++) {
        found = mdb_reader_take(reader, words[i]);
        assert_true(i + 1 == count || found == MDB_NEED_MORE);
    }
    return found;
}

#define READ(reader, ...)                                                                                              \
    words_read(reader, (const uint16_t[]){__VA_ARGS__}, (uint32_t)(sizeof((uint16_t[]){__VA_ARGS__}) / 2))

static void commands_are_built(void **unused)
{
    (void)unused;
    uint8_t wire[MDB_WIRE_MAX];
    const uint8_t command[] = {0x34, 0x00, 0x07, 0x00, 0x07};
    const uint8_t built[] = {0x34, 1, 0x00, 0, 0x07, 0, 0x00, 0, 0x07, 0, 0x42, 0};
    assert_int_equal(mdb_command_build(command, 5, wire), sizeof built);
    assert_memory_equal(wire, built, sizeof built);
    const uint8_t longest[MDB_DATA_MAX + 1] = {0x37};
    assert_int_equal(mdb_command_build(longest, MDB_DATA_MAX, wire), MDB_WIRE_MAX);
    assert_int_equal(mdb_command_build(longest, MDB_DATA_MAX + 1, wire), 0);
    assert_int_equal(mdb_command_build(longest, 0, wire), 0);
    assert_int_equal(mdb_word_build(0x8000, wire), 2);
    assert_int_equal(wire[0], 0x00);
    assert_int_equal(wire[1], 0x80);
}

static void answers_are_read(void **unused)
{
    (void)unused;
    struct mdb_reader reader;
    assert_int_equal(READ(&reader, 0x100), MDB_ACK);
    assert_int_equal(READ(&reader, 0x1FF), MDB_NAK);
    assert_int_equal(READ(&reader, 0x082, 0x182), MDB_BLOCK);
    assert_int_equal(reader.length, 1);
    assert_int_equal(reader.bytes[0], 0x82);
    /* Data that begin like a control byte are data: only the mode bit on the first word makes the difference. */
    assert_int_equal(READ(&reader, 0x000, 0x017, 0x117), MDB_BLOCK);
    assert_int_equal(READ(&reader, 0x0FF, 0x001, 0x100), MDB_BLOCK);
    assert_int_equal(READ(&reader, 0x0AA, 0x1AA), MDB_BLOCK);
}

static void damage_is_found(void **unused)
{
    (void)unused;
    struct mdb_reader reader;
    assert_int_equal(READ(&reader, 0x082, 0x183), MDB_DAMAGED);
    assert_int_equal(READ(&reader, 0x182), MDB_DAMAGED);
    assert_int_equal(READ(&reader, 0x1AA), MDB_DAMAGED);
    assert_int_equal(READ(&reader, 0x8000), MDB_DAMAGED);
    assert_int_equal(READ(&reader, 0x082, 0x200), MDB_DAMAGED);
    mdb_reader_clear(&reader);
    for (uint32_t i = 0; i < MDB_DATA_MAX; i++)
        assert_int_equal(mdb_reader_take(&reader, 0), MDB_NEED_MORE);
    assert_int_equal(mdb_reader_take(&reader, 0), MDB_DAMAGED);
    assert_int_equal(mdb_reader_take(&reader, 0x100), MDB_BLOCK); /* the longest that there is */
    assert_int_equal(reader.length, MDB_DATA_MAX);
}

/* Every single bit of a block, flipped, is found: the answer is no block of the same length. */
static void one_flipped_bit_is_found(void **unused)
{
    (void)unused;
    const uint16_t good[] = {0x082, 0x008, 0x18A};
    for (uint32_t bit = 0; bit < 3 * 9; bit++) {
        uint16_t words[3];
        memcpy(words, good, sizeof words);
        words[bit / 9] ^= (uint16_t)(1u << bit % 9);
        struct mdb_reader reader;
        mdb_reader_clear(&reader);
        for (uint32_t i = 0; i < 3; i++) {
            enum mdb_found found = mdb_reader_take(&reader, words[i]);
            assert_false(found == MDB_BLOCK);
            if (found != MDB_NEED_MORE)
                break;
        }
    }
}

static void bytes_become_words(void **unused)
{
    (void)unused;
    struct mdb_words words = {0};
    uint16_t word = 0;
    assert_false(mdb_words_take(&words, 0x82, &word));
    assert_true(mdb_words_take(&words, 0x00, &word));
    assert_int_equal(word, 0x082);
    assert_false(mdb_words_take(&words, 0x00, &word));
    assert_true(mdb_words_take(&words, 0x80, &word));
    assert_int_equal(word, 0x8000);
    /* A byte was lost: 82 cannot be the high byte of anything, so it begins a word. */
    assert_false(mdb_words_take(&words, 0x00, &word));
    assert_false(mdb_words_take(&words, 0x82, &word));
    assert_true(mdb_words_take(&words, 0x01, &word));
    assert_int_equal(word, 0x182);
    /* 80 with another low byte is no break. */
    assert_false(mdb_words_take(&words, 0x01, &word));
    assert_false(mdb_words_take(&words, 0x80, &word));
    assert_true(mdb_words_take(&words, 0x01, &word));
    assert_int_equal(word, 0x180);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(commands_are_built), cmocka_unit_test(answers_are_read),
        cmocka_unit_test(damage_is_found),    cmocka_unit_test(one_flipped_bit_is_found),
        cmocka_unit_test(bytes_become_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
