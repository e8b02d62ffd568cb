/*
 * A lane: one validator and the thread that serves it. Transport and adapter in, events out.
 */
#ifndef LANE_LANE_H
#define LANE_LANE_H

#include "model/memory.h"

#include <counterfoil/adapter.h>

struct lane;
struct ledger;

/* Where log records go. `write` is called with no lock held. */
struct lane_log {
    int32_t level; /* CFOIL_LOG_*, 0 = none */
    cfoil_log_function write;
    void *user;
};

struct lane_setup {
    const struct memory *memory;  /* valid until lane_destroy() */
    const cfoil_adapter *adapter; /* valid until lane_destroy() */
    struct ledger *ledger;        /* retained; NULL = no record */
    struct lane_log log;
    const cfoil_lane_options *options; /* copied */
    uint32_t failing_after_ms;         /* a ledger that is busy for so long counts as failing; 0 = 10 s */
};

/* Checks the options (all but struct_size and ledger), opens trace files, starts the thread. */
int32_t lane_create(const struct lane_setup *setup, struct lane **lane, cfoil_error_info *error);

/* Wakes every waiter (they return CFOIL_E_STATE_CLOSING from now on), stops and joins the thread. May be called twice. */
void lane_stop(struct lane *lane);

/* Frees a stopped lane. Nobody may be inside a call. */
void lane_destroy(struct lane *lane);

/* Makes every wait return CFOIL_E_STATE_SHUTDOWN from now on; the thread goes on until lane_stop(). */
void lane_shutdown(struct lane *lane);

int32_t lane_wait(struct lane *lane, uint32_t timeout_ms, cfoil_event *event); /* fills all but struct_size */
int32_t lane_wait_handle(struct lane *lane, intptr_t *handle);
int32_t lane_accept(struct lane *lane, int32_t accept);
int32_t lane_note_stack(struct lane *lane, uint64_t presentation);
int32_t lane_note_return(struct lane *lane, uint64_t presentation);
int32_t lane_note_hold(struct lane *lane, uint64_t presentation, uint32_t hold_ms);
void lane_error_read(struct lane *lane, cfoil_error_info *error); /* the last trouble of the lane */
const char *lane_name(const struct lane *lane);

#endif
