/*
 * Opening: what is made, what is refused and left as it is, what each failure is called; reading without writing.
 */
#include "world.h"

#include "ledger/file.h"
#include "ledger/store.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>

/* ---- Files that are not ours ---- */

static void file_write(const char *path, const void *bytes, size_t length)
{
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(bytes, 1, length, out), length);
    fclose(out);
}

static size_t file_read(const char *path, char *bytes, size_t capacity)
{
    FILE *in = fopen(path, "rb");
    assert_non_null(in);
    size_t length = fread(bytes, 1, capacity, in);
    fclose(in);
    return length;
}

static int files_in(const char *path)
{
    int count = 0;
    DIR *folder = opendir(path);
    for (struct dirent *file; (file = readdir(folder)) != NULL;)
        count += file->d_name[0] != '.';
    closedir(folder);
    return count;
}

/* Refused in both ways of opening, with nothing changed and nothing added. */
static void expect_refused(struct world *world, int32_t result)
{
    static char before[65536];
    static char after[65536];
    size_t length = file_read(world->path, before, sizeof before);
    int files = files_in(world->folder);
    for (int32_t read_only = 0; read_only < 2; read_only++) {
        assert_int_equal(world_try(world, &memory_heap, read_only), result);
        assert_int_equal(file_read(world->path, after, sizeof after), length);
        assert_memory_equal(before, after, length);
        assert_int_equal(files_in(world->folder), files);
    }
}

static void a_file_that_is_no_database_is_refused(void **state)
{
    (void)state;
    char bytes[5000];
    memset(bytes, 'n', sizeof bytes);
    static const size_t lengths[] = {2, 15, 100, 511, 512, 4096, 5000};
    for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++) {
        struct world world;
        world_folder_make(&world);
        file_write(world.path, bytes, lengths[i]);
        expect_refused(&world, CFOIL_E_LEDGER_DAMAGED);
        world_close(&world);
    }
}

static void another_programs_database_is_refused(void **state)
{
    (void)state;
    static const char *const orders[] = {
        "CREATE TABLE other(value)",
        "PRAGMA application_id=77",
        "PRAGMA user_version=1",
        "PRAGMA journal_mode=WAL; CREATE TABLE other(value)",
    };
    for (size_t i = 0; i < sizeof orders / sizeof orders[0]; i++) {
        struct world world;
        world_folder_make(&world);
        world_tamper(&world, orders[i]);
        expect_refused(&world, CFOIL_E_LEDGER_OPEN);
        world_close(&world);
    }
}

static void a_newer_ledger_is_refused(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    ledger_release(world.ledger);
    world_tamper(&world, "PRAGMA user_version=4; PRAGMA wal_checkpoint(TRUNCATE); PRAGMA journal_mode=DELETE");
    expect_refused(&world, CFOIL_E_LEDGER_NEWER);
    world_close(&world);
}

/* The version stands in the write-ahead log only, since its writer is still there. */
static void a_newer_ledger_in_use_is_refused(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    struct ledger *user = world.ledger;
    world_tamper(&world, "PRAGMA user_version=4");
    assert_int_equal(world_try(&world, &memory_heap, 0), CFOIL_E_LEDGER_NEWER);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_E_LEDGER_NEWER);
    ledger_release(user);
    world_close(&world);
}

static void a_ledger_without_its_tables_is_refused(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    ledger_release(world.ledger);
    world_tamper(&world, "DROP TABLE device");
    for (int32_t read_only = 0; read_only < 2; read_only++) {
        assert_int_equal(world_try(&world, &memory_heap, read_only), CFOIL_E_LEDGER_DAMAGED);
        assert_non_null(strstr(world.error.text, "table"));
    }
    world_close(&world);
}

static void what_cannot_be_a_file_is_refused(void **state)
{
    (void)state;
    struct world world;
    world_folder_make(&world);
    char path[300];
    snprintf(path, sizeof path, "%s", world.path);
    snprintf(world.path, sizeof world.path, "%s/nowhere/till.ledger", world.folder);
    assert_int_equal(world_try(&world, &memory_heap, 0), CFOIL_E_LEDGER_OPEN);
    assert_int_equal(world.error.os_code, ENOENT);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_E_LEDGER_OPEN);
    snprintf(world.path, sizeof world.path, "%s", world.folder);
    assert_int_equal(world_try(&world, &memory_heap, 0), CFOIL_E_LEDGER_OPEN);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_E_LEDGER_OPEN);
    strcpy(world.path, ":memory:");
    assert_int_equal(world_try(&world, &memory_heap, 0), CFOIL_E_LEDGER_OPEN);
    strcpy(world.path, path);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_E_LEDGER_OPEN); /* reading makes no file */
    assert_int_equal(files_in(world.folder), 0);
    world_close(&world);
}

