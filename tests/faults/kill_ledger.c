/*
 * Does an acknowledged refusal survive a killed process? Writers are killed with SIGKILL at more than 200 moments on one
 * growing ledger; after each, the ledger is intact and every acknowledged entry is in it.
 */
#include "ledger/rollup.h"

#include "test.h"

#include <dirent.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/select.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { ROUNDS = 220, WRITERS_MAX = 2, ENTRIES_MAX = 100000 };

static char folder[200];
static char path[240];
static char hashes[ENTRIES_MAX][65]; /* of the acknowledged entries, by number */
static int64_t acknowledged;

/* A fixed seed: the same choices in each run (xorshift). */
static uint32_t seed = 20260101;

static uint32_t choose(uint32_t below)
{
    seed ^= seed << 13;
    seed ^= seed >> 17;
    seed ^= seed << 5;
    return seed % below;
}

static int64_t now_us(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

/* ---- The process that is killed ---- */

static void refusals_append(int writing, int round, int writer)
{
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    struct ledger *ledger;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    options.path = path;
    options.checkpoint_entries = -1; /* every entry but the first is a case here; signing has crash tests of its own */
    options.busy_ms = 60000;
    int32_t result = ledger_open(&memory_heap, &options, &ledger, &error);
    for (int i = 0; result == CFOIL_OK; i++) {
        char case_id[40];
        snprintf(case_id, sizeof case_id, "%08d-%d-%d", round, writer, i);
        uint8_t counter[4] = {(uint8_t)i, (uint8_t)round, 0, 0};
        struct ledger_device_memory device = {"cctalk", counter, sizeof counter};
        struct ledger_item item = {
            .kind = LEDGER_KIND_CASE,
            .time_utc_ms = INT64_C(1764000000000) + i,
            .body = "{\"disposition\":\"not_taken\",\"schema\":\"counterfoil.case/1\"}",
            .case_id = case_id,
            .disposition = CFOIL_DISPOSITION_NOT_TAKEN,
            .currency = "EUR",
            .serial = case_id,
        };
        struct ledger_receipt receipt;
        result = ledger_append(ledger, &item, 1, &device, &receipt, &error);
        if (result == CFOIL_OK && write(writing, &receipt, sizeof receipt) != (ssize_t)sizeof receipt)
            _exit(2);
    }
    fprintf(stderr, "writer: %#x %s\n", (unsigned)result, error.text);
    _exit(1);
}

/* ---- The process that kills ---- */

/* One acknowledgement, or false at the end of the pipe or when `until_us` has come. */
static bool acknowledgement_read(int reading, int64_t until_us)
{
    fd_set set;
    FD_ZERO(&set);
    FD_SET(reading, &set);
    int64_t left_us = until_us - now_us();
    left_us = left_us < 0 ? 0 : left_us;
    struct timeval wait = {.tv_sec = (time_t)(left_us / 1000000), .tv_usec = (suseconds_t)(left_us % 1000000)};
    if (select(reading + 1, &set, NULL, NULL, &wait) != 1)
        return false;
    struct ledger_receipt receipt;
    ssize_t length = read(reading, &receipt, sizeof receipt);
    if (length == 0)
        return false;
    assert_int_equal(length, sizeof receipt); /* shorter than PIPE_BUF: whole or not at all */
    assert_in_range(receipt.number, 2, ENTRIES_MAX - 1);
    assert_string_equal(hashes[receipt.number], "");
    memcpy(hashes[receipt.number], receipt.hash, sizeof receipt.hash);
    acknowledged++;
    return true;
}

static void writers_kill(int round)
{
    int ends[2];
    pid_t writers[WRITERS_MAX];
    int count = round % 4 == 3 ? 2 : 1;
    assert_int_equal(pipe(ends), 0);
    for (int i = 0; i < count; i++) {
        writers[i] = fork();
        assert_true(writers[i] >= 0);
        if (writers[i] == 0) {
            close(ends[0]);
            refusals_append(ends[1], round, i);
        }
    }
    close(ends[1]);
    uint32_t wanted = choose(16);
    int64_t patience_us = now_us() + 20000000;
    for (uint32_t i = 0; i < wanted; i++)
        assert_true(acknowledgement_read(ends[0], patience_us));
    int64_t moment_us = now_us() + choose(wanted == 0 ? 20000 : 2000);
    while (acknowledgement_read(ends[0], moment_us)) {
    }
    for (int i = 0; i < count; i++)
        assert_int_equal(kill(writers[i], SIGKILL), 0);
    for (int i = 0; i < count; i++) {
        int status;
        assert_int_equal(waitpid(writers[i], &status, 0), writers[i]);
        assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
    }
    while (acknowledgement_read(ends[0], now_us())) {
    }
    close(ends[0]);
}

static void entry_expect(struct ledger *ledger, int64_t number)
{
    char *text = NULL;
    assert_int_equal(ledger_entry_text(ledger, number, &text, NULL), CFOIL_OK);
    assert_non_null(strstr(text, hashes[number]));
    free(text);
}

static bool cases_add(void *user, const struct rollup_cell *cell)
{
    *(int64_t *)user += cell->counts[ROLLUP_CASES];
    return true;
}

/* The sums went with the entries: each case is counted, and none that is not there. */
static void sums_expect(struct ledger *ledger, int64_t cases)
{
    struct rollup_query query = {0};
    int64_t counted = 0;
    bool kept = false;
    assert_int_equal(rollup_kept_cells(ledger, &query, cases_add, &counted, &kept, NULL), CFOIL_OK);
    assert_true(kept);
    assert_int_equal(counted, cases);
}

/* Reopens, and looks for the entries from `from` on. Answers the newest number. */
static int64_t ledger_expect(int64_t from)
{
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    struct ledger *ledger;
    options.path = path;
    options.checkpoint_entries = -1; /* every entry but the first is a case here; signing has crash tests of its own */
    assert_int_equal(ledger_open(&memory_heap, &options, &ledger, NULL), CFOIL_OK);
    assert_int_equal(ledger_verify(ledger, &check, NULL), CFOIL_OK);
    if (check.intact != 1)
        print_error("%s\n", check.text);
    assert_int_equal(check.intact, 1);
    for (int64_t number = from; number < ENTRIES_MAX; number++) {
        if (hashes[number][0] != '\0')
            entry_expect(ledger, number);
    }
    sums_expect(ledger, check.entries - 1);
    ledger_release(ledger);
    return check.entries;
}

static void acknowledged_refusals_survive(void **state)
{
    (void)state;
    int64_t last = 1;
    int64_t unacknowledged = 0;
    for (int round = 0; round < ROUNDS; round++) {
        int64_t before = acknowledged;
        writers_kill(round);
        int64_t entries = ledger_expect(last + 1);
        int64_t more = entries - last - (acknowledged - before);
        assert_in_range(more, 0, WRITERS_MAX); /* what was on its way to us when the writer died */
        unacknowledged += more;
        last = entries;
    }
    assert_int_equal(ledger_expect(2), last);
    print_message("%d kills, %lld acknowledged entries, %lld written but not acknowledged\n", ROUNDS,
                  (long long)acknowledged, (long long)unacknowledged);
    assert_true(acknowledged > ROUNDS);
}

static int folder_make(void **state)
{
    (void)state;
    const char *base = getenv("TMPDIR");
    snprintf(folder, sizeof folder, "%s/counterfoil-XXXXXX", base != NULL ? base : "/tmp");
    if (mkdtemp(folder) == NULL)
        return -1;
    snprintf(path, sizeof path, "%s/till.ledger", folder);
    return 0;
}

/* A writer killed while it made the file may have left its empty file of another name. */
static int folder_remove(void **state)
{
    (void)state;
    DIR *files = opendir(folder);
    if (files == NULL)
        return -1;
    for (struct dirent *file; (file = readdir(files)) != NULL;) {
        char name[600];
        snprintf(name, sizeof name, "%s/%s", folder, file->d_name);
        if (file->d_name[0] != '.' && unlink(name) != 0)
            print_error("cannot remove %s\n", name);
    }
    closedir(files);
    return rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(acknowledged_refusals_survive)};
    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
