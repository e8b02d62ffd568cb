/*
 * A small MDB/ICP master of the suite's own, behind the word carrier: one command, one answer. It shares no code with
 * the adapter. The bus controller acknowledges data on the bus by itself, so what was read once is taken as told.
 */
#ifndef CONFORMANCE_MDB_CLIENT_H
#define CONFORMANCE_MDB_CLIENT_H

#include "line.h"
#include "suite.h"

enum { MDB_BLOCK_MAX = 36, MDB_TYPES = 16, MDB_READ_MAX = 80 };

/* First byte of a command, address 30H and command: MDB/ICP section 6, as decoded by a published dissector. */
enum {
    MDB_RESET = 0x30,
    MDB_SETUP = 0x31,
    MDB_SECURITY = 0x32,
    MDB_POLL = 0x33,
    MDB_BILL_TYPE = 0x34,
    MDB_ESCROW = 0x35,
    MDB_STACKER = 0x36,
    MDB_EXPANSION = 0x37
};

enum mdb_kind { MDB_DATA, MDB_ACK, MDB_NAK, MDB_DAMAGED, MDB_SILENT };

struct mdb_answer {
    enum mdb_kind kind;
    uint16_t words[MDB_READ_MAX]; /* as they came: byte, and 100H for the mode bit */
    uint32_t word_count;
    uint8_t data[MDB_READ_MAX]; /* of DATA, checksum left out */
    uint32_t length;
};

struct mdb_client {
    struct trial *trial;
    struct line *line;
    bool held;
};

/* What the device says of itself. */
struct mdb_setup {
    uint8_t bytes[27]; /* zero where the device sent none */
    uint32_t length;
};

bool master_begin(struct trial *trial, struct mdb_client *client);
/* No notes any more; a held one goes back. */
void master_end(struct mdb_client *client);

/* Sends words and takes one answer; without `answer` none is awaited. */
void master_words_exchange(struct mdb_client *client, const uint16_t *words, uint32_t count, uint32_t wait_ms,
                           struct mdb_answer *answer);
/* Builds the block of a command; its length in words. */
uint32_t master_block_make(const uint8_t *bytes, uint32_t length, uint16_t words[MDB_BLOCK_MAX]);
/* Three tries against silence and damage. */
enum mdb_kind master_ask(struct mdb_client *client, const uint8_t *bytes, uint32_t length, struct mdb_answer *answer);
enum mdb_kind master_ask_plain(struct mdb_client *client, uint8_t command, struct mdb_answer *answer);

bool master_setup_read(struct mdb_client *client, struct mdb_setup *setup);
/* The number of notes in the stacker; false = no usable answer, and the case is skipped. */
bool master_count_read(struct mdb_client *client, unsigned *count);

void master_wait(struct mdb_client *client, uint32_t wait_ms);
const char *master_text(const struct mdb_answer *answer);

/* ---- Poll bytes as events ---- */

enum mdb_wish { MDB_WISH_ANY, MDB_WISH_HELD, MDB_WISH_GOOD, MDB_WISH_REFUSED, MDB_WISH_RESET };

/* The next poll byte that tells something that happened (no statuses); false = none until then. */
bool master_event(struct mdb_client *client, uint64_t until_us, uint8_t *event);
void master_events_forget(void);

bool master_is_held(uint8_t event);
bool master_is_credit(uint8_t event);
bool master_is_returned(uint8_t event);
bool master_is_refused(uint8_t event);
/* In the tables of section 6. */
bool master_is_known(uint8_t event);

bool master_enable(struct mdb_client *client, bool escrow);
bool master_note_await(struct mdb_client *client, enum mdb_wish wish, const char *text, uint8_t *event);
bool master_note_hold(struct trial *trial, struct mdb_client *client, uint8_t *event);
/* Simulated devices take it as the tester's hand. */
void master_hand(struct mdb_client *client);

#endif
