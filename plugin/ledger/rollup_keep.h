/*
 * How the sums stand in the file: shared by what writes and what reads them.
 */
#ifndef LEDGER_ROLLUP_KEEP_H
#define LEDGER_ROLLUP_KEEP_H

#include <stdint.h>

/* Each cell is kept twice: for its hour, and added up for its UTC day. */
enum rollup_level { ROLLUP_LEVEL_HOUR = 0, ROLLUP_LEVEL_DAY = 1 };

/* In the order of struct rollup_key and of enum rollup_count. */
#define ROLLUP_KEY_COLUMNS                                                                                             \
    "level, hour, source, lane, currency, value_minor, type, reason, channels, condition, disposition, advice, move"
#define ROLLUP_COUNT_COLUMNS                                                                                           \
    "held, stacked, returned, rejected, accepted_first, accepted_retry, rejected_first, rejected_retry, recovered,"    \
    " conditions, losses, losses_uncounted, events_lost, connections_lost, cases, overrides, steps"

/* The first hour of the UTC day that an hour belongs to. */
static inline int64_t rollup_day_begin(int64_t hour)
{
    int64_t rest = hour % 24;
    return hour - (rest < 0 ? rest + 24 : rest);
}

#endif
