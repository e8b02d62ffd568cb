/*
 * How a machine has been doing: the newest notes it was given, and how many of them it refused. For the false-reject rate.
 */
#ifndef STATISTICS_LANE_RECORD_H
#define STATISTICS_LANE_RECORD_H

#include <counterfoil/counterfoil.h>

struct ledger;

/* Only so many of the newest entries are read: it takes milliseconds, and a machine is judged by its present state. */
#define LANE_RECORD_ENTRIES 1000u

struct lane_record {
    uint64_t presentations;
    uint64_t refusals; /* of these */
};

/* Refusals for feeding, settings, the machine's own trouble or interference are no trials. Refusals in a row are one
 * trial: most likely the same note, fed again. */
int32_t lane_record_count(struct ledger *ledger, const char *lane, struct lane_record *record, cfoil_error_info *error);

#endif