static void any_file_name_is_taken_as_it_is(void **state)
{
    (void)state;
    static const char *const names[] = {"file:x?mode=memory", "50%25 #1?.ledger", "caf\xc3\xa9 & son", "a'b\"c",
                                        "x:memory:"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        struct world world;
        world_folder_make(&world);
        snprintf(world.path, sizeof world.path, "%s/%s", world.folder, names[i]);
        world_reopen(&world);
        world_fill(&world, 3);
        assert_true(file_exists(world.path));
        world_reopen(&world);
        assert_int_equal(world_verify(&world).entries, 3);
        world_close(&world);
    }
}

/* ---- Beginnings that were cut off ---- */

static void an_unfinished_beginning_is_finished(void **state)
{
    (void)state;
    static const char *const stages[] = {
        "", /* an empty file */
        "PRAGMA application_id=1128680519",
        "PRAGMA application_id=1128680519; PRAGMA journal_mode=WAL",
    };
    for (size_t i = 0; i < sizeof stages / sizeof stages[0]; i++) {
        struct world world;
        world_folder_make(&world);
        file_write(world.path, "", 0);
        world_tamper(&world, stages[i]);
        assert_int_equal(chmod(world.path, 0600), 0);
        assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_E_LEDGER_OPEN);
        assert_non_null(strstr(world.error.text, "nothing yet"));
        world_reopen(&world);
        assert_int_equal(world_verify(&world).intact, 1);
        assert_int_equal(world_verify(&world).entries, 1);
        world_close(&world);
    }
}

enum { CHILDREN = 6, EACH = 10 };

/* A child waits for the word, opens, appends, and ends with 0 when all went well. */
static void child_run(struct world *world, int word)
{
    struct pollfd start = {.fd = word, .events = POLLIN};
    bool good = poll(&start, 1, 30000) == 1;
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = world->path;
    options.busy_ms = 60000;
    good = good && ledger_open(&memory_heap, &options, &world->ledger, &world->error) == CFOIL_OK;
    for (int i = 0; good && i < EACH; i++)
        good = world_append(world, item_make("device", "{}"), NULL) == CFOIL_OK;
    if (!good)
        fprintf(stderr, "child: %#x %s\n", (unsigned)world->error.result, world->error.text);
    ledger_release(world->ledger);
    _exit(good ? 0 : 1);
}

static void processes_make_one_ledger_together(void **state)
{
    (void)state;
    for (int round = 0; round < 5; round++) {
        struct world world;
        world_folder_make(&world);
        int word[2];
        pid_t children[CHILDREN];
        assert_int_equal(pipe(word), 0);
        for (int i = 0; i < CHILDREN; i++) {
            children[i] = fork();
            if (children[i] == 0)
                child_run(&world, word[0]);
        }
        assert_int_equal(write(word[1], "g", 1), 1);
        for (int i = 0; i < CHILDREN; i++) {
            int status;
            assert_int_equal(waitpid(children[i], &status, 0), children[i]);
            assert_int_equal(status, 0);
        }
        close(word[0]);
        close(word[1]);
        world_reopen(&world);
        assert_int_equal(world_verify(&world).intact, 1);
        assert_int_equal(world_verify(&world).entries, 1 + CHILDREN * EACH);
        ledger_release(world.ledger);
        world.ledger = NULL;
        assert_int_equal(files_in(world.folder), 1); /* no left-over of the making */
        world_close(&world);
    }
}

/* ---- Busy, full, read-only ---- */

