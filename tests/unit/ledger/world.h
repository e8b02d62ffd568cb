/*
 * A ledger in a folder of its own, and a second hand on its file: what every ledger test needs.
 */
#ifndef WORLD_H
#define WORLD_H

#include "ledger/ledger.h"

#include "test.h"

#include <dirent.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

struct world {
    char folder[200];
    char path[300];
    uint32_t busy_ms; /* 0 = the default */
    struct ledger *ledger;
    cfoil_error_info error;
};

static inline void world_folder_make(struct world *world)
{
    const char *base = getenv("TMPDIR");
    memset(world, 0, sizeof *world);
    snprintf(world->folder, sizeof world->folder, "%s/counterfoil-XXXXXX", base != NULL ? base : "/tmp");
    assert_non_null(mkdtemp(world->folder));
    snprintf(world->path, sizeof world->path, "%s/till.ledger", world->folder);
}

static inline int32_t world_try(struct world *world, const struct memory *memory, int32_t read_only)
{
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = world->path;
    options.store = "Example store";
    options.busy_ms = world->busy_ms;
    options.read_only = read_only;
    memset(&world->error, 0, sizeof world->error);
    int32_t result = ledger_open(memory, &options, &world->ledger, &world->error);
    assert_true((result == CFOIL_OK) == (world->ledger != NULL));
    if (result != CFOIL_OK) {
        assert_int_equal(world->error.result, result);
        assert_true(world->error.text[0] != '\0');
    }
    return result;
}

static inline void world_reopen(struct world *world)
{
    ledger_release(world->ledger);
    assert_int_equal(world_try(world, &memory_heap, 0), CFOIL_OK);
}

static inline void world_open(struct world *world)
{
    world_folder_make(world);
    world_reopen(world);
}

static inline void world_close(struct world *world)
{
    ledger_release(world->ledger);
    world->ledger = NULL;
    DIR *folder = opendir(world->folder);
    assert_non_null(folder);
    for (struct dirent *file; (file = readdir(folder)) != NULL;) {
        char path[600];
        snprintf(path, sizeof path, "%s/%s", world->folder, file->d_name);
        if (file->d_name[0] != '.')
            assert_int_equal(unlink(path), 0);
    }
    closedir(folder);
    assert_int_equal(rmdir(world->folder), 0);
}

static inline struct ledger_item item_make(const char *kind, const char *body)
{
    struct ledger_item item = {.kind = kind, .time_utc_ms = INT64_C(1764000000000), .body = body};
    return item;
}

static inline struct ledger_item case_make(const char *case_id, int32_t disposition)
{
    struct ledger_item item = item_make(LEDGER_KIND_CASE, "{\"schema\":\"counterfoil.case/1\"}");
    item.case_id = case_id;
    item.disposition = disposition;
    return item;
}

static inline int32_t world_append(struct world *world, struct ledger_item item, struct ledger_receipt *receipt)
{
    memset(&world->error, 0, sizeof world->error);
    return ledger_append(world->ledger, &item, 1, NULL, receipt, &world->error);
}

/* Entries 2 to `last`. */
static inline void world_fill(struct world *world, int last)
{
    for (int i = 2; i <= last; i++) {
        char body[64];
        char case_id[40];
        snprintf(body, sizeof body, "{\"kind\":\"rejected\",\"seq\":%d}", i);
        snprintf(case_id, sizeof case_id, "01900000-0000-7000-8000-%012d", i);
        struct ledger_item item = item_make(LEDGER_KIND_PRESENTATION, body);
        if (i % 3 == 0) {
            item = case_make(case_id, CFOIL_DISPOSITION_NOT_TAKEN);
            item.body = body;
        }
        item.time_utc_ms += i;
        assert_int_equal(world_append(world, item, NULL), CFOIL_OK);
    }
}

static inline cfoil_ledger_check world_verify(struct world *world)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    assert_int_equal(ledger_verify(world->ledger, &check, &world->error), CFOIL_OK);
    assert_true(check.text[0] != '\0');
    return check;
}

/* The file as other hands see it. */
static inline void world_tamper(struct world *world, const char *sql)
{
    sqlite3 *other;
    char *problem = NULL;
    assert_int_equal(sqlite3_open(world->path, &other), SQLITE_OK);
    if (sqlite3_exec(other, sql, NULL, NULL, &problem) != SQLITE_OK)
        fail_msg("%s: %s", sql, problem);
    sqlite3_close(other);
}

static inline void world_unlock_entries(struct world *world)
{
    world_tamper(world,
                 "DROP TRIGGER entry_not_changed; DROP TRIGGER entry_not_removed; DROP TRIGGER entry_not_replaced");
}

static inline int64_t world_query(struct world *world, const char *sql)
{
    sqlite3 *other;
    sqlite3_stmt *statement;
    assert_int_equal(sqlite3_open(world->path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(other, sql, -1, &statement, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    int64_t value = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    sqlite3_close(other);
    return value;
}

/* A struct memory whose n-th allocation fails; counts what is not given back. */
struct scarce {
    long left; /* allocations that still succeed, -1 = all */
    long blocks;
};

static inline void *scarce_allocate(void *user, size_t size)
{
    struct scarce *scarce = user;
    if (scarce->left == 0)
        return NULL;
    if (scarce->left > 0)
        scarce->left--;
    scarce->blocks++;
    return malloc(size);
}

static inline void scarce_release(void *user, void *block)
{
    struct scarce *scarce = user;
    scarce->blocks--;
    free(block);
}

static inline struct memory scarce_memory(struct scarce *scarce)
{
    struct memory memory = {scarce, scarce_allocate, scarce_release};
    return memory;
}

#endif
