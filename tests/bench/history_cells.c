/*
 * A history as a table of counts. See history_cells.h.
 */
#include "history_cells.h"

#include <stdio.h>
#include <stdlib.h>

struct counter {
    struct cells *cells;
    struct lane_watch watches[HISTORY_LANES_MAX];
};

static uint8_t outcome_of(int32_t reason)
{
    return reason == CFOIL_REASON_NONE ? CELL_ACCEPTED : reason == CFOIL_REASON_HANDLING ? CELL_FEEDING : CELL_REFUSED;
}

static bool event_count(void *user, const struct history_event *event)
{
    struct counter *counter = user;
    char name[16];
    snprintf(name, sizeof name, "lane %u", (unsigned)event->lane + 1);
    bool refused = event->reason != CFOIL_REASON_NONE;
    struct insertion insertion = {.time_utc_ms = event->time_utc_ms,
                                  .sequence = event->sequence,
                                  .outcome = outcome_of(event->reason),
                                  .reason = (uint8_t)event->reason};
    if (insertion.outcome == CELL_REFUSED)
        insertion.channel = (uint16_t)event->channel;
    uint16_t note;
    struct lane_watch *watch = &counter->watches[event->lane];
    return cells_lane(counter->cells, name, &insertion.lane) &&
           cells_note(counter->cells, refused ? "" : "XTS", event->value_minor, "", &insertion.note) &&
           insertion_count(counter->cells, watch, &insertion) &&
           (event->disposition == CFOIL_DISPOSITION_NONE ||
            (cells_note(counter->cells, "XTS", event->value_minor, event->series, &note) &&
             insertion_identify(counter->cells, watch, event->sequence_before, note) &&
             insertion_identify(counter->cells, watch, event->sequence, note)));
}

bool history_count(const struct history_plan *plan, struct cells *cells)
{
    struct counter *counter = calloc(1, sizeof *counter);
    if (counter == NULL)
        return false;
    counter->cells = cells;
    bool good = history_tell(plan, event_count, counter);
    free(counter);
    return good;
}
