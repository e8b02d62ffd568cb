/* How does a test play the host of a bus controller? Its own side of the word carrier, written apart from the
 * simulator's. */
#ifndef SIMULATOR_MDB_CLIENT_H
#define SIMULATOR_MDB_CLIENT_H

#include "harness.h"

enum { HELLO = 0x01, ACKNOWLEDGE = 0x02, SEND = 0x10, BLOCK = 0x11, FAULT = 0x12, PAYLOAD_MOST = 80, FRAME_MOST = 180 };

struct packet {
    int kind, number;
    uint8_t payload[FRAME_MOST];
    size_t length;
};

struct host {
    struct run run;
    int number;  /* of our packet sent last */
    int session; /* sent in HELLO */
    int seen;    /* number of the controller's packet that we acknowledged last */
};

#define FAST  "device start_ms 0\ndevice move_ms 0\n"
#define NOTES FAST "device scaling 500\nnote 0 1\nnote 1 2\nnote 2 4\nnote 3 10\nnote 4 20\nnote 5 40\nnote 6 100\n"

/* x^16 + x^12 + x^5 + 1 as RFC 1662 appendix C has it, already inverted; computed by long division on the bits. */
unsigned check_16(const uint8_t *bytes, size_t count);
size_t frame_make(const struct packet *packet, uint8_t frame[FRAME_MOST]);

/* Starts the simulator and says HELLO. */
void host_start(struct host *host, const char *script);
void host_end(struct host *host, int status);
void host_hello(struct host *host);
void packet_send(const struct host *host, int kind, int number, const uint8_t *payload, size_t length);
/* The next packet whose checksum is good. The others are left out, and so is what comes again after we have
 * acknowledged it, because the controller is faster than a busy machine. */
struct packet packet_hear(const struct host *host);
void acknowledge(struct host *host, const struct packet *packet);
/* A numbered packet of the controller, with its words, or its bytes if it is a FAULT; acknowledges it. */
void expect_block(struct host *host, const char *words);
void expect_fault(struct host *host, int what);

/* Words are written as in the fact sheet: two hexadecimal digits, and * for mode bit 1. */
void words_send(struct host *host, const char *words);
/* Sends, and hears ACKNOWLEDGE; then the answer. */
void ask(struct host *host, const char *words, const char *answer);
/* No answer comes: the next packet sent is acknowledged first. */
void expect_silence(struct host *host, const char *words);
/* Polls until something else than ACK comes, and compares. */
void expect_poll(struct host *host, const char *answer);
/* Polls until anything comes; the device may be silent at first. */
void expect_poll_after_silence(struct host *host, const char *answer);
/* Polls until 06 comes: the device has started. */
void expect_started(struct host *host);

#define POLL_WORDS   "33* 33"
#define ACK_WORD     "00*"
#define ENABLE_WORDS "34* FF FF FF FF 30"

#endif
