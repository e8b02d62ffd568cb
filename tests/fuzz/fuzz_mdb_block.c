/*
 * Can any bytes on the bus make the MDB/ICP block reader read past them, keep more than a block, or take for a block what
 * has a wrong check? And is every command that we build read back as it was?
 */
#include "fuzz.h"

#include "../../adapters/mdb/block.c" /* the parser alone: no library to link */

/* What was read must be what the words said, and its check must be right. */
static void block_is_checked(const struct mdb_reader *reader, const uint16_t *words, uint32_t count)
{
    demand(count >= 2 && reader->length == count - 1 && reader->length <= MDB_DATA_MAX);
    uint32_t sum = 0;
    for (uint32_t i = 0; i + 1 < count; i++) {
        demand(reader->bytes[i] == words[i]); /* no mode bit before the end */
        sum += words[i];
    }
    demand(words[count - 1] == (MDB_MODE | (sum & 0xFF)));
}

/* As the adapter does: words out of bytes, blocks out of words, anew after each end. */
static void bus_is_read(const uint8_t *bytes, size_t length)
{
    struct mdb_words words = {0};
    struct mdb_reader reader;
    uint16_t kept[MDB_BLOCK_MAX + 1];
    uint32_t count = 0;
    mdb_reader_clear(&reader);
    for (size_t i = 0; i < length; i++) {
        uint16_t word = 0;
        if (!mdb_words_take(&words, bytes[i], &word))
            continue;
        demand(!words.half && (word <= 0x1FF || word == 0x8000));
        demand(count <= MDB_BLOCK_MAX);
        kept[count++] = word;
        enum mdb_found found = mdb_reader_take(&reader, word);
        demand(reader.length <= MDB_DATA_MAX);
        if (found == MDB_NEED_MORE) {
            demand(word <= 0xFF);
            continue;
        }
        if (found == MDB_BLOCK)
            block_is_checked(&reader, kept, count);
        demand(found != MDB_ACK || (count == 1 && word == 0x100));
        demand(found != MDB_NAK || (count == 1 && word == 0x1FF));
        mdb_reader_clear(&reader);
        count = 0;
    }
}

/* A command without its mode bit, and with it on the last word instead, is an answer with the same data. */
static void built_is_read(const uint8_t *data, size_t size)
{
    uint8_t wire[MDB_WIRE_MAX];
    uint32_t length = size <= MDB_DATA_MAX ? (uint32_t)size : MDB_DATA_MAX + 1;
    uint32_t built = mdb_command_build(data, length, wire);
    demand((built == 0) == (length == 0 || length > MDB_DATA_MAX));
    if (built == 0)
        return;
    demand(built == 2 * (length + 1) && wire[1] == 1);
    wire[1] = 0;
    wire[built - 1] = 1;
    struct mdb_words words = {0};
    struct mdb_reader reader;
    enum mdb_found found = MDB_NEED_MORE;
    mdb_reader_clear(&reader);
    for (uint32_t i = 0; i < built; i++) {
        uint16_t word = 0;
        demand(found == MDB_NEED_MORE);
        if (mdb_words_take(&words, wire[i], &word))
            found = mdb_reader_take(&reader, word);
    }
    demand(found == MDB_BLOCK && reader.length == length && memcmp(reader.bytes, data, length) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size > 65536)
        return 0;
    uint8_t *bytes = bytes_copy(data, size);
    bus_is_read(bytes, size);
    built_is_read(bytes, size);
    free(bytes);
    return 0;
}
