/*
 * What stands in the look-up tables because of an entry: they can be made again from the entries at any time.
 */
#ifndef LEDGER_INDEX_H
#define LEDGER_INDEX_H

#include "ledger/ledger.h"

#include <sqlite3.h>

struct index_entry {
    int64_t number;
    int64_t time_utc_ms;
    const char *kind;
    const char *case_id; /* NULL = none */
    int32_t disposition;
    const char *body;
};

/* Brings case_index, custody, setting and open_case up to this entry. Call it inside the transaction that adds it, or for
 * all entries in order to make the tables again. Bodies that other hands have made unreadable leave only what the entry's
 * own columns say. Answers an SQLite code. */
int index_entry_add(sqlite3 *database, const struct index_entry *entry);

/* Empties the tables and fills them from all entries. Answers an SQLite code. */
int index_make(sqlite3 *database);

#endif
