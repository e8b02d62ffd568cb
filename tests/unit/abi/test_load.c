/*
 * Adapters in files of their own: what is no adapter is told apart and leaves nothing behind; a good one lives as long
 * as its context.
 */
#include "test.h"

#include <errno.h>
#include <pthread.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#define FILE_OF(name) ADAPTER_FILES "/" name ".so"
#define GOOD          FILE_OF("good")

static cfoil_context *context_make(void)
{
    cfoil_context *context;
    assert_int_equal(cfoil_context_open(NULL, &context), CFOIL_OK);
    return context;
}

static cfoil_error_info error_of(cfoil_context *context)
{
    cfoil_error_info info = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(cfoil_error_read(context, &info), CFOIL_OK);
    return info;
}

/* Is the code of a file of ours in the process? (A sanitizer may have the file mapped to read its names.) */
static bool mapped(const char *path)
{
    FILE *maps = fopen("/proc/self/maps", "r");
    assert_non_null(maps);
    char line[4096];
    bool found = false;
    while (fgets(line, sizeof line, maps) != NULL)
        found = found || (strstr(line, path) != NULL && strstr(line, " r-xp ") != NULL);
    fclose(maps);
    return found;
}

#if defined(__SANITIZE_THREAD__)
/* The system's loader guards its lists with a lock of its own, which the thread sanitizer cannot see. Only what has the
 * loader itself on the stack is passed over. */
const char *__tsan_default_suppressions(void);
__attribute__((visibility("default"))) const char *__tsan_default_suppressions(void)
{
    return "race:ld-linux";
}
#endif

/* ---- What is refused ---- */

