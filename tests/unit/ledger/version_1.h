/*
 * A ledger of version 1, as the library wrote it then, for tests of opening older files.
 */
#ifndef VERSION_1_H
#define VERSION_1_H

#include "world.h"

#include "ledger/chain.h"

#define VERSION_1_TABLES                                                                                               \
    "PRAGMA application_id=1128680519; PRAGMA journal_mode=WAL;"                                                       \
    "CREATE TABLE entry(number INTEGER PRIMARY KEY, time_utc_ms INTEGER NOT NULL, kind TEXT NOT NULL, case_id TEXT,"   \
    " disposition INTEGER NOT NULL, previous BLOB NOT NULL, hash BLOB NOT NULL, body TEXT NOT NULL);"                  \
    "CREATE UNIQUE INDEX entry_case ON entry(case_id) WHERE case_id IS NOT NULL;"                                      \
    "CREATE TABLE head(id INTEGER PRIMARY KEY CHECK(id = 1), number INTEGER NOT NULL, hash BLOB NOT NULL,"             \
    " entries INTEGER NOT NULL);"                                                                                      \
    "CREATE TABLE device(device TEXT PRIMARY KEY, bytes BLOB NOT NULL) WITHOUT ROWID;"                                 \
    "CREATE TABLE refused_serial(currency TEXT NOT NULL, serial TEXT NOT NULL, entry INTEGER NOT NULL,"                \
    " PRIMARY KEY(currency, serial)) WITHOUT ROWID;"                                                                   \
    "CREATE TRIGGER entry_not_changed BEFORE UPDATE ON entry BEGIN"                                                    \
    " SELECT RAISE(ABORT, 'entries are never changed'); END;"                                                          \
    "CREATE TRIGGER entry_not_removed BEFORE DELETE ON entry BEGIN"                                                    \
    " SELECT RAISE(ABORT, 'entries are never removed'); END;"                                                          \
    "CREATE TRIGGER entry_not_replaced BEFORE INSERT ON entry"                                                         \
    " WHEN EXISTS(SELECT 1 FROM entry WHERE number = NEW.number)"                                                      \
    " OR EXISTS(SELECT 1 FROM entry WHERE case_id = NEW.case_id) BEGIN"                                                \
    " SELECT RAISE(ABORT, 'entries are never replaced'); END;"                                                         \
    "PRAGMA user_version=1;"

/* Entry 1 and some cases: refused at 2, set aside in an envelope at 3, set aside without one at 4, taken at 5. */
#define VERSION_1_ENTRIES 5

static inline void version_1_entry_add(sqlite3 *database, const struct chain_entry *entry, uint8_t hash[32])
{
    sqlite3_stmt *add;
    uint8_t previous[32];
    memcpy(previous, hash, sizeof previous);
    chain_hash(previous, entry, hash);
    assert_int_equal(
        sqlite3_prepare_v2(database, "INSERT INTO entry VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)", -1, &add, NULL),
        SQLITE_OK);
    sqlite3_bind_int64(add, 1, entry->number);
    sqlite3_bind_int64(add, 2, entry->time_utc_ms);
    sqlite3_bind_text(add, 3, entry->kind.bytes, -1, SQLITE_STATIC);
    sqlite3_bind_text(add, 4, entry->case_id.bytes, -1, SQLITE_STATIC);
    sqlite3_bind_int(add, 5, entry->disposition);
    sqlite3_bind_blob(add, 6, previous, 32, SQLITE_STATIC);
    sqlite3_bind_blob(add, 7, hash, 32, SQLITE_STATIC);
    sqlite3_bind_text(add, 8, entry->body.bytes, -1, SQLITE_STATIC);
    assert_int_equal(sqlite3_step(add), SQLITE_DONE);
    sqlite3_finalize(add);
    sqlite3_stmt *head;
    assert_int_equal(sqlite3_prepare_v2(database, "INSERT OR REPLACE INTO head VALUES(1, ?1, ?2, ?1)", -1, &head, NULL),
                     SQLITE_OK);
    sqlite3_bind_int64(head, 1, entry->number);
    sqlite3_bind_blob(head, 2, hash, 32, SQLITE_STATIC);
    assert_int_equal(sqlite3_step(head), SQLITE_DONE);
    sqlite3_finalize(head);
}

static inline void version_1_make(const char *path)
{
    static const struct {
        const char *kind;
        const char *case_id;
        int32_t disposition;
        const char *body;
    } rows[VERSION_1_ENTRIES] = {
        {"opened", NULL, 0, "{\"format\":1,\"schema\":\"counterfoil.opened/1\",\"store\":\"Example store\"}"},
        {"case", "01900000-0000-7000-8000-000000000002", CFOIL_DISPOSITION_NOT_TAKEN,
         "{\"currency\":\"EUR\",\"envelope\":null,\"lane\":\"1\",\"sale\":\"S2\",\"serial\":\"VA0436214792\","
         "\"value_minor\":5000}"},
        {"case", "01900000-0000-7000-8000-000000000003", CFOIL_DISPOSITION_SET_ASIDE,
         "{\"currency\":\"EUR\",\"envelope\":\"E 7\",\"lane\":\"1\",\"sale\":\"S3\",\"serial\":null,"
         "\"value_minor\":2000}"},
        {"case", "01900000-0000-7000-8000-000000000004", CFOIL_DISPOSITION_SET_ASIDE, "not JSON any more"},
        {"case", "01900000-0000-7000-8000-000000000005", CFOIL_DISPOSITION_TAKEN, "{\"currency\":\"EUR\"}"},
    };
    sqlite3 *database;
    uint8_t hash[32] = {0};
    assert_int_equal(sqlite3_open(path, &database), SQLITE_OK);
    assert_int_equal(sqlite3_exec(database, VERSION_1_TABLES, NULL, NULL, NULL), SQLITE_OK);
    for (int i = 0; i < VERSION_1_ENTRIES; i++) {
        struct chain_entry entry = {.number = i + 1,
                                    .time_utc_ms = INT64_C(1764000000000) + i,
                                    .disposition = rows[i].disposition,
                                    .kind = chain_text_of(rows[i].kind),
                                    .case_id = chain_text_of(rows[i].case_id),
                                    .body = chain_text_of(rows[i].body)};
        version_1_entry_add(database, &entry, hash);
    }
    assert_int_equal(
        sqlite3_exec(database, "INSERT INTO refused_serial VALUES('EUR', 'VA0436214792', 2)", NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(database);
    assert_int_equal(chmod(path, 0600), 0);
}

#endif