static void another_writer_is_waited_for_and_named(void **state)
{
    (void)state;
    struct world world;
    world_folder_make(&world);
    world.busy_ms = 20;
    world_reopen(&world);
    sqlite3 *other;
    assert_int_equal(sqlite3_open(world.path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_exec(other, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    struct ledger_receipt receipt = {5, "x"};
    assert_int_equal(world_append(&world, item_make("device", "{}"), &receipt), CFOIL_E_LEDGER_BUSY);
    assert_int_equal(world.error.result, CFOIL_E_LEDGER_BUSY);
    assert_int_equal(receipt.number, 0);
    assert_int_equal(world_verify(&world).intact, 1); /* reading goes on meanwhile */
    assert_int_equal(sqlite3_exec(other, "ROLLBACK", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(world_append(&world, item_make("device", "{}"), &receipt), CFOIL_OK);
    assert_int_equal(receipt.number, 2);
    sqlite3_close(other);
    world_close(&world);
}

static void a_beginning_waits_for_another_and_gives_up(void **state)
{
    (void)state;
    static const char *const locks[] = {"BEGIN IMMEDIATE", "BEGIN EXCLUSIVE", "BEGIN; PRAGMA user_version"};
    for (size_t i = 0; i < sizeof locks / sizeof locks[0]; i++) {
        struct world world;
        world_folder_make(&world);
        world.busy_ms = 20;
        world_tamper(&world, "PRAGMA application_id=1128680519");
        assert_int_equal(chmod(world.path, 0600), 0);
        sqlite3 *other;
        assert_int_equal(sqlite3_open(world.path, &other), SQLITE_OK);
        assert_int_equal(sqlite3_exec(other, locks[i], NULL, NULL, NULL), SQLITE_OK);
        assert_int_equal(world_try(&world, &memory_heap, 0), CFOIL_E_LEDGER_BUSY);
        sqlite3_close(other);
        world_reopen(&world);
        assert_int_equal(world_verify(&world).entries, 1);
        world_close(&world);
    }
}

static void an_exclusive_user_makes_every_call_busy(void **state)
{
    (void)state;
    struct world world;
    world_folder_make(&world);
    world.busy_ms = 20;
    world_reopen(&world);
    ledger_release(world.ledger);
    world.ledger = NULL;
    sqlite3 *other;
    assert_int_equal(sqlite3_open(world.path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_exec(other, "PRAGMA locking_mode=EXCLUSIVE; BEGIN IMMEDIATE", NULL, NULL, NULL),
                     SQLITE_OK);
    for (int32_t read_only = 0; read_only < 2; read_only++)
        assert_int_equal(world_try(&world, &memory_heap, read_only), CFOIL_E_LEDGER_BUSY);
    sqlite3_close(other);
    world_close(&world);
}

/* A limit on file sizes stands in for a full disk: the system refuses the write in the same place. */
static void a_full_disk_is_named_and_survived(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    world_fill(&world, 4);
    char *body = malloc(100001);
    memset(body, 'x', 100000);
    body[100000] = '\0';
    struct rlimit before;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    struct rlimit tight = before;
    tight.rlim_cur = 100000;
    void (*handler)(int) = signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &tight), 0);
    int32_t result = world_append(&world, item_make("device", body), NULL);
    struct world second;
    world_folder_make(&second);
    tight.rlim_cur = 1000;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &tight), 0);
    int32_t made = world_try(&second, &memory_heap, 0);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    signal(SIGXFSZ, handler);
    assert_int_equal(result, CFOIL_E_LEDGER_FULL);
    assert_int_equal(world.error.os_code, EFBIG);
    assert_int_equal(made, CFOIL_E_LEDGER_FULL);
    assert_int_equal(world_append(&world, item_make("device", body), NULL), CFOIL_OK);
    assert_int_equal(world_verify(&world).intact, 1);
    world_reopen(&second);
    assert_int_equal(world_verify(&second).entries, 1);
    free(body);
    world_close(&second);
    world_close(&world);
}

/* Rights do not bind the superuser: such tests take another user's rights meanwhile. */
static uid_t rights_drop(struct world *world)
{
    uid_t user = geteuid();
    if (user == 0) {
        char log[320];
        assert_int_equal(chown(world->folder, 65534, 65534), 0);
        (void)!chown(world->path, 65534, 65534);
        snprintf(log, sizeof log, "%s-wal", world->path);
        (void)!chown(log, 65534, 65534);
        assert_int_equal(seteuid(65534), 0);
    }
    return user;
}

static void rights_take(uid_t user)
{
    if (user == 0)
        assert_int_equal(seteuid(0), 0);
}

static void a_folder_without_rights_is_named(void **state)
{
    (void)state;
    struct world world;
    world_folder_make(&world);
    uid_t user = rights_drop(&world);
    assert_int_equal(chmod(world.folder, 0500), 0);
    int32_t result = world_try(&world, &memory_heap, 0);
    int os_code = world.error.os_code;
    assert_int_equal(chmod(world.folder, 0700), 0);
    rights_take(user);
    assert_int_equal(result, CFOIL_E_LEDGER_OPEN);
    assert_int_equal(os_code, EACCES);
    world_close(&world);
}

static void a_file_without_rights_is_named(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    ledger_release(world.ledger);
    uid_t user = rights_drop(&world);
    assert_int_equal(chmod(world.path, 0400), 0);
    int32_t writing = world_try(&world, &memory_heap, 0);
    int32_t reading = world_try(&world, &memory_heap, 1);
    ledger_release(world.ledger);
    assert_int_equal(chmod(world.path, 0000), 0);
    int32_t neither = world_try(&world, &memory_heap, 0);
    assert_int_equal(chmod(world.path, 0600), 0);
    rights_take(user);
    assert_int_equal(writing, CFOIL_E_LEDGER_READ_ONLY);
    assert_int_equal(reading, CFOIL_OK);
    assert_int_equal(neither, CFOIL_E_LEDGER_OPEN);
    world_close(&world);
}

static void expect_reads_only(struct world *world, int64_t entries)
{
    cfoil_ledger_check check = world_verify(world);
    assert_int_equal(check.intact, 1);
    assert_int_equal(check.entries, entries);
    char *text;
    assert_int_equal(ledger_entry_text(world->ledger, 0, &text, NULL), CFOIL_OK);
    free(text);
    assert_int_equal(world_append(world, item_make("device", "{}"), NULL), CFOIL_E_LEDGER_READ_ONLY);
    assert_int_equal(world->error.result, CFOIL_E_LEDGER_READ_ONLY);
}

static void reading_sees_what_a_writer_adds(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    struct world reader = world;
    assert_int_equal(world_try(&reader, &memory_heap, 1), CFOIL_OK);
    expect_reads_only(&reader, 1);
    world_fill(&world, 5);
    expect_reads_only(&reader, 5);
    ledger_release(reader.ledger);
    world_close(&world);
}

static void a_closed_ledger_is_read_without_being_changed(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    world_fill(&world, 3);
    ledger_release(world.ledger);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_OK);
    expect_reads_only(&world, 3);
    world_close(&world);
}

/* As on a disk that was mounted for reading: no place for SQLite's helper files. */
static void a_ledger_in_a_folder_for_reading_is_read(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    world_fill(&world, 4);
    ledger_release(world.ledger);
    uid_t user = rights_drop(&world);
    assert_int_equal(chmod(world.folder, 0500), 0);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_OK);
    expect_reads_only(&world, 4);
    assert_int_equal(files_in(world.folder), 1);
    assert_int_equal(chmod(world.folder, 0700), 0);
    rights_take(user);
    world_close(&world);
}

