/*
 * A ledger of version 2, as the library wrote it then: version 1 with the look-up tables.
 */
#ifndef VERSION_2_H
#define VERSION_2_H

#include "version_1.h"

#define VERSION_2_TABLES                                                                                               \
    "CREATE TABLE open_case(case_id TEXT PRIMARY KEY, lane TEXT NOT NULL, sale TEXT NOT NULL, currency TEXT NOT NULL," \
    " serial TEXT NOT NULL, updated_utc_ms INTEGER NOT NULL, state TEXT NOT NULL);"                                    \
    "CREATE INDEX open_case_sale ON open_case(sale);"                                                                  \
    "CREATE INDEX open_case_serial ON open_case(currency, serial) WHERE serial <> '';"                                 \
    "CREATE TABLE case_index(case_id TEXT PRIMARY KEY, entry INTEGER NOT NULL, sale TEXT NOT NULL, lane TEXT NOT "     \
    "NULL,"                                                                                                            \
    " currency TEXT NOT NULL, value_minor INTEGER NOT NULL, serial TEXT NOT NULL, disposition INTEGER NOT NULL)"       \
    " WITHOUT ROWID;"                                                                                                  \
    "CREATE INDEX case_index_sale ON case_index(sale) WHERE sale <> '';"                                               \
    "CREATE INDEX case_index_serial ON case_index(currency, serial) WHERE serial <> '';"                               \
    "CREATE TABLE custody(case_id TEXT PRIMARY KEY, state TEXT NOT NULL, since_utc_ms INTEGER NOT NULL,"               \
    " entry INTEGER NOT NULL, envelope TEXT NOT NULL, place TEXT NOT NULL, holder TEXT NOT NULL) WITHOUT ROWID;"       \
    "CREATE INDEX custody_state ON custody(state);"                                                                    \
    "CREATE INDEX entry_custody ON entry(number) WHERE kind = 'custody';"                                              \
    "CREATE TABLE setting(name TEXT PRIMARY KEY, value TEXT NOT NULL, entry INTEGER NOT NULL) WITHOUT ROWID;"          \
    "CREATE TABLE staff(staff TEXT PRIMARY KEY, role TEXT NOT NULL, pin_hash TEXT NOT NULL,"                           \
    " failures INTEGER NOT NULL, locked_until_utc_ms INTEGER NOT NULL) WITHOUT ROWID;"                                 \
    "CREATE TABLE person(case_id TEXT PRIMARY KEY, nonce BLOB NOT NULL, cipher BLOB NOT NULL,"                         \
    " written_utc_ms INTEGER NOT NULL, erase_after_utc_ms INTEGER NOT NULL);"                                          \
    "CREATE TABLE key(id TEXT PRIMARY KEY, kind TEXT NOT NULL, public_key BLOB NOT NULL, since_utc_ms INTEGER NOT "    \
    "NULL,"                                                                                                            \
    " until_utc_ms INTEGER NOT NULL) WITHOUT ROWID;"                                                                   \
    "PRAGMA user_version=2;"

/* The entries of version_1_make(), what the tables say of them, and a code of staff, which no entry can give back. */
static inline void version_2_make(const char *path)
{
    sqlite3 *database;
    version_1_make(path);
    assert_int_equal(sqlite3_open(path, &database), SQLITE_OK);
    assert_int_equal(sqlite3_exec(database,
                                  VERSION_2_TABLES
                                  "INSERT INTO case_index VALUES('01900000-0000-7000-8000-000000000002', 2, 'S2', '1',"
                                  " 'EUR', 5000, 'VA0436214792', 2),"
                                  " ('01900000-0000-7000-8000-000000000003', 3, 'S3', '1', 'EUR', 2000, '', 3),"
                                  " ('01900000-0000-7000-8000-000000000004', 4, '', '', '', 0, '', 3),"
                                  " ('01900000-0000-7000-8000-000000000005', 5, '', '', 'EUR', 0, '', 1);"
                                  "INSERT INTO custody VALUES('01900000-0000-7000-8000-000000000002',"
                                  " 'with_customer', 1764000000001, 2, '', '', ''),"
                                  " ('01900000-0000-7000-8000-000000000003', 'sealed', 1764000000002, 3, 'E 7', '',"
                                  " ''),"
                                  " ('01900000-0000-7000-8000-000000000004', 'set_aside', 1764000000003, 4, '', '',"
                                  " '');"
                                  "INSERT INTO staff VALUES('01', 'supervisor', 'x', 0, 0)",
                                  NULL, NULL, NULL),
                     SQLITE_OK);
    sqlite3_close(database);
}

#endif
