/*
 * MDB/ICP blocks: building and recognising them, as words with a mode bit. See block.h.
 */
#include "block.h"

uint8_t mdb_check(const uint8_t *bytes, uint32_t length)
{
    uint32_t sum = 0;
    for (uint32_t i = 0; i < length; i++)
        sum += bytes[i];
    return (uint8_t)sum;
}

uint32_t mdb_word_build(uint16_t word, uint8_t wire[2])
{
    wire[0] = (uint8_t)(word & 0xFF);
    wire[1] = (uint8_t)(word >> 8);
    return 2;
}

uint32_t mdb_command_build(const uint8_t *bytes, uint32_t length, uint8_t wire[MDB_WIRE_MAX])
{
    if (length == 0 || length > MDB_DATA_MAX)
        return 0;
    mdb_word_build((uint16_t)(bytes[0] | MDB_MODE), wire);
    for (uint32_t i = 1; i < length; i++)
        mdb_word_build(bytes[i], wire + 2 * i);
    mdb_word_build(mdb_check(bytes, length), wire + 2 * length);
    return 2 * (length + 1);
}

bool mdb_words_take(struct mdb_words *words, uint8_t byte, uint16_t *word)
{
    bool end = words->half && (byte <= 1 || (byte == 0x80 && words->low == 0));
    if (!end) {
        words->half = true;
        words->low = byte;
        return false;
    }
    words->half = false;
    *word = (uint16_t)(words->low | byte << 8);
    return true;
}

void mdb_reader_clear(struct mdb_reader *reader)
{
    reader->length = 0;
}

/* Only length 1 and the mode bit make a control byte: a block of data may begin with the same value. */
static enum mdb_found control_take(uint8_t byte)
{
    switch (byte) {
    case MDB_CONTROL_ACK:
        return MDB_ACK;
    case MDB_CONTROL_NAK:
        return MDB_NAK;
    default:
        return MDB_DAMAGED;
    }
}

enum mdb_found mdb_reader_take(struct mdb_reader *reader, uint16_t word)
{
    uint8_t byte = (uint8_t)(word & 0xFF);
    if (word > (MDB_MODE | 0xFF))
        return MDB_DAMAGED; /* a break, or nothing that a line can carry */
    if ((word & MDB_MODE) != 0) {
        if (reader->length == 0)
            return control_take(byte);
        return mdb_check(reader->bytes, reader->length) == byte ? MDB_BLOCK : MDB_DAMAGED;
    }
    if (reader->length == MDB_DATA_MAX)
        return MDB_DAMAGED; /* the longest block, and no byte with the mode bit */
    reader->bytes[reader->length++] = byte;
    return MDB_NEED_MORE;
}