/* A copy of a running ledger on such a disk: the newest entries are in the log beside it and must not be passed over. */
static void a_ledger_with_a_log_that_cannot_be_read_is_refused(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    world_fill(&world, 4);
    struct world copy;
    world_folder_make(&copy);
    char command[1400];
    snprintf(command, sizeof command, "cp '%s' '%s' && cp '%s-wal' '%s-wal'", world.path, copy.path, world.path,
             copy.path);
    assert_int_equal(system(command), 0);
    uid_t user = rights_drop(&copy);
    assert_int_equal(chmod(copy.folder, 0500), 0);
    int32_t result = world_try(&copy, &memory_heap, 1);
    assert_int_equal(chmod(copy.folder, 0700), 0);
    assert_int_equal(result, CFOIL_E_LEDGER_OPEN);
    assert_int_equal(world_try(&copy, &memory_heap, 1), CFOIL_OK);
    rights_take(user);
    expect_reads_only(&copy, 4);
    world_close(&copy);
    world_close(&world);
}

/* ---- Names of failures ---- */

static void sqlites_answers_have_our_names(void **state)
{
    (void)state;
    static const struct {
        int code;
        int32_t result;
    } rows[] = {
        {SQLITE_BUSY, CFOIL_E_LEDGER_BUSY},
        {SQLITE_BUSY_RECOVERY, CFOIL_E_LEDGER_BUSY},
        {SQLITE_LOCKED, CFOIL_E_LEDGER_BUSY},
        {SQLITE_PROTOCOL, CFOIL_E_LEDGER_BUSY},
        {SQLITE_FULL, CFOIL_E_LEDGER_FULL},
        {SQLITE_READONLY_DIRECTORY, CFOIL_E_LEDGER_READ_ONLY},
        {SQLITE_CORRUPT_INDEX, CFOIL_E_LEDGER_DAMAGED},
        {SQLITE_NOTADB, CFOIL_E_LEDGER_DAMAGED},
        {SQLITE_CONSTRAINT_TRIGGER, CFOIL_E_LEDGER_DAMAGED},
        {SQLITE_CANTOPEN_ISDIR, CFOIL_E_LEDGER_OPEN},
        {SQLITE_NOMEM, CFOIL_E_MEMORY},
        {SQLITE_IOERR_NOMEM, CFOIL_E_MEMORY},
        {SQLITE_IOERR_FSYNC, CFOIL_E_LEDGER_FAILED},
        {SQLITE_ERROR, CFOIL_E_LEDGER_FAILED},
        {SQLITE_TOOBIG, CFOIL_E_LEDGER_FAILED},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        assert_int_equal(store_error(NULL, rows[i].code, &error), rows[i].result);
        assert_int_equal(error.result, rows[i].result);
        assert_string_equal(error.area, "ledger");
        assert_true(strlen(error.text) > 20 && strlen(error.text) < sizeof error.text - 1);
    }
}

