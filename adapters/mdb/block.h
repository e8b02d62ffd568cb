/*
 * MDB/ICP blocks: building and recognising them, as words with a mode bit. Nothing here knows what a command means.
 */
#ifndef MDB_BLOCK_H
#define MDB_BLOCK_H

#include <stdbool.h>
#include <stdint.h>

/* MDB/ICP 4.3 section 2: at most 36 bytes, check included (from memory). */
#define MDB_BLOCK_MAX 36u
#define MDB_DATA_MAX  35u
#define MDB_WIRE_MAX  (2u * MDB_BLOCK_MAX) /* bytes of the longest block at the seam: two for each word */

/* The mode bit in a word: set on the first byte from the master and on the last byte from the peripheral. */
#define MDB_MODE 0x100u

/* Control bytes (section 2): a block of one byte, without a check. */
enum { MDB_CONTROL_ACK = 0x00, MDB_CONTROL_RET = 0xAA, MDB_CONTROL_NAK = 0xFF };

enum mdb_found {
    MDB_NEED_MORE, /* the block goes on */
    MDB_BLOCK,     /* a block of data whose check is right */
    MDB_ACK,       /* the peripheral has taken the command */
    MDB_NAK,
    MDB_DAMAGED /* no block: wrong check, too long, or something that no peripheral says */
};

/* A block from the peripheral while it comes in. After MDB_BLOCK, `length` is that of the data alone. */
struct mdb_reader {
    uint8_t length;
    uint8_t bytes[MDB_BLOCK_MAX];
};

void mdb_reader_clear(struct mdb_reader *reader);
enum mdb_found mdb_reader_take(struct mdb_reader *reader, uint16_t word);

/* Bytes of the seam become words again, wherever they were cut. */
struct mdb_words {
    bool half; /* the low byte of a word has come */
    uint8_t low;
};

/* True when `byte` completes a word. A byte that cannot be the high byte of any word shows that one was lost: it
 * counts as a low byte then. */
bool mdb_words_take(struct mdb_words *words, uint8_t byte, uint16_t *word);

/* Low 8 bits of the sum of all bytes of a block. */
uint8_t mdb_check(const uint8_t *bytes, uint32_t length);

/* A master's command with its check, as bytes of the seam. Returns their number; 0 when there is nothing to send or
 * more than fits in a block. */
uint32_t mdb_command_build(const uint8_t *bytes, uint32_t length, uint8_t wire[MDB_WIRE_MAX]);

/* A single word: a master's ACK, RET or NAK goes without the mode bit. Returns 2. */
uint32_t mdb_word_build(uint16_t word, uint8_t wire[2]);

#endif
