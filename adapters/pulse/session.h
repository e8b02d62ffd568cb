/*
 * The state of one contact-pulse input: settings.c reads the host's settings, contact.c makes pulses of line states,
 * train.c says what a train of pulses means, adapter.c holds the table, the time and the inhibit output.
 *
 * There is no standard for pulse devices: every number here is common practice, no source, and a setting.
 */
#ifndef PULSE_SESSION_H
#define PULSE_SESSION_H

#include <counterfoil/adapter.h>
#include <stdbool.h>

#define MS(milliseconds) (UINT64_C(1000) * (milliseconds))
#define STUCK_US         MS(1000)  /* past the longest pulse: the contact does not open any more */
#define SILENT_US        MS(10000) /* no line state at all */
#define TICK_SHORTEST_US MS(5)     /* the lines are looked at every 5 ms */

enum { PULSES_MAX = 1000, VALUES_MAX = 32 };

enum inhibit_output { INHIBIT_NONE = 0, INHIBIT_DTR = CFOIL_LINE_DTR, INHIBIT_RTS = CFOIL_LINE_RTS };

struct pulse_value {
    int64_t value_minor;
    uint32_t pulses;
};

struct settings {
    uint8_t line; /* CFOIL_LINE_CTS .. CFOIL_LINE_RI */
    const char *line_name;
    bool active_high;
    bool inhibit_high;
    enum inhibit_output inhibit;
    uint64_t pulse_min_us;
    uint64_t pulse_max_us;
    uint64_t gap_max_us;
    uint64_t debounce_us;
    int64_t per_pulse_minor; /* 0 = the table counts */
    uint32_t value_count;
    struct pulse_value values[VALUES_MAX];
    char currency[4];
};

/* The contact as it is seen, and as it is after debouncing. */
struct contact {
    bool known;     /* a line state has come */
    bool raw;       /* active, as seen last */
    bool level;     /* active, debounced */
    bool unsettled; /* it moves faster than the debounce time */
    uint64_t raw_us;
    uint64_t level_us;
    uint64_t unsettled_us;
};

/* Pulses that belong together. */
struct train {
    bool under_way;
    bool joined;    /* it may have begun before anybody watched */
    bool inhibited; /* it began while no notes were wanted */
    uint32_t good;
    const char *spoilt; /* why it is no money: one line; NULL = it is sound */
};

struct session {
    const cfoil_adapter_host *host;
    struct settings settings;
    uint64_t now_us;
    uint64_t looked_us; /* the step before */
    uint64_t open_us;
    int32_t accept_wanted;
    bool ready; /* the line has been quiet once */
    bool silent;
    bool stuck;
    bool quit;
    struct contact contact;
    struct train train;
};

/* settings.c */
int32_t pulse_settings_read(struct settings *settings, const cfoil_adapter_start *start);

/* contact.c */
void pulse_contact_see(struct session *session, uint8_t lines);
void pulse_contact_settle(struct session *session);
bool pulse_contact_pending(const struct contact *contact); /* a change that is not yet debounced */

/* train.c */
void pulse_train_begin(struct session *session);
void pulse_train_spoil(struct session *session, const char *why);
void pulse_begin(struct session *session, uint64_t gap_us);
void pulse_end(struct session *session, uint64_t width_us);
void pulse_train_end(struct session *session);
void pulse_condition_tell(const struct session *session, int32_t condition, const char *text);

/* adapter.c */
bool pulse_accepting(const struct session *session);
void pulse_ready_tell(const struct session *session);

#endif