static void a_name_too_long_for_the_system_is_named(void **state)
{
    (void)state;
    struct world world;
    world_folder_make(&world);
    char path[1000];
    memset(path, 'n', sizeof path - 1);
    path[sizeof path - 1] = '\0';
    memcpy(path, world.folder, strlen(world.folder));
    path[strlen(world.folder)] = '/';
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = path;
    assert_int_equal(ledger_open(&memory_heap, &options, &world.ledger, &world.error), CFOIL_E_LEDGER_OPEN);
    assert_int_equal(world.error.os_code, ENAMETOOLONG);
    world_close(&world);
}

static void scarce_memory_is_named_and_given_back(void **state)
{
    (void)state;
    for (int32_t read_only = 0; read_only < 2; read_only++) {
        struct world world;
        world_open(&world);
        ledger_release(world.ledger);
        struct scarce scarce = {-1, 0};
        struct memory memory = scarce_memory(&scarce);
        int32_t result = CFOIL_E_MEMORY;
        for (long n = 0; result != CFOIL_OK; n++) {
            if (read_only == 0) /* also the making of a new file */
                assert_int_equal(unlink(world.path) == 0 || errno == ENOENT, 1);
            scarce.left = n;
            result = world_try(&world, &memory, read_only);
            assert_true(result == CFOIL_OK || result == CFOIL_E_MEMORY);
            assert_true(n < 20);
            if (result != CFOIL_OK)
                assert_int_equal(scarce.blocks, 0);
        }
        assert_ptr_equal(ledger_memory(world.ledger)->user, &scarce);
        ledger_release(world.ledger);
        assert_int_equal(scarce.blocks, 0);
        world.ledger = NULL;
        world_close(&world);
    }
    ledger_release(NULL);
}

static void scarce_memory_in_a_folder_for_reading(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    ledger_release(world.ledger);
    uid_t user = rights_drop(&world);
    assert_int_equal(chmod(world.folder, 0500), 0);
    struct scarce scarce = {-1, 0};
    struct memory memory = scarce_memory(&scarce);
    int32_t result = CFOIL_E_MEMORY;
    for (long n = 0; result != CFOIL_OK; n++) {
        scarce.left = n;
        result = world_try(&world, &memory, 1);
        assert_true(result == CFOIL_OK || result == CFOIL_E_MEMORY);
        assert_true(n < 20);
    }
    ledger_release(world.ledger);
    world.ledger = NULL;
    assert_int_equal(scarce.blocks, 0);
    assert_int_equal(chmod(world.folder, 0700), 0);
    rights_take(user);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_file_that_is_no_database_is_refused),
        cmocka_unit_test(another_programs_database_is_refused),
        cmocka_unit_test(a_newer_ledger_is_refused),
        cmocka_unit_test(a_newer_ledger_in_use_is_refused),
        cmocka_unit_test(a_ledger_without_its_tables_is_refused),
        cmocka_unit_test(what_cannot_be_a_file_is_refused),
        cmocka_unit_test(any_file_name_is_taken_as_it_is),
        cmocka_unit_test(an_unfinished_beginning_is_finished),
        cmocka_unit_test(processes_make_one_ledger_together),
        cmocka_unit_test(another_writer_is_waited_for_and_named),
        cmocka_unit_test(a_beginning_waits_for_another_and_gives_up),
        cmocka_unit_test(an_exclusive_user_makes_every_call_busy),
        cmocka_unit_test(a_full_disk_is_named_and_survived),
        cmocka_unit_test(a_folder_without_rights_is_named),
        cmocka_unit_test(a_file_without_rights_is_named),
        cmocka_unit_test(reading_sees_what_a_writer_adds),
        cmocka_unit_test(a_closed_ledger_is_read_without_being_changed),
        cmocka_unit_test(a_ledger_in_a_folder_for_reading_is_read),
        cmocka_unit_test(a_ledger_with_a_log_that_cannot_be_read_is_refused),
        cmocka_unit_test(sqlites_answers_have_our_names),
        cmocka_unit_test(a_name_too_long_for_the_system_is_named),
        cmocka_unit_test(scarce_memory_is_named_and_given_back),
        cmocka_unit_test(scarce_memory_in_a_folder_for_reading),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
