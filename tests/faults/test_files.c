/*
 * The ledger's own files (not SQLite's) when the system refuses: the new file, the key file, the copy of an older ledger. A
 * clear answer, no half file left, and the same call succeeds afterwards. The linker puts these wrappers before the C
 * library's functions (--wrap).
 */
#include "../unit/ledger/version_1.h"

#include "ledger/append.h"
#include "ledger/checkpoint.h"
#include "ledger/file.h"
#include "ledger/key.h"
#include "ledger/schema.h"

#include <errno.h>

enum call { CALL_OPEN, CALL_LINK, CALL_RENAME, CALL_WRITE, CALL_READ, CALL_FSYNC, CALL_FSTAT, CALLS };

static struct {
    enum call call;
    long left; /* 1 = the next one is refused, 0 = none */
    int code;  /* errno; EINTR for writing = only one byte is taken first */
    bool refused;
} plan;

static bool refuses(enum call call)
{
    if (plan.left == 0 || plan.call != call || --plan.left > 0)
        return false;
    plan.refused = true;
    errno = plan.code;
    return true;
}

int __real_open(const char *path, int flags, ...);
int __real_link(const char *from, const char *to);
int __real_rename(const char *from, const char *to);
ssize_t __real_write(int file, const void *bytes, size_t length);
ssize_t __real_read(int file, void *bytes, size_t length);
int __real_fsync(int file);
int __real_fstat(int file, struct stat *status);

int __wrap_open(const char *path, int flags, ...);
int __wrap_open(const char *path, int flags, ...)
{
    return refuses(CALL_OPEN) ? -1 : __real_open(path, flags, 0600);
}

int __wrap_link(const char *from, const char *to);
int __wrap_link(const char *from, const char *to)
{
    return refuses(CALL_LINK) ? -1 : __real_link(from, to);
}

int __wrap_rename(const char *from, const char *to);
int __wrap_rename(const char *from, const char *to)
{
    return refuses(CALL_RENAME) ? -1 : __real_rename(from, to);
}

ssize_t __wrap_write(int file, const void *bytes, size_t length);
ssize_t __wrap_write(int file, const void *bytes, size_t length)
{
    if (refuses(CALL_WRITE))
        return plan.code == EINTR ? __real_write(file, bytes, 1) : -1;
    return __real_write(file, bytes, length);
}

ssize_t __wrap_read(int file, void *bytes, size_t length);
ssize_t __wrap_read(int file, void *bytes, size_t length)
{
    return refuses(CALL_READ) ? -1 : __real_read(file, bytes, length);
}

int __wrap_fsync(int file);
int __wrap_fsync(int file)
{
    return refuses(CALL_FSYNC) ? -1 : __real_fsync(file);
}

int __wrap_fstat(int file, struct stat *status);
int __wrap_fstat(int file, struct stat *status)
{
    return refuses(CALL_FSTAT) ? -1 : __real_fstat(file, status);
}

static void plan_set(enum call call, long left, int code)
{
    plan.call = call;
    plan.left = left;
    plan.code = code;
    plan.refused = false;
}

/* ---- What may be left in the folder ---- */

static int files_count(const struct world *world)
{
    int count = 0;
    DIR *folder = opendir(world->folder);
    assert_non_null(folder);
    for (struct dirent *file; (file = readdir(folder)) != NULL;)
        count += file->d_name[0] != '.';
    closedir(folder);
    return count;
}

static bool clear(int32_t result)
{
    return result == CFOIL_OK || result == CFOIL_E_LEDGER_KEY || result == CFOIL_E_LEDGER_FULL ||
           result == CFOIL_E_LEDGER_OPEN || result == CFOIL_E_LEDGER_BACKUP;
}

/* Each moment is tried with the first, the first moment of each call with all. */
static const int codes[] = {EIO, ENOSPC, EACCES, EPERM, EINTR};
enum { CODES = sizeof codes / sizeof codes[0] };

/* ---- The key file ---- */

static int32_t key_make(struct world *world)
{
    memset(&world->error, 0, sizeof world->error);
    return checkpoint_write(world->ledger, NULL, &world->error);
}

static int32_t key_exchange(struct world *world)
{
    struct actor actor = {"01", false};
    memset(&world->error, 0, sizeof world->error);
    return key_change(world->ledger, &actor, NULL, &world->error);
}

