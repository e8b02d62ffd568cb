/*
 * A contact-pulse device as wire cases see it: line states in, outputs out, and pulses made of the states. It shares no
 * code with the adapter; adapters/pulse/README.md says what the settings mean.
 */
#ifndef CONFORMANCE_PULSE_CLIENT_H
#define CONFORMANCE_PULSE_CLIENT_H

#include "line.h"
#include "suite.h"

enum { TRAIN_PULSES = 64 };

struct wires {
    struct trial *trial;
    struct line *line;
    uint8_t input;   /* the bit of the contact's line */
    bool low;        /* it is closed when the line is low */
    uint8_t inhibit; /* the bit of the output, 0 = none */
    bool inhibit_high;
    uint32_t pulse_min_ms, pulse_max_ms, gap_max_ms;
    bool any_number; /* value_minor: any number of pulses is money */
    bool numbers[1001];
    bool known, closed; /* a state came; the contact as it is now */
    uint8_t state;
    uint64_t changed_us; /* when the contact changed last */
    unsigned repeats;    /* states that were no change */
    uint8_t strange;     /* bits that are no inputs */
    uint8_t waiting[32]; /* states that came in one read and were not looked at */
    uint32_t waiting_count;
};

/* Lengths in microseconds; pause[i] is behind pulse i. */
struct train {
    unsigned pulses;
    uint64_t width_us[TRAIN_PULSES];
    uint64_t pause_us[TRAIN_PULSES];
    uint64_t begin_us;
    uint64_t end_us;
};

/* Reads the settings, takes notes off, waits for a first state. False = the case has failed or is skipped. */
bool wires_begin(struct trial *trial, struct wires *wires);
/* Notes on or off. */
void wires_accept(struct wires *wires, bool wanted);
/* Waits for a change of the contact. False = none until then. */
bool wires_change(struct wires *wires, uint64_t until_us);
/* The next train: it begins until then, and ends with `gap_max_ms` of rest. False = none. */
bool wires_train(struct wires *wires, uint64_t until_us, struct train *train);
/* The same, from a pulse on whose beginning was seen. */
bool wires_train_go_on(struct wires *wires, struct train *train);

#define PULSE(part) "adapters/pulse/README.md, " part
#define LINES(part) "docs/adapters.md, modem-control lines: " part

#endif
