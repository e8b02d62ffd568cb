/*
 * The real adapter on the port, through the public interface, and what it told.
 */
#ifndef CONFORMANCE_ADAPTER_LANE_H
#define CONFORMANCE_ADAPTER_LANE_H

#include "cctalk_watch.h"
#include "suite.h"

enum { TOLD_MAX = 256 };

/* One note event. */
struct told {
    int32_t kind;
    int32_t note_type;
    int64_t value_minor;
    uint32_t flags;
    char currency[4];
    char note_name[20];
};

struct adapter_lane {
    struct trial *trial;
    cfoil_context *context;
    cfoil_lane *lane;
    int32_t state; /* CFOIL_LANE_* */
    int32_t result;
    struct told told[TOLD_MAX];
    uint32_t told_count;
    uint32_t seen;         /* of `told`, by the case */
    uint64_t presentation; /* of the latest HELD */
    char identity[160];
    char text[160]; /* of the latest state */
    char trace[PATH_SIZE];
    char id[32]; /* of the adapter */
    bool wire;   /* `before` holds: the event buffer when the lane was opened (ccTalk) */
    struct snapshot before;
    bool counted; /* `count_before` holds: the notes in the stacker when the lane was opened (MDB) */
    unsigned count_before;
};

/* Opens a lane with a recording; `port` NULL = the tester's. False = the case has failed or is skipped. */
bool adapter_lane_open(struct trial *trial, struct adapter_lane *lane, const char *port, int32_t accept);
/* Closes it. The recording is kept for the tester if the case failed, and for later cases if notes came. */
void adapter_lane_close(struct adapter_lane *lane);

/* Waits for one event. False = none within that time, or the lane is at its end. */
bool adapter_lane_event(struct adapter_lane *lane, uint32_t wait_ms);
/* False = not within that time, and the case has failed. */
bool adapter_lane_state(struct adapter_lane *lane, int32_t state, uint32_t wait_ms);
/* The next note event that was not looked at; NULL = none within that time. */
const struct told *adapter_lane_told(struct adapter_lane *lane, uint32_t wait_ms);

/* What the wire shows behind the adapter's back, the lane being closed: nothing while no wire cases know the protocol. */
bool wire_known(const struct trial *trial);
bool wire_open(struct trial *trial, struct client *client);
void wire_close(struct trial *trial);
/* MDB: the notes in the stacker. False = the case has failed or is skipped. */
bool stacker_count(struct trial *trial, unsigned *count);

const char *kind_word(int32_t kind);

extern const struct conformance_case adapter_cases[];
/* How long the bare adapter works in each step. */
void adapter_step_time(struct trial *trial);

/* Loads the adapter in a shared library as the library does, and finds its table; the lanes load it anew through the
 * public interface. False = a mistake, told to stderr. */
struct os_library;
bool adapter_file_open(const char *path, struct os_library **library, const cfoil_adapter **adapter);

#endif
