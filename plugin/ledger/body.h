/*
 * What a ledger handle holds, for the files of this folder only.
 */
#ifndef LEDGER_BODY_H
#define LEDGER_BODY_H

#include "ledger/ledger.h"
#include "ledger/store.h"

#include <stdatomic.h>

struct os_mutex;

/* Statements that are made once and kept. */
enum statement {
    STATEMENT_BEGIN,
    STATEMENT_COMMIT,
    STATEMENT_ROLLBACK,
    STATEMENT_HEAD_READ,
    STATEMENT_HEAD_WRITE,
    STATEMENT_CASE_FIND,
    STATEMENT_ENTRY_ADD,
    STATEMENT_ENTRY_READ,
    STATEMENT_CASE_READ,
    STATEMENT_SERIAL_ADD,
    STATEMENT_SERIAL_FIND,
    STATEMENT_DEVICE_WRITE,
    STATEMENT_DEVICE_READ,
    STATEMENT_COUNT
};

struct ledger {
    struct memory memory;
    atomic_uint references;
    struct os_mutex *mutex; /* guards the connection and its statements */
    bool read_only;
    int32_t rights;           /* CFOIL_RIGHTS_*: who besides the owner may have rights on the file and its key file */
    int64_t checkpoint_every; /* entries between signed checkpoints, 0 = none by itself */
    bool checkpoint_due;
    bool unsigned_entries; /* this handle has added some since the last checkpoint that it wrote */
    struct store store;
    sqlite3_stmt *statements[STATEMENT_COUNT];
    bool appended; /* entries were added in the transaction that is open: the sums are not up to them yet */
    struct rollup_statements *rollup; /* made when they are needed first */
};

/* The columns that STATEMENT_ENTRY_READ and the readers ask for, in this order. */
#define COLUMNS "number, time_utc_ms, kind, case_id, disposition, previous, hash, body"
enum column {
    COLUMN_NUMBER,
    COLUMN_TIME,
    COLUMN_KIND,
    COLUMN_CASE,
    COLUMN_DISPOSITION,
    COLUMN_PREVIOUS,
    COLUMN_HASH,
    COLUMN_BODY
};

#endif
