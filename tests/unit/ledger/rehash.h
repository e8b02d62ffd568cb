/*
 * What somebody can do who may write the file and knows docs/ledger.md: make the chain again after a change, without the
 * store's key.
 */
#ifndef REHASH_H
#define REHASH_H

#include "world.h"

#include "ledger/chain.h"

static inline struct chain_text rehash_text(sqlite3_stmt *row, int column)
{
    struct chain_text text = {(const char *)sqlite3_column_blob(row, column),
                              (size_t)sqlite3_column_bytes(row, column)};
    if (sqlite3_column_type(row, column) != SQLITE_NULL && text.bytes == NULL)
        text.bytes = "";
    return text;
}

static inline void rehash_store(sqlite3 *other, const char *sql, int64_t number, const uint8_t *first,
                                const uint8_t *second)
{
    sqlite3_stmt *change;
    assert_int_equal(sqlite3_prepare_v2(other, sql, -1, &change, NULL), SQLITE_OK);
    sqlite3_bind_int64(change, 1, number);
    sqlite3_bind_blob(change, 2, first, CHAIN_HASH_SIZE, SQLITE_STATIC);
    if (second != NULL)
        sqlite3_bind_blob(change, 3, second, CHAIN_HASH_SIZE, SQLITE_STATIC);
    assert_int_equal(sqlite3_step(change), SQLITE_DONE);
    sqlite3_finalize(change);
}

/* Numbers, hashes and the head follow from what the entries say now. The triggers must be gone. */
static inline void world_rehash(struct world *world)
{
    sqlite3 *other;
    sqlite3_stmt *rows;
    uint8_t previous[CHAIN_HASH_SIZE] = {0};
    int64_t last = 0;
    assert_int_equal(sqlite3_open(world->path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_exec(other, "BEGIN", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(other,
                                        "SELECT number, time_utc_ms, kind, case_id, disposition, body FROM entry"
                                        " ORDER BY number",
                                        -1, &rows, NULL),
                     SQLITE_OK);
    while (sqlite3_step(rows) == SQLITE_ROW) {
        uint8_t hash[CHAIN_HASH_SIZE];
        struct chain_entry entry = {.number = sqlite3_column_int64(rows, 0),
                                    .time_utc_ms = sqlite3_column_int64(rows, 1),
                                    .disposition = sqlite3_column_int(rows, 4),
                                    .kind = rehash_text(rows, 2),
                                    .case_id = rehash_text(rows, 3),
                                    .body = rehash_text(rows, 5)};
        chain_hash(previous, &entry, hash);
        rehash_store(other, "UPDATE entry SET previous = ?2, hash = ?3 WHERE number = ?1", entry.number, previous,
                     hash);
        memcpy(previous, hash, sizeof previous);
        last = entry.number;
    }
    sqlite3_finalize(rows);
    rehash_store(other, "UPDATE head SET number = ?1, entries = ?1, hash = ?2", last, previous, NULL);
    assert_int_equal(sqlite3_exec(other, "COMMIT", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(other);
}

#endif