static void paths_are_checked(void **state)
{
    (void)state;
    cfoil_context *context = context_make();
    static char long_path[5000];
    memset(long_path, '/', sizeof long_path - 1);
    assert_int_equal(cfoil_adapter_load(NULL, GOOD), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_adapter_load(context, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_adapter_load(context, ""), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_adapter_load(context, "/\xFF"), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_adapter_load(context, long_path), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_adapter_load(context, "libm.so.6"), CFOIL_E_ARGUMENT_PATH); /* would be found by a search */
    assert_non_null(strstr(error_of(context).text, "./FILE"));
    cfoil_context_close(context);
}

static const struct {
    const char *path;
    int32_t result;
    const char *text;
} wrong_files[] = {
    {"/nowhere/libx.so", CFOIL_E_DATA_FILE, "libx.so: there is no such file"},
    {SOURCE_DIR "/README.md/x", CFOIL_E_DATA_FILE, "there is no such file"},
    {SOURCE_DIR "/tests", CFOIL_E_DATA_FILE, "it is a folder"},
    {SOURCE_DIR "/tests/", CFOIL_E_DATA_FILE, "it is a folder"},
    {"/dev/null", CFOIL_E_DATA_FILE, "not a plain file"},
    {SOURCE_DIR "/README.md", CFOIL_E_DATA_LIBRARY, "README.md: the loader says: "},
    {FILE_OF("unresolved"), CFOIL_E_DATA_LIBRARY, "nobody_has_this_function"},
    {FILE_OF("no-entry"), CFOIL_E_DATA_ENTRY, "no-entry.so: it has no function counterfoil_adapter_entry"},
    {FILE_OF("newer"), CFOIL_E_DATA_VERSION, "version 1 of adapter.h"},
    {FILE_OF("other-version"), CFOIL_E_DATA_VERSION, "version 1 of adapter.h"},
    {FILE_OF("size-none"), CFOIL_E_ARGUMENT_ADAPTER, "size-none.so: Adapter table: struct_size"},
    {FILE_OF("size-small"), CFOIL_E_ARGUMENT_ADAPTER, "struct_size"},
    {FILE_OF("size-large"), CFOIL_E_ARGUMENT_ADAPTER, "struct_size"},
    {FILE_OF("id-capital"), CFOIL_E_ARGUMENT_ADAPTER, "id must be"},
    {FILE_OF("id-long"), CFOIL_E_ARGUMENT_ADAPTER, "id must be"},
    {FILE_OF("id-none"), CFOIL_E_ARGUMENT_ADAPTER, "id must be"},
    {FILE_OF("id-taken"), CFOIL_E_STATE_EXISTS, "'cctalk' is known already"},
    {FILE_OF("name-empty"), CFOIL_E_ARGUMENT_ADAPTER, "name must be"},
    {FILE_OF("maturity"), CFOIL_E_ARGUMENT_ADAPTER, "maturity must be"},
    {FILE_OF("capabilities"), CFOIL_E_ARGUMENT_ADAPTER, "capabilities must have only"},
    {FILE_OF("frame-none"), CFOIL_E_ARGUMENT_ADAPTER, "frame_max must be"},
    {FILE_OF("frame-long"), CFOIL_E_ARGUMENT_ADAPTER, "frame_max must be"},
    {FILE_OF("state-none"), CFOIL_E_ARGUMENT_ADAPTER, "state_size must be"},
    {FILE_OF("state-large"), CFOIL_E_ARGUMENT_ADAPTER, "state_size must be"},
    {FILE_OF("baud"), CFOIL_E_ARGUMENT_ADAPTER, "line.baud must be"},
    {FILE_OF("answer"), CFOIL_E_ARGUMENT_ADAPTER, "answer_max_ms must be"},
    {FILE_OF("no-step"), CFOIL_E_ARGUMENT_ADAPTER, "must not be NULL"},
    {FILE_OF("reserved"), CFOIL_E_ARGUMENT_ADAPTER, "reserved and extension"},
};

static void every_wrong_file_is_told_and_left(void **state)
{
    (void)state;
    cfoil_context *context = context_make();
    for (size_t i = 0; i < sizeof wrong_files / sizeof wrong_files[0]; i++) {
        int32_t result = cfoil_adapter_load(context, wrong_files[i].path);
        cfoil_error_info error = error_of(context);
        if (result != wrong_files[i].result || strstr(error.text, wrong_files[i].text) == NULL)
            print_error("%s: %#x, '%s'\n", wrong_files[i].path, (unsigned)result, error.text);
        assert_int_equal(result, wrong_files[i].result);
        assert_non_null(strstr(error.text, wrong_files[i].text));
        assert_int_equal(error.result, result);
        assert_false(mapped(wrong_files[i].path));
    }
    assert_int_equal(cfoil_adapter_load(context, GOOD), CFOIL_OK); /* none of them stood in the way */
    cfoil_context_close(context);
}

static void a_file_without_permission_and_a_pipe_are_refused_at_once(void **state)
{
    (void)state;
    char folder[] = "/tmp/counterfoil-load-XXXXXX";
    char path[64];
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/pipe.so", folder);
    assert_int_equal(mkfifo(path, 0600), 0);
    cfoil_context *context = context_make();
    assert_int_equal(cfoil_adapter_load(context, path), CFOIL_E_DATA_FILE);
    assert_non_null(strstr(error_of(context).text, "not a plain file"));
    unlink(path);
    snprintf(path, sizeof path, "%s/loop.so", folder);
    assert_int_equal(symlink(path, path), 0);
    assert_int_equal(cfoil_adapter_load(context, path), CFOIL_E_DATA_FILE);
    assert_int_equal(error_of(context).os_code, ELOOP);
    unlink(path);
    snprintf(path, sizeof path, "%s/secret.so", folder);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fclose(file);
    assert_int_equal(chmod(path, 0), 0);
    int32_t result = cfoil_adapter_load(context, path);
    if (geteuid() != 0) /* the superuser may read it, and finds it empty */
        assert_int_equal(result, CFOIL_E_DATA_FILE);
    else
        assert_int_equal(result, CFOIL_E_DATA_LIBRARY);
    unlink(path);
    rmdir(folder);
    cfoil_context_close(context);
}

/* ---- What works ---- */

static cfoil_lane *lane_make(cfoil_context *context)
{
    cfoil_lane *lane;
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = "tried";
    options.port = "tcp:127.0.0.1:9";
    assert_int_equal(cfoil_lane_open(context, &options, &lane), CFOIL_OK);
    return lane;
}

static void the_catalogue_names_it_with_its_own_word_on_maturity(void **state)
{
    (void)state;
    static char text[1048576];
    cfoil_context *context = context_make();
    assert_int_equal(cfoil_adapter_load(context, GOOD), CFOIL_OK);
    assert_int_equal(cfoil_catalogue_json(context, text, sizeof text, NULL), CFOIL_OK);
    assert_non_null(strstr(text, "\"id\":\"tried\",\"name\":\"An adapter that does nothing\","
                                 "\"maturity\":\"replay_verified\",\"origin\":\"file\""));
    cfoil_context_close(context);
}

/* Nothing of ours has met a real device; whoever raises a maturity has to come by here. */
static void every_built_in_adapter_is_experimental(void **state)
{
    (void)state;
    static char text[1048576];
    cfoil_context *context = context_make();
    assert_int_equal(cfoil_catalogue_json(context, text, sizeof text, NULL), CFOIL_OK);
    int count = 0;
    for (const char *at = strstr(text, "\"maturity\":"); at != NULL; at = strstr(at + 1, "\"maturity\":")) {
        static const char expected[] = "\"maturity\":\"experimental\",\"origin\":\"built_in\"";
        assert_int_equal(strncmp(at, expected, sizeof expected - 1), 0);
        count++;
    }
    assert_true(count >= 3);
    cfoil_context_close(context);
}

static void the_file_stays_until_the_context_closes_and_goes_then(void **state)
{
    (void)state;
    cfoil_context *context = context_make();
    assert_int_equal(cfoil_adapter_load(context, GOOD), CFOIL_OK);
    assert_int_equal(cfoil_adapter_load(context, GOOD), CFOIL_E_STATE_EXISTS);
    assert_true(mapped(GOOD));
    cfoil_lane_close(lane_make(context));
    assert_true(mapped(GOOD));
    (void)lane_make(context); /* open while the context closes: it ends before the file goes */
    cfoil_context_close(context);
    assert_false(mapped(GOOD));
}

static void two_contexts_may_load_the_same_file(void **state)
{
    (void)state;
    cfoil_context *first = context_make();
    cfoil_context *second = context_make();
    assert_int_equal(cfoil_adapter_load(first, GOOD), CFOIL_OK);
    assert_int_equal(cfoil_adapter_load(second, GOOD), CFOIL_OK);
    cfoil_lane *lane = lane_make(second);
    cfoil_context_close(first);
    assert_true(mapped(GOOD));
    cfoil_event event = CFOIL_EVENT_INIT;
    assert_int_equal(cfoil_lane_wait(lane, 5000, &event), CFOIL_OK);
    cfoil_context_close(second);
    assert_false(mapped(GOOD));
}

enum { THREADS = 4, ROUNDS = 50 };

struct racer {
    pthread_t thread;
    cfoil_context *shared;
    int loaded;
    int wrong; /* cmocka's checks belong to the first thread */
};

static void *race(void *user)
{
    struct racer *racer = user;
    for (int i = 0; i < ROUNDS; i++) {
        cfoil_context *own = NULL;
        racer->wrong += cfoil_context_open(NULL, &own) != CFOIL_OK;
        racer->wrong += cfoil_adapter_load(own, GOOD) != CFOIL_OK;
        racer->wrong += cfoil_adapter_load(own, FILE_OF("answer")) != CFOIL_E_ARGUMENT_ADAPTER;
        int32_t result = cfoil_adapter_load(racer->shared, GOOD);
        racer->wrong += result != CFOIL_OK && result != CFOIL_E_STATE_EXISTS;
        racer->loaded += result == CFOIL_OK;
        cfoil_context_close(own);
    }
    return NULL;
}

static void threads_may_load_together(void **state)
{
    (void)state;
    struct racer racers[THREADS];
    cfoil_context *shared = context_make();
    int loaded = 0;
    for (int i = 0; i < THREADS; i++) {
        racers[i] = (struct racer){.shared = shared};
        assert_int_equal(pthread_create(&racers[i].thread, NULL, race, &racers[i]), 0);
    }
    for (int i = 0; i < THREADS; i++) {
        pthread_join(racers[i].thread, NULL);
        loaded += racers[i].loaded;
        assert_int_equal(racers[i].wrong, 0);
    }
    assert_int_equal(loaded, 1);
    cfoil_context_close(shared);
    assert_false(mapped(GOOD));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(paths_are_checked),
        cmocka_unit_test(every_wrong_file_is_told_and_left),
        cmocka_unit_test(a_file_without_permission_and_a_pipe_are_refused_at_once),
        cmocka_unit_test(the_catalogue_names_it_with_its_own_word_on_maturity),
        cmocka_unit_test(every_built_in_adapter_is_experimental),
        cmocka_unit_test(the_file_stays_until_the_context_closes_and_goes_then),
        cmocka_unit_test(two_contexts_may_load_the_same_file),
        cmocka_unit_test(threads_may_load_together),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
