/*
 * The library writes nothing to standard output or standard error, whatever goes wrong.
 */
#include "test.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[64];

static void path_make(char path[96], const char *name)
{
    snprintf(path, 96, "%s/%s", folder, name);
}

/* A little of everything that can fail. */
static void trouble_make(void)
{
    cfoil_context *context = NULL;
    (void)cfoil_context_open(NULL, &context);
    (void)cfoil_pack_directory_add(context, "/nowhere");
    (void)cfoil_pack_check(context, SOURCE_DIR "/README.md", NULL, 0, NULL);
    char path[96];
    path_make(path, "broken");
    FILE *file = fopen(path, "w");
    if (file != NULL) {
        fputs("this is no ledger, but it is long enough to be looked at as one by everybody who tries to\n", file);
        fclose(file);
    }
    cfoil_ledger *ledger = NULL;
    cfoil_ledger_options ledger_options = CFOIL_LEDGER_OPTIONS_INIT;
    ledger_options.path = path;
    (void)cfoil_ledger_open(context, &ledger_options, &ledger);
    path_make(path, "good");
    (void)cfoil_ledger_open(context, &ledger_options, &ledger);
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = "cctalk";
    options.ledger = ledger;
    static const char *const ports[] = {"tcp:127.0.0.1:9", "serial:/dev/null", "serial:/nowhere", "trace:/nowhere",
                                        "x"};
    for (size_t i = 0; i < sizeof ports / sizeof ports[0]; i++) {
        cfoil_lane *lane = NULL;
        options.port = ports[i];
        (void)cfoil_lane_open(context, &options, &lane);
        cfoil_event event = CFOIL_EVENT_INIT;
        for (int waits = 0; lane != NULL && waits < 3; waits++)
            (void)cfoil_lane_wait(lane, 50, &event);
        cfoil_lane_close(lane);
    }
    cfoil_step step = CFOIL_STEP_INIT;
    (void)cfoil_case_step(NULL, &step);
    cfoil_context_close(context);
}

static void nothing_is_printed(void **state)
{
    (void)state;
    strcpy(folder, "/tmp/counterfoil-silent-XXXXXX");
    assert_non_null(mkdtemp(folder));
    char path[96];
    path_make(path, "printed");
    fflush(stdout);
    fflush(stderr);
    int output = dup(1);
    int errors = dup(2);
    FILE *printed = fopen(path, "w");
    assert_non_null(printed);
    dup2(fileno(printed), 1);
    dup2(fileno(printed), 2);
    trouble_make();
    fflush(stdout);
    fflush(stderr);
    dup2(output, 1);
    dup2(errors, 2);
    close(output);
    close(errors);
    struct stat status;
    assert_int_equal(fstat(fileno(printed), &status), 0);
    assert_int_equal(status.st_size, 0);
    fclose(printed);
    static const char *const names[] = {"printed", "broken", "good", "good-wal", "good-shm"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        path_make(path, names[i]);
        unlink(path);
    }
    assert_int_equal(rmdir(folder), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(nothing_is_printed)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
