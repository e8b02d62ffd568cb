/*
 * Any blocks and any noise at an MDB adapter: is a note told as stacked only if the device has said so, and does the
 * adapter keep the rules of adapter.h?
 */
#include "adapter_drive.h"

#include "mdb/block.h"
#include "mdb/mdb.h"

/* Poll bytes "stacked, type t" that have been on the line: MDB/ICP 4.3 section 6, POLL: 1yyyxxxx with yyy = 000 and the
 * type in xxxx (from memory). An event counts the types from 1. */
struct judge {
    bool said[16];
};

static void line_note(void *user, const uint8_t *bytes, uint32_t length)
{
    struct judge *judge = user;
    for (uint32_t i = 0; i < length; i++) {
        if ((bytes[i] & 0xF0) == 0x80)
            judge->said[bytes[i] & 0x0F] = true;
    }
}

static void event_check(void *user, const cfoil_adapter_event *event)
{
    const struct judge *judge = user;
    if (event->kind == CFOIL_KIND_STACKED)
        demand(event->note_type >= 1 && event->note_type <= 16 && judge->said[event->note_type - 1]);
}

/* Words with the right check: the first byte says how many, or that it is ACK or NAK. */
static uint32_t answer_make(struct drive *drive, struct walk *walk, uint8_t wire[DRIVE_WIRE_MAX])
{
    (void)drive;
    uint8_t shape = walk_byte(walk);
    uint8_t bytes[MDB_BLOCK_MAX];
    if (shape >= 0xF0)
        return mdb_word_build(shape >= 0xF8 ? MDB_MODE | MDB_CONTROL_NAK : MDB_MODE | MDB_CONTROL_ACK, wire);
    uint32_t length = walk_bytes(walk, shape % MDB_BLOCK_MAX, bytes);
    if (length == 0)
        return mdb_word_build(MDB_MODE | MDB_CONTROL_ACK, wire);
    uint32_t filled = 0;
    for (uint32_t i = 0; i < length; i++)
        filled += mdb_word_build(bytes[i], wire + filled);
    return filled + mdb_word_build((uint16_t)(MDB_MODE | mdb_check(bytes, length)), wire + filled);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const none[] = {NULL};
    static const char *const euro[] = {"currency", "EUR", NULL};
    static struct judge judge;
    static const struct protocol protocol = {.adapter = &mdb_adapter,
                                             .pieces_matter = true,
                                             .settings = {none, euro, none, euro},
                                             .answer_make = answer_make,
                                             .line_note = line_note,
                                             .event_check = event_check,
                                             .judge = &judge,
                                             .judge_size = sizeof judge};
    adapter_drive(&protocol, data, size);
    return 0;
}
