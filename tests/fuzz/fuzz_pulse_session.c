/*
 * Any movement of the modem-control lines at the contact-pulse adapter: is never more money told than pulses were seen?
 */
#include "adapter_drive.h"

#include "pulse/pulse.h"

enum { PER_PULSE_MINOR = 500 };

struct judge {
    bool level;
    uint32_t changes;
    int64_t told_minor;
};

static void line_note(void *user, const uint8_t *bytes, uint32_t length)
{
    struct judge *judge = user;
    for (uint32_t i = 0; i < length; i++) {
        bool level = (bytes[i] & CFOIL_LINE_CTS) != 0;
        judge->changes += level != judge->level;
        judge->level = level;
    }
}

static void event_check(void *user, const cfoil_adapter_event *event)
{
    struct judge *judge = user;
    if (event->kind == CFOIL_KIND_STACKED)
        judge->told_minor += event->value_minor;
    demand(judge->told_minor <= (int64_t)PER_PULSE_MINOR * judge->changes);
}

/* One pulse: closed and open again, each for so many milliseconds. */
static uint32_t answer_make(struct drive *drive, struct walk *walk, uint8_t wire[DRIVE_WIRE_MAX])
{
    uint8_t lines = CFOIL_LINE_CTS;
    uint64_t closed_us = UINT64_C(1000) * walk_byte(walk);
    uint64_t open_us = UINT64_C(1000) * walk_byte(walk);
    line_give(drive, &lines, 1);
    time_pass(drive, closed_us);
    wire[0] = 0;
    line_give(drive, wire, 1);
    time_pass(drive, open_us);
    return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const each[] = {"currency", "EUR", "value_minor", "500", NULL};
    static const char *const table[] = {"currency", "EUR", "values", "500:1,1000:2,1500:4", "inhibit", "dtr", NULL};
    static const char *const quick[] = {"currency",       "EUR",  "value_minor", "500", "debounce_ms", "0",
                                        "pulse_min_ms",   "10",   "gap_max_ms",  "20",  "inhibit",     "rts",
                                        "inhibit_active", "high", NULL};
    static struct judge judge;
    static const struct protocol protocol = {.adapter = &pulse_adapter,
                                             .settings = {each, table, quick, each},
                                             .answer_make = answer_make,
                                             .line_note = line_note,
                                             .event_check = event_check,
                                             .judge = &judge,
                                             .judge_size = sizeof judge};
    adapter_drive(&protocol, data, size);
    return 0;
}
