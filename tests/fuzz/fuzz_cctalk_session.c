/*
 * Any answers and any noise at a ccTalk adapter: is a note told as stacked only if the device has said so, and does the
 * adapter keep the rules of adapter.h?
 */
#include "adapter_drive.h"

#include "cctalk/cctalk.h"
#include "cctalk/wire.h"

/* Event pairs "type, 0" that have been on the line: Generic Specification Part 3, bill validator event codes: result B
 * is 0 for a bill that was credited. */
struct judge {
    bool said[256];
    uint8_t before;
};

static void line_note(void *user, const uint8_t *bytes, uint32_t length)
{
    struct judge *judge = user;
    for (uint32_t i = 0; i < length; i++) {
        if (bytes[i] == 0)
            judge->said[judge->before] = true;
        judge->before = bytes[i];
    }
}

static void event_check(void *user, const cfoil_adapter_event *event)
{
    const struct judge *judge = user;
    if (event->kind == CFOIL_KIND_STACKED)
        demand(event->note_type >= 1 && event->note_type <= 255 && judge->said[event->note_type]);
}

/* Well formed; the first byte says how long, or which header. */
static uint32_t answer_make(struct drive *drive, struct walk *walk, uint8_t wire[DRIVE_WIRE_MAX])
{
    uint8_t shape = walk_byte(walk);
    struct cctalk_frame frame = {.destination = 1, .source = 40};
    bool crc = drive->settings[0] != NULL && strcmp(drive->settings[1], "crc") == 0;
    if (drive->sent_length > 0)
        frame.source = drive->sent[0];
    if (shape >= 0xF0)
        frame.header = walk_byte(walk);
    if (shape >= 0xF8)
        frame.source = walk_byte(walk);
    frame.length = (uint8_t)walk_bytes(walk, shape < 0xF0 ? shape : shape - 0xF0u, frame.data);
    return cctalk_frame_build(crc ? CCTALK_CHECK_CRC : CCTALK_CHECK_SUM, &frame, wire);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const none[] = {NULL};
    static const char *const crc[] = {"check", "crc", NULL};
    static const char *const many[] = {"check",   "sum", "address", "auto", "currency.GB", "GBP",
                                       "poll_ms", "500", "hold_ms", "0",    NULL};
    static struct judge judge;
    static const struct protocol protocol = {.adapter = &cctalk_adapter,
                                             .settings = {none, crc, many, none},
                                             .pieces_matter = true,
                                             .answer_make = answer_make,
                                             .line_note = line_note,
                                             .event_check = event_check,
                                             .judge = &judge,
                                             .judge_size = sizeof judge};
    adapter_drive(&protocol, data, size);
    return 0;
}
