/*
 * Can any bytes on the line make the ccTalk frame parser read past them, skip bytes, or take for a frame what is none?
 */
#include "fuzz.h"

#include "cctalk/wire.h"

/* What is taken for a frame must be the frame that building gives. */
static void frame_is_checked(enum cctalk_check check, const struct cctalk_frame *frame, const uint8_t *bytes,
                             uint32_t used)
{
    uint8_t built[CCTALK_FRAME_MAX];
    demand(used == CCTALK_FRAME_MIN + frame->length);
    demand(cctalk_frame_build(check, frame, built) == used);
    demand(memcmp(built, bytes, used) == 0);
    demand(check == CCTALK_CHECK_SUM || frame->source == 0);
}

/* Waiting is right only while the length byte promises more than there is. */
static void wait_is_checked(const uint8_t *bytes, uint32_t length)
{
    demand(length < CCTALK_FRAME_MAX);
    demand(length < 2 || (bytes[1] <= CCTALK_DATA_MAX && length < CCTALK_FRAME_MIN + bytes[1]));
}

/* As the adapter does: on by the frame, or by one byte where none begins. */
static void line_is_read(enum cctalk_check check, const uint8_t *bytes, uint32_t length)
{
    for (uint32_t place = 0; place <= length;) {
        struct cctalk_frame frame;
        uint32_t used = UINT32_MAX;
        enum cctalk_found found = cctalk_frame_parse(check, bytes + place, length - place, &frame, &used);
        demand(found == CCTALK_FRAME || used == 0);
        if (found == CCTALK_NEED_MORE) {
            wait_is_checked(bytes + place, length - place);
            return;
        }
        if (found == CCTALK_DAMAGED) {
            demand(length - place >= 2);
            place++;
            continue;
        }
        demand(used <= length - place);
        frame_is_checked(check, &frame, bytes + place, used);
        place += used;
    }
}

/* Any frame that can be built must be found again. */
static void built_is_found(enum cctalk_check check, const uint8_t *data, size_t size)
{
    struct cctalk_frame frame = {.destination = data[0], .source = data[1], .header = data[2], .length = data[3]};
    size_t given = size - 4 < sizeof frame.data ? size - 4 : sizeof frame.data;
    memcpy(frame.data, data + 4, given);
    uint8_t bytes[CCTALK_FRAME_MAX];
    uint32_t length = cctalk_frame_build(check, &frame, bytes);
    demand((length == 0) == (frame.length > CCTALK_DATA_MAX));
    if (length == 0)
        return;
    struct cctalk_frame found;
    uint32_t used = 0;
    demand(cctalk_frame_parse(check, bytes, length, &found, &used) == CCTALK_FRAME && used == length);
    demand(found.destination == frame.destination && found.header == frame.header && found.length == frame.length);
    demand(memcmp(found.data, frame.data, frame.length) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size > 65536)
        return 0;
    uint8_t *bytes = bytes_copy(data, size);
    for (int check = CCTALK_CHECK_SUM; check <= CCTALK_CHECK_CRC; check++) {
        line_is_read((enum cctalk_check)check, bytes, (uint32_t)size);
        if (size >= 4)
            built_is_found((enum cctalk_check)check, bytes, size);
    }
    free(bytes);
    return 0;
}
