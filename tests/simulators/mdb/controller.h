/* What does the bus microcontroller do? Sessions, numbers, repetition, its memory, and the ACK on the bus. */
#ifndef SIMULATOR_MDB_CONTROLLER_H
#define SIMULATOR_MDB_CONTROLLER_H

#include "bus.h"
#include "carrier.h"

enum { KEPT_MOST = 8, SESSION_BYTES = 4 };

/* A block or a fault in memory until the host has acknowledged its packet. */
struct kept {
    uint8_t kind;
    uint8_t payload[PAYLOAD_MOST];
    size_t length;
    int64_t ready_ms;
    bool acknowledged; /* on the bus: the validator will not say it again */
    bool events;       /* poll events are in it, and the validator has got its ACK */
};

struct controller {
    struct bus *bus;
    struct carrier *carrier;
    const struct settings *settings;
    const struct truth *truth;
    uint32_t session;
    uint8_t host_session[SESSION_BYTES];
    bool asking;      /* restarted: sends HELLO until the host's has come */
    bool established; /* both have said HELLO */
    bool running;     /* the host has sent a numbered packet since */
    bool restarted;   /* FAULT 3 is due when established */
    int64_t hello_due_ms, off_until_ms;
    uint8_t host_number; /* of the host's packet seen last, 0: none */
    uint8_t number;      /* of our packet under way, or sent last */
    struct kept kept[KEPT_MOST];
    size_t kept_count;
    int attempts; /* how often the first of them was sent */
    int64_t due_ms;
};

void controller_start(struct controller *controller, struct bus *bus, struct carrier *carrier);
void controller_advance(struct controller *controller, int64_t now_ms);
int64_t controller_deadline(const struct controller *controller, int64_t now_ms);
void controller_receive(struct controller *controller, const struct packet *packet, int64_t now_ms);
/* Loses power for so long: its memory is gone, the bus keeps still. */
void controller_restart(struct controller *controller, long off_ms, int64_t now_ms);
/* Something that the host could still be told is in memory. */
bool controller_has_events(const struct controller *controller);

#endif