static void key_call_try(int32_t (*call)(struct world *world), bool key_first)
{
    int refusals = 0;
    for (int which = 0; which < CALLS * CODES; which++) {
        plan.refused = true;
        for (long n = 1; plan.refused && (n == 1 || which % CODES == 0); n++) {
            struct world world;
            world_open(&world);
            if (key_first)
                assert_int_equal(key_make(&world), CFOIL_OK);
            int files = files_count(&world) + (key_first ? 0 : 1);
            plan_set((enum call)(which / CODES), n, codes[which % CODES]);
            int32_t result = call(&world);
            plan.left = 0;
            if (!clear(result) || (result == CFOIL_OK) != (world.error.text[0] == '\0'))
                fail_msg("call %d, error %d, n %ld: %#x %s", which / CODES, codes[which % CODES], n, (unsigned)result,
                         world.error.text);
            assert_true(files_count(&world) <= files);
            assert_int_equal(call(&world), CFOIL_OK);
            assert_int_equal(files_count(&world), files);
            assert_int_equal(world_verify(&world).intact, 1);
            world_close(&world);
            refusals += plan.refused;
            assert_true(n < 40);
        }
    }
    assert_true(refusals > 20);
}

static void the_first_key(void **state)
{
    (void)state;
    key_call_try(key_make, false);
}

static void another_key(void **state)
{
    (void)state;
    key_call_try(key_exchange, true);
}

/* ---- A new ledger, an older one ---- */

static void opening_try(bool older)
{
    int refusals = 0;
    for (int which = 0; which < CALLS * CODES; which++) {
        plan.refused = true;
        for (long n = 1; plan.refused && (n == 1 || which % CODES == 0); n++) {
            struct world world;
            world_folder_make(&world);
            if (older)
                version_1_make(world.path);
            plan_set((enum call)(which / CODES), n, codes[which % CODES]);
            int32_t result = world_try(&world, &memory_heap, 0);
            plan.left = 0;
            if (!clear(result))
                fail_msg("call %d, error %d, n %ld: %#x", which / CODES, codes[which % CODES], n, (unsigned)result);
            if (result != CFOIL_OK && older) {
                assert_int_equal(world_query(&world, "PRAGMA user_version"), 1);
                assert_true(files_count(&world) <= 4); /* the file, its helpers, and a whole copy at most */
            }
            world_reopen(&world);
            assert_int_equal(world_verify(&world).intact, 1);
            assert_int_equal(world_query(&world, "PRAGMA user_version"), STORE_VERSION);
            assert_int_equal(files_count(&world), older ? 4 : 3);
            world_close(&world);
            refusals += plan.refused;
            assert_true(n < 40);
        }
    }
    assert_true(refusals > 5);
}

static void a_new_ledger(void **state)
{
    (void)state;
    opening_try(false);
}

static void an_older_ledger(void **state)
{
    (void)state;
    opening_try(true);
}

/* ---- Names ---- */

static void names_without_a_folder(void **state)
{
    (void)state;
    struct world world;
    char before[1000];
    char text[5000];
    world_folder_make(&world);
    assert_non_null(getcwd(before, sizeof before));
    assert_int_equal(chdir(world.folder), 0);
    assert_int_equal(file_empty_make("one"), 0);
    assert_int_equal(file_name_move("one", "two"), 0);
    assert_int_equal(file_empty_make("one"), 0);
    assert_int_equal(file_name_move("one", "two"), EEXIST);
    plan_set(CALL_LINK, 1, EPERM); /* a file system without second names */
    assert_int_equal(file_name_move("one", "two"), EEXIST);
    assert_int_equal(file_name_replace("one", "two"), 0);
    assert_int_equal(file_name_replace("one", "two"), ENOENT);
    memset(text, 'x', sizeof text - 1);
    text[sizeof text - 1] = '\0';
    assert_int_equal(file_name_move("two", text), ENAMETOOLONG);
    assert_true(file_exists("two"));
    assert_int_equal(chdir(before), 0);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_key),          cmocka_unit_test(another_key),
        cmocka_unit_test(a_new_ledger),           cmocka_unit_test(an_older_ledger),
        cmocka_unit_test(names_without_a_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
