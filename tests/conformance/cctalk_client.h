/*
 * A small ccTalk host of the suite's own: one request, one answer, and what can be measured of it. It shares no code
 * with the adapter, so that the two cannot be wrong together.
 */
#ifndef CONFORMANCE_CCTALK_CLIENT_H
#define CONFORMANCE_CCTALK_CLIENT_H

#include "line.h"
#include "suite.h"

enum { CCTALK_DATA_MAX = 252, CCTALK_EXTRA = 5, CCTALK_TYPES = 16 };

/* The commands used here: Generic Specification part 2 (254 to 225, 4 to 1 also in device manuals; 159 to 152 from memory). */
enum {
    RESET = 1,
    COMMS_STATUS = 2,
    COMMS_CLEAR = 3,
    COMMS_REVISION = 4,
    MODE_READ = 152,
    MODE_WRITE = 153,
    ROUTE = 154,
    BILL_POSITION = 155,
    COUNTRY_SCALING = 156,
    BILL_ID = 157,
    BILL_EVENTS = 159,
    BUILD_CODE = 192,
    MASTER_READ = 227,
    MASTER_WRITE = 228,
    TYPES_READ = 230,
    TYPES_WRITE = 231,
    SELF_CHECK = 232,
    OPTO_STATES = 236,
    SOFTWARE = 241,
    SERIAL_NUMBER = 242,
    PRODUCT = 244,
    CATEGORY = 245,
    MAKER = 246,
    POLLING_PRIORITY = 249,
    ADDRESS_POLL = 253,
    SIMPLE_POLL = 254
};

enum answer_kind { ANSWER_DONE, ANSWER_NAK, ANSWER_BUSY, ANSWER_OTHER, ANSWER_SILENT, ANSWER_DAMAGED };

struct answer {
    enum answer_kind kind; /* OTHER = a reply header that the standard does not have */
    uint8_t frame[CCTALK_DATA_MAX + CCTALK_EXTRA];
    uint32_t frame_length;
    const uint8_t *data; /* of DONE, inside `frame` */
    uint32_t length;
    uint64_t first_us;  /* from the end of the request to the first byte */
    uint64_t gap_us;    /* longest time between bytes of the reply */
    uint32_t strangers; /* bytes in front of the reply */
    uint32_t extra;     /* bytes that came with the reply, behind it */
};

struct client {
    struct trial *trial;
    struct line *line;
    uint8_t address;
    bool crc;
    bool echo;     /* what we send comes back first */
    bool held;     /* a note waits in escrow for our decision */
    bool repeated; /* the last request was sent more than once */
};

/* Finds the device. False = the case is skipped (only one case may fail for silence) or failed. */
bool client_begin(struct trial *trial, struct client *client);
bool client_find(struct trial *trial, struct client *client);
/* No notes any more; a held one goes back. */
void client_end(struct client *client);

/* One try. */
void exchange(struct client *client, uint8_t header, const uint8_t *data, uint32_t length, uint32_t wait_ms,
              struct answer *answer);
/* Up to four tries against noise, waiting while the device says BUSY. The kind that the last try had. */
enum answer_kind ask(struct client *client, uint8_t header, const uint8_t *data, uint32_t length,
                     struct answer *answer);
enum answer_kind ask_plain(struct client *client, uint8_t header, struct answer *answer);
enum answer_kind ask_byte(struct client *client, uint8_t header, uint8_t byte, struct answer *answer);

/* Builds a message; its length. */
uint32_t frame_make(const struct client *client, uint8_t address, uint8_t header, const uint8_t *data, uint32_t length,
                    uint8_t *frame);

/* Sends and counts what comes back within `wait_ms`, our own echo left out. */
uint32_t send_and_count(struct client *client, const uint8_t *bytes, uint32_t length, uint32_t wait_ms,
                        uint8_t *received, uint32_t capacity);

/* Lets time pass on the line and drops what comes. */
void client_wait(struct client *client, uint32_t wait_ms);

/* "NAK", "silence", "3 bytes: 01 02 03"; valid until the next call. */
const char *answer_text(const struct answer *answer);

/* NAK, silence and BUSY mean "not supported" for optional commands: true = the case is skipped with that. */
bool unsupported(struct client *client, const struct answer *answer, uint8_t header);

uint32_t latency_ms(const struct client *client);

#endif
