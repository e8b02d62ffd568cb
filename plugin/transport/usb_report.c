/*
 * How long is each report of a HID device? See usb_report.h; HID is the "Device Class Definition for Human Interface
 * Devices", version 1.11.
 */
#include "transport/usb_report.h"

#include <string.h>

/* HID 1.11 section 6.2.2: tag and type of a short item, without the two bits of its size. */
enum {
    ITEM_INPUT = 0x80,
    ITEM_OUTPUT = 0x90,
    ITEM_REPORT_SIZE = 0x74,
    ITEM_REPORT_ID = 0x84,
    ITEM_REPORT_COUNT = 0x94,
    ITEM_PUSH = 0xA4,
    ITEM_POP = 0xB4,
    ITEM_KIND_BITS = 0xFC,
    ITEM_LONG = 0xFE
};

/* The standard sets no limit: ours. */
#define PUSH_MAX 8

#define REPORT_BITS_MAX (8u * USB_REPORT_MAX)

/* The global items that lengths depend on. */
struct globals {
    uint32_t bits;
    uint32_t count;
    uint8_t number;
};

struct reading {
    struct globals now;
    struct globals pushed[PUSH_MAX];
    uint32_t pushed_count;
    uint32_t input_bits[256];
    uint32_t output_bits[256];
};

static bool field_add(uint32_t bits[256], const struct globals *now)
{
    if (now->bits != 0 && now->count > REPORT_BITS_MAX / now->bits)
        return false;
    bits[now->number] += now->bits * now->count;
    return bits[now->number] <= REPORT_BITS_MAX - 8;
}

static bool item_take(struct reading *reading, struct usb_reports *reports, uint8_t kind, uint32_t value)
{
    switch (kind) {
    case ITEM_INPUT:
        return field_add(reading->input_bits, &reading->now);
    case ITEM_OUTPUT:
        return field_add(reading->output_bits, &reading->now);
    case ITEM_REPORT_SIZE:
        reading->now.bits = value;
        return true;
    case ITEM_REPORT_COUNT:
        reading->now.count = value;
        return true;
    case ITEM_REPORT_ID: /* HID 1.11 section 6.2.2.7: zero is reserved */
        reading->now.number = (uint8_t)value;
        reports->numbered = true;
        return value >= 1 && value <= 255;
    case ITEM_PUSH:
        if (reading->pushed_count == PUSH_MAX)
            return false;
        reading->pushed[reading->pushed_count++] = reading->now;
        return true;
    case ITEM_POP:
        if (reading->pushed_count == 0)
            return false;
        reading->now = reading->pushed[--reading->pushed_count];
        return true;
    default: /* usages, collections, feature reports: nothing to the length of what we exchange */
        return true;
    }
}

/* HID 1.11 section 6.2.2.2: sizes 0, 1, 2 and, for the code 3, 4 bytes; least significant byte first. */
static uint32_t value_read(const uint8_t *bytes, size_t size)
{
    uint32_t value = 0;
    for (size_t i = 0; i < size; i++)
        value |= (uint32_t)bytes[i] << (8 * i);
    return value;
}

static bool items_read(struct reading *reading, struct usb_reports *reports, const uint8_t *bytes, size_t length)
{
    static const uint8_t sizes[] = {0, 1, 2, 4};
    size_t place = 0;
    while (place < length) {
        uint8_t head = bytes[place++];
        bool is_long = head == ITEM_LONG; /* section 6.2.2.3: then its size and tag follow */
        if (is_long && length - place < 2)
            return false;
        size_t size = is_long ? 2u + bytes[place] : sizes[head & 3u];
        if (size > length - place)
            return false;
        if (!is_long && !item_take(reading, reports, head & ITEM_KIND_BITS, value_read(bytes + place, size)))
            return false;
        place += size;
    }
    return true;
}

/* HID 1.11 section 5.6: the number stands in front; the last byte may be filled up. */
static uint16_t lengths_set(uint16_t lengths[256], const uint32_t bits[256], bool numbered)
{
    uint16_t longest = 0;
    for (int i = 0; i < 256; i++) {
        lengths[i] = bits[i] == 0 ? 0 : (uint16_t)((bits[i] + 7) / 8 + (numbered ? 1 : 0));
        longest = lengths[i] > longest ? lengths[i] : longest;
    }
    return longest;
}

bool usb_reports_read(const uint8_t *bytes, size_t length, struct usb_reports *reports)
{
    struct reading reading;
    memset(&reading, 0, sizeof reading);
    memset(reports, 0, sizeof *reports);
    if (!items_read(&reading, reports, bytes, length))
        return false;
    /* Either all reports have numbers or none has. */
    if (reports->numbered && (reading.input_bits[0] != 0 || reading.output_bits[0] != 0))
        return false;
    reports->input_max = lengths_set(reports->input, reading.input_bits, reports->numbered);
    reports->output_max = lengths_set(reports->output, reading.output_bits, reports->numbered);
    return reports->input_max > 0 || reports->output_max > 0;
}
