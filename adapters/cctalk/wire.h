/*
 * ccTalk frames: building and recognising them in both check forms. Nothing here knows what a header means.
 */
#ifndef CCTALK_WIRE_H
#define CCTALK_WIRE_H

#include <stdint.h>

/* Generic Specification Part 1, message structure: 0 to 252 data bytes and five others. */
#define CCTALK_DATA_MAX  252u
#define CCTALK_FRAME_MIN 5u
#define CCTALK_FRAME_MAX 257u

enum cctalk_check {
    CCTALK_CHECK_SUM = 0, /* all bytes add up to 0 modulo 256 */
    CCTALK_CHECK_CRC = 1  /* CRC in the places of source and checksum */
};

struct cctalk_frame {
    uint8_t destination;
    uint8_t source; /* 0 in the CRC form, which does not carry it */
    uint8_t header;
    uint8_t length; /* of data */
    uint8_t data[CCTALK_DATA_MAX];
};

/* Writes the frame and returns its length in bytes; 0 when frame->length is more than CCTALK_DATA_MAX. */
uint32_t cctalk_frame_build(enum cctalk_check check, const struct cctalk_frame *frame, uint8_t bytes[CCTALK_FRAME_MAX]);

enum cctalk_found {
    CCTALK_NEED_MORE, /* the beginning of a frame */
    CCTALK_FRAME,     /* a frame; *used bytes long */
    CCTALK_DAMAGED    /* no frame can begin here */
};

/* Looks for a frame at the beginning of `bytes`. What *frame holds is of use only after CCTALK_FRAME. */
enum cctalk_found cctalk_frame_parse(enum cctalk_check check, const uint8_t *bytes, uint32_t length,
                                     struct cctalk_frame *frame, uint32_t *used);

/* The CRC of the bytes, x^16 + x^12 + x^5 + 1, begun at `crc` (0 for a new one). */
uint16_t cctalk_crc(uint16_t crc, const uint8_t *bytes, uint32_t length);

#endif
