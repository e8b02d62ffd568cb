/*
 * Every public call with wrong arguments: the documented code, nothing changed; and the small successes that need no
 * device.
 */
#include "test.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

struct fixture {
    char folder[64];
    char path[96];
    cfoil_context *context;
    cfoil_ledger *ledger;
};

static struct fixture fixture;

static int fixture_open(void **state)
{
    (void)state;
    strcpy(fixture.folder, "/tmp/counterfoil-calls-XXXXXX");
    assert_non_null(mkdtemp(fixture.folder));
    snprintf(fixture.path, sizeof fixture.path, "%s/ledger", fixture.folder);
    assert_int_equal(cfoil_context_open(NULL, &fixture.context), CFOIL_OK);
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = fixture.path;
    assert_int_equal(cfoil_ledger_open(fixture.context, &options, &fixture.ledger), CFOIL_OK);
    return 0;
}

static int fixture_close(void **state)
{
    (void)state;
    cfoil_context_close(fixture.context);
    static const char *const endings[] = {"", "-wal", "-shm"};
    for (int i = 0; i < 3; i++) {
        char path[128];
        snprintf(path, sizeof path, "%s%s", fixture.path, endings[i]);
        unlink(path);
    }
    return rmdir(fixture.folder);
}

static void context_options_are_checked(void **state)
{
    (void)state;
    cfoil_context *context = (cfoil_context *)fixture.folder;
    assert_int_equal(cfoil_context_open(NULL, NULL), CFOIL_E_ARGUMENT_NULL);
    cfoil_context_options options = CFOIL_CONTEXT_OPTIONS_INIT;
    options.struct_size = 0;
    assert_int_equal(cfoil_context_open(&options, &context), CFOIL_E_ARGUMENT_STRUCT_SIZE);
    assert_null(context);
    options.struct_size = sizeof options;
    options.log_level = 9;
    assert_int_equal(cfoil_context_open(&options, &context), CFOIL_E_ARGUMENT_RANGE);
    options.log_level = 0;
    cfoil_allocator allocator = CFOIL_ALLOCATOR_INIT;
    options.allocator = &allocator;
    assert_int_equal(cfoil_context_open(&options, &context), CFOIL_E_ARGUMENT_NULL);
    allocator.struct_size = 3;
    assert_int_equal(cfoil_context_open(&options, &context), CFOIL_E_ARGUMENT_STRUCT_SIZE);
}

static size_t allocated;

static void *count_allocate(void *user, size_t size)
{
    (void)user;
    allocated++;
    return malloc(size);
}

static void count_release(void *user, void *memory)
{
    (void)user;
    allocated--;
    free(memory);
}

static void the_hosts_allocator_is_used_and_gets_all_back(void **state)
{
    (void)state;
    cfoil_allocator allocator = CFOIL_ALLOCATOR_INIT;
    allocator.allocate = count_allocate;
    allocator.release = count_release;
    cfoil_context_options options = CFOIL_CONTEXT_OPTIONS_INIT;
    options.allocator = &allocator;
    cfoil_context *context;
    allocated = 0;
    assert_int_equal(cfoil_context_open(&options, &context), CFOIL_OK);
    assert_true(allocated > 3);
    cfoil_context_close(context);
    assert_int_equal(allocated, 0);
}

static void a_closed_context_wakes_nothing_and_shuts_down_once(void **state)
{
    (void)state;
    cfoil_context *context;
    assert_int_equal(cfoil_context_open(NULL, &context), CFOIL_OK);
    assert_int_equal(cfoil_context_shutdown(context), CFOIL_OK);
    assert_int_equal(cfoil_context_shutdown(context), CFOIL_OK);
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = "cctalk";
    options.port = "tcp:127.0.0.1:9";
    cfoil_lane *lane;
    assert_int_equal(cfoil_lane_open(context, &options, &lane), CFOIL_E_STATE_SHUTDOWN);
    cfoil_ledger_options ledger_options = CFOIL_LEDGER_OPTIONS_INIT;
    ledger_options.path = "/tmp/never-made";
    cfoil_ledger *ledger;
    assert_int_equal(cfoil_ledger_open(context, &ledger_options, &ledger), CFOIL_E_STATE_SHUTDOWN);
    assert_int_equal(cfoil_context_shutdown(NULL), CFOIL_E_ARGUMENT_NULL);
    cfoil_context_close(context);
}

static void pack_calls_are_checked(void **state)
{
    (void)state;
    cfoil_context *context = fixture.context;
    assert_int_equal(cfoil_pack_directory_add(context, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_pack_directory_add(context, ""), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_pack_directory_add(context, "\xFF"), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_pack_directory_add(context, SOURCE_DIR "/plugin/packs"), CFOIL_OK);
    assert_int_equal(cfoil_pack_check(context, NULL, NULL, 0, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_pack_check(context, "", NULL, 0, NULL), CFOIL_E_ARGUMENT_TEXT);
    char line[512];
    size_t needed = 0;
    assert_int_equal(cfoil_pack_check(context, "/nowhere", line, sizeof line, &needed), CFOIL_E_DATA_FILE);
    assert_int_equal(needed, strlen(line) + 1);
    assert_int_equal(cfoil_pack_check(context, SOURCE_DIR "/plugin/packs/eur.json", line, sizeof line, NULL), CFOIL_OK);
    assert_non_null(strstr(line, "EUR"));
    assert_int_equal(cfoil_pack_check(context, SOURCE_DIR "/plugin/packs/eur.json", line, 3, NULL),
                     CFOIL_E_ARGUMENT_BUFFER);
}

static void buffers_follow_the_one_rule(void **state)
{
    (void)state;
    size_t needed = 0;
    assert_int_equal(cfoil_catalogue_json(fixture.context, NULL, 0, &needed), CFOIL_E_ARGUMENT_BUFFER);
    assert_true(needed > 100);
    assert_int_equal(cfoil_catalogue_json(fixture.context, NULL, 5, NULL), CFOIL_E_ARGUMENT_NULL);
    char *text = malloc(needed);
    assert_non_null(text);
    assert_int_equal(cfoil_catalogue_json(fixture.context, text, needed - 1, NULL), CFOIL_E_ARGUMENT_BUFFER);
    assert_string_equal(text, "");
    assert_int_equal(cfoil_catalogue_json(fixture.context, text, needed, NULL), CFOIL_OK);
    assert_int_equal(strlen(text) + 1, needed);
    assert_non_null(strstr(text, "\"counterfoil.catalogue/1\""));
    assert_non_null(strstr(text, "\"cctalk\""));
    free(text);
}

static void serial_call_is_checked(void **state)
{
    (void)state;
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    assert_int_equal(cfoil_serial_check(fixture.context, NULL, "X", &serial), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_serial_check(fixture.context, "EUR", NULL, &serial), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_serial_check(fixture.context, "EURO", "X", &serial), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_serial_check(fixture.context, "EUR", "", &serial), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_serial_check(fixture.context, "EUR", "X", NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_serial_check(fixture.context, "XXX", "X", &serial), CFOIL_E_MISSING_PACK);
    assert_int_equal(cfoil_serial_check(fixture.context, "EUR", "va 0436 214792", &serial), CFOIL_OK);
    assert_string_equal(serial.normalised, "VA0436214792");
    assert_int_equal(serial.checksum, CFOIL_CHECKSUM_FITS);
}

static int32_t lane_open_result(const char *adapter, const char *port, const char *settings)
{
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = adapter;
    options.port = port;
    options.settings = settings;
    cfoil_lane *lane = NULL;
    int32_t result = cfoil_lane_open(fixture.context, &options, &lane);
    cfoil_lane_close(lane);
    return result;
}

static void lane_options_are_checked(void **state)
{
    (void)state;
    const char *port = "tcp:127.0.0.1:9";
    assert_int_equal(lane_open_result(NULL, port, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(lane_open_result("cctalk", NULL, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(lane_open_result("unheard-of", port, NULL), CFOIL_E_MISSING_ADAPTER);
    assert_int_equal(lane_open_result("cctalk", "pigeon:17", NULL), CFOIL_E_ARGUMENT_PORT);
    assert_int_equal(lane_open_result("cctalk", port, "colour=blue"), CFOIL_E_ARGUMENT_SETTING);
    assert_int_equal(lane_open_result("cctalk", port, "poll_ms"), CFOIL_E_ARGUMENT_SETTING);
    assert_int_equal(lane_open_result("cctalk", "trace:/nowhere/at/all", NULL), CFOIL_E_DATA_FILE);
    cfoil_error_info info = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(cfoil_error_read(fixture.context, &info), CFOIL_OK);
    assert_non_null(strstr(info.text, "/nowhere/at/all"));
    cfoil_lane *lane;
    assert_int_equal(cfoil_lane_open(fixture.context, NULL, &lane), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_lane_open(fixture.context, NULL, NULL), CFOIL_E_ARGUMENT_NULL);
}

static void one_name_is_one_lane(void **state)
{
    (void)state;
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = "cctalk";
    options.port = "tcp:127.0.0.1:9";
    options.name = "till 4";
    options.ledger = fixture.ledger;
    cfoil_lane *first;
    cfoil_lane *second;
    assert_int_equal(cfoil_lane_open(fixture.context, &options, &first), CFOIL_OK);
    assert_int_equal(cfoil_lane_open(fixture.context, &options, &second), CFOIL_E_STATE_EXISTS);
    assert_null(second);
    cfoil_lane_close(first);
    assert_int_equal(cfoil_lane_open(fixture.context, &options, &second), CFOIL_OK);
    cfoil_event event = CFOIL_EVENT_INIT;
    assert_int_equal(cfoil_lane_wait(second, 3600001, &event), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(cfoil_lane_wait(second, 0, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_lane_wait_handle(second, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_lane_accept(second, 3), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(cfoil_lane_accept(second, -1), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(cfoil_note_hold(second, 1, 600001), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(cfoil_note_stack(second, 1), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(cfoil_note_return(second, 1), CFOIL_E_STATE_NO_NOTE);
    cfoil_lane_close(second);
    assert_int_equal(cfoil_lane_poll(second, &event), CFOIL_E_STATE_STALE);
    assert_int_equal(cfoil_note_stack(second, 1), CFOIL_E_STATE_STALE);
    assert_int_equal(cfoil_note_return(second, 1), CFOIL_E_STATE_STALE);
    assert_int_equal(cfoil_note_hold(second, 1, 1), CFOIL_E_STATE_STALE);
    assert_int_equal(cfoil_lane_accept(second, 0), CFOIL_E_STATE_STALE);
    intptr_t handle;
    assert_int_equal(cfoil_lane_wait_handle(second, &handle), CFOIL_E_STATE_STALE);
}

/* What one of several threads gets that open the same lane at the same moment. */
struct opener {
    pthread_t thread;
    pthread_barrier_t *together;
    int32_t result;
    cfoil_lane *lane;
};

static void *open_in_thread(void *user)
{
    struct opener *opener = user;
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = "cctalk";
    options.port = "tcp:127.0.0.1:9";
    options.name = "till 5";
    pthread_barrier_wait(opener->together);
    opener->result = cfoil_lane_open(fixture.context, &options, &opener->lane);
    return NULL;
}

#define OPENERS 6

static int opened_together(void)
{
    struct opener openers[OPENERS];
    pthread_barrier_t together;
    assert_int_equal(pthread_barrier_init(&together, NULL, OPENERS), 0);
    for (int i = 0; i < OPENERS; i++) {
        openers[i].together = &together;
        assert_int_equal(pthread_create(&openers[i].thread, NULL, open_in_thread, &openers[i]), 0);
    }
    int opened = 0;
    for (int i = 0; i < OPENERS; i++) {
        assert_int_equal(pthread_join(openers[i].thread, NULL), 0);
        opened += openers[i].result == CFOIL_OK;
        assert_true(openers[i].result == CFOIL_OK || openers[i].result == CFOIL_E_STATE_EXISTS);
    }
    for (int i = 0; i < OPENERS; i++)
        cfoil_lane_close(openers[i].lane); /* NULL for those who came second */
    pthread_barrier_destroy(&together);
    return opened;
}

static void one_name_is_one_lane_for_threads_at_once(void **state)
{
    (void)state;
    for (int round = 0; round < 50; round++)
        assert_int_equal(opened_together(), 1);
}

static void ledger_options_are_checked(void **state)
{
    (void)state;
    cfoil_ledger *ledger;
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    assert_int_equal(cfoil_ledger_open(fixture.context, &options, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_ledger_open(fixture.context, &options, &ledger), CFOIL_E_ARGUMENT_NULL);
    options.path = "";
    assert_int_equal(cfoil_ledger_open(fixture.context, &options, &ledger), CFOIL_E_ARGUMENT_TEXT);
    options.path = "/nowhere/at/all/ledger";
    assert_int_equal(cfoil_ledger_open(fixture.context, &options, &ledger), CFOIL_E_LEDGER_OPEN);
    assert_null(ledger);
    options.busy_ms = 60001;
    assert_int_equal(cfoil_ledger_open(fixture.context, &options, &ledger), CFOIL_E_ARGUMENT_RANGE);
    options.busy_ms = 0;
    options.store = "\x01";
    assert_int_equal(cfoil_ledger_open(fixture.context, &options, &ledger), CFOIL_E_ARGUMENT_TEXT);
    char text[64];
    assert_int_equal(cfoil_ledger_entry_json(fixture.ledger, -1, text, sizeof text, NULL), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(cfoil_ledger_entry_json(fixture.ledger, 999, text, sizeof text, NULL), CFOIL_E_MISSING_ENTRY);
    assert_int_equal(cfoil_ledger_entry_json(fixture.ledger, 1, text, sizeof text, NULL), CFOIL_E_ARGUMENT_BUFFER);
    assert_int_equal(cfoil_ledger_verify(fixture.ledger, NULL), CFOIL_E_ARGUMENT_NULL);
    cfoil_report_options report = CFOIL_REPORT_OPTIONS_INIT;
    report.format = 77;
    assert_int_equal(cfoil_report_write(fixture.ledger, &report, text, sizeof text, NULL), CFOIL_E_ARGUMENT_RANGE);
    report.format = 0;
    report.from_utc_ms = -1;
    assert_int_equal(cfoil_report_write(fixture.ledger, &report, text, sizeof text, NULL), CFOIL_E_ARGUMENT_RANGE);
    report.from_utc_ms = 0;
    report.lane = "";
    assert_int_equal(cfoil_report_write(fixture.ledger, &report, text, sizeof text, NULL), CFOIL_E_ARGUMENT_TEXT);
}

static void a_case_outlives_the_ledger_handle(void **state)
{
    (void)state;
    cfoil_context *context;
    assert_int_equal(cfoil_context_open(NULL, &context), CFOIL_OK);
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = fixture.path;
    cfoil_ledger *ledger;
    assert_int_equal(cfoil_ledger_open(context, &options, &ledger), CFOIL_OK);
    cfoil_case_options case_options = CFOIL_CASE_OPTIONS_INIT;
    case_options.currency = "EUR";
    case_options.value_minor = 2000;
    case_options.ledger = ledger;
    cfoil_case *doubt;
    assert_int_equal(cfoil_case_open(context, &case_options, &doubt), CFOIL_OK);
    cfoil_ledger_close(ledger);
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = CFOIL_DISPOSITION_NOT_TAKEN;
    cfoil_record record = CFOIL_RECORD_INIT;
    assert_int_equal(cfoil_case_dispose(doubt, &end, &record), CFOIL_OK);
    assert_true(record.entry > 1);
    assert_int_equal(strlen(record.hash), 64);
    assert_int_equal(strlen(record.case_id), 36);
    assert_int_equal(cfoil_case_open(context, &case_options, &doubt), CFOIL_E_STATE_STALE);
    cfoil_context_close(context);
}

static void case_calls_are_checked(void **state)
{
    (void)state;
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    cfoil_case *doubt;
    assert_int_equal(cfoil_case_open(fixture.context, &options, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_case_open(fixture.context, NULL, &doubt), CFOIL_E_ARGUMENT_NULL);
    options.currency = "EUR";
    options.value_minor = 700;
    assert_int_equal(cfoil_case_open(fixture.context, &options, &doubt), CFOIL_E_MISSING_NOTE);
    options.value_minor = 5000;
    options.jurisdiction = "ZZ";
    assert_int_equal(cfoil_case_open(fixture.context, &options, &doubt), CFOIL_E_MISSING_JURISDICTION);
    options.jurisdiction = NULL;
    options.ledger = fixture.ledger;
    assert_int_equal(cfoil_case_open(fixture.context, &options, &doubt), CFOIL_OK);
    assert_int_equal(cfoil_case_presentation_add(doubt, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_case_step(doubt, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_case_answer(doubt, NULL, 1), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_case_answer(doubt, "no-such-check", 1), CFOIL_E_MISSING_CHECK);
    assert_int_equal(cfoil_case_serial_set(doubt, NULL, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_case_serial_set(doubt, "", NULL), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_case_dispose(doubt, NULL, NULL), CFOIL_E_ARGUMENT_NULL);
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = 9;
    assert_int_equal(cfoil_case_dispose(doubt, &end, NULL), CFOIL_E_ARGUMENT_RANGE);
    end.disposition = CFOIL_DISPOSITION_TAKEN;
    assert_int_equal(cfoil_case_dispose(doubt, &end, NULL), CFOIL_E_RULE_ADVICE);
    end.disposition = CFOIL_DISPOSITION_NOT_TAKEN;
    assert_int_equal(cfoil_case_dispose(doubt, &end, NULL), CFOIL_OK);
    end.disposition = CFOIL_DISPOSITION_TAKEN;
    end.override_by = "s1";
    end.override_why = "it looked right to me";
    assert_int_equal(cfoil_case_dispose(doubt, &end, NULL), CFOIL_E_RULE_REFUSED);
    cfoil_case_close(doubt);
    assert_int_equal(cfoil_case_answer(doubt, "x", 1), CFOIL_E_STATE_STALE);
    assert_int_equal(cfoil_case_dispose(doubt, &end, NULL), CFOIL_E_STATE_STALE);
    assert_int_equal(cfoil_case_json(doubt, NULL, 0, NULL), CFOIL_E_STATE_STALE);
    assert_int_equal(cfoil_case_serial_set(doubt, "X", NULL), CFOIL_E_STATE_STALE);
}

static void a_refused_serial_number_is_remembered(void **state)
{
    (void)state;
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = "EUR";
    options.value_minor = 5000;
    options.ledger = fixture.ledger;
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = CFOIL_DISPOSITION_NOT_TAKEN;
    for (int turn = 0; turn < 2; turn++) {
        cfoil_case *doubt;
        cfoil_serial serial = CFOIL_SERIAL_INIT;
        assert_int_equal(cfoil_case_open(fixture.context, &options, &doubt), CFOIL_OK);
        assert_int_equal(cfoil_case_serial_set(doubt, "UF 9073937437", &serial), CFOIL_OK);
        assert_int_equal(serial.seen_refused, turn);
        cfoil_step step = CFOIL_STEP_INIT;
        assert_int_equal(cfoil_case_step(doubt, &step), CFOIL_OK);
        assert_int_equal(step.kind, turn == 0 ? CFOIL_STEP_CHECK : CFOIL_STEP_ADVICE);
        assert_int_equal(cfoil_case_dispose(doubt, &end, NULL), CFOIL_OK);
        cfoil_case_close(doubt);
    }
}

/* A case that was begun and left is in the figures as abandoned; one that was never begun is not. */
static void an_untouched_case_leaves_no_record(void **state)
{
    (void)state;
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = "EUR";
    options.value_minor = 5000;
    options.ledger = fixture.ledger;
    cfoil_ledger_check before = CFOIL_LEDGER_CHECK_INIT;
    cfoil_ledger_check after = CFOIL_LEDGER_CHECK_INIT;
    assert_int_equal(cfoil_ledger_verify(fixture.ledger, &before), CFOIL_OK);
    cfoil_case *doubt;
    assert_int_equal(cfoil_case_open(fixture.context, &options, &doubt), CFOIL_OK);
    cfoil_case_close(doubt);
    assert_int_equal(cfoil_ledger_verify(fixture.ledger, &after), CFOIL_OK);
    assert_int_equal(after.entries, before.entries);
    assert_int_equal(cfoil_case_open(fixture.context, &options, &doubt), CFOIL_OK);
    cfoil_step step = CFOIL_STEP_INIT;
    assert_int_equal(cfoil_case_step(doubt, &step), CFOIL_OK);
    assert_int_equal(cfoil_case_answer(doubt, step.check, CFOIL_ANSWER_CANNOT_TELL), CFOIL_OK);
    cfoil_case_close(doubt);
    assert_int_equal(cfoil_ledger_verify(fixture.ledger, &after), CFOIL_OK);
    assert_int_equal(after.entries, before.entries + 1);
    assert_int_equal(after.intact, 1);
}

static int32_t unused_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    (void)state;
    (void)command;
    (void)argument;
    (void)now_us;
    return CFOIL_OK;
}

static uint64_t unused_step(void *state, const cfoil_adapter_input *input)
{
    (void)state;
    (void)input;
    return UINT64_MAX;
}

static int32_t unused_open(void *state, const cfoil_adapter_start *start)
{
    (void)state;
    (void)start;
    return CFOIL_OK;
}

static cfoil_adapter table_make(void)
{
    cfoil_adapter table = {
        .struct_size = sizeof table,
        .api_version = CFOIL_ADAPTER_API,
        .id = "mine-1",
        .name = "Mine",
        .maturity = CFOIL_MATURITY_EXPERIMENTAL,
        .frame_max = 64,
        .state_size = 64,
        .line = {9600, 8, 1, CFOIL_PARITY_NONE},
        .answer_max_ms = 1000,
        .open = unused_open,
        .step = unused_step,
        .command = unused_command,
    };
    return table;
}

#define REFUSED_WITH(member, value)                                                                                    \
    do {                                                                                                               \
        cfoil_adapter bad = table_make();                                                                              \
        bad.member = value;                                                                                            \
        assert_int_equal(cfoil_adapter_register(fixture.context, &bad), CFOIL_E_ARGUMENT_ADAPTER);                     \
    } while (0)

static void adapter_tables_are_checked_whole(void **state)
{
    (void)state;
    assert_int_equal(cfoil_adapter_register(fixture.context, NULL), CFOIL_E_ARGUMENT_NULL);
    REFUSED_WITH(struct_size, 8);
    REFUSED_WITH(api_version, 2);
    REFUSED_WITH(id, NULL);
    REFUSED_WITH(id, "");
    REFUSED_WITH(id, "Capital");
    REFUSED_WITH(id, "seventeen-letters");
    REFUSED_WITH(name, NULL);
    REFUSED_WITH(name, "");
    REFUSED_WITH(maturity, 0);
    REFUSED_WITH(maturity, 4);
    REFUSED_WITH(frame_max, 0);
    REFUSED_WITH(frame_max, 4097);
    REFUSED_WITH(state_size, 0);
    REFUSED_WITH(state_size, 1048577);
    REFUSED_WITH(answer_max_ms, 99);
    REFUSED_WITH(answer_max_ms, 60001);
    REFUSED_WITH(line.baud, 299);
    REFUSED_WITH(line.baud, 4000001);
    REFUSED_WITH(line.data_bits, 4);
    REFUSED_WITH(line.data_bits, 9);
    REFUSED_WITH(line.stop_bits, 0);
    REFUSED_WITH(line.stop_bits, 3);
    REFUSED_WITH(line.parity, -1);
    REFUSED_WITH(line.parity, 5);
    REFUSED_WITH(open, NULL);
    REFUSED_WITH(step, NULL);
    REFUSED_WITH(command, NULL);
    REFUSED_WITH(extension, fixture.folder);
    static cfoil_adapter good;
    good = table_make();
    assert_int_equal(cfoil_adapter_register(fixture.context, &good), CFOIL_OK);
    assert_int_equal(cfoil_adapter_register(fixture.context, &good), CFOIL_E_STATE_EXISTS);
}

static void version_is_the_headers(void **state)
{
    (void)state;
    char expected[32];
    snprintf(expected, sizeof expected, "%d.%d.%d", CFOIL_VERSION_MAJOR, CFOIL_VERSION_MINOR, CFOIL_VERSION_PATCH);
    assert_string_equal(cfoil_version(), expected);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(context_options_are_checked),
        cmocka_unit_test(the_hosts_allocator_is_used_and_gets_all_back),
        cmocka_unit_test(a_closed_context_wakes_nothing_and_shuts_down_once),
        cmocka_unit_test(pack_calls_are_checked),
        cmocka_unit_test(buffers_follow_the_one_rule),
        cmocka_unit_test(serial_call_is_checked),
        cmocka_unit_test(lane_options_are_checked),
        cmocka_unit_test(one_name_is_one_lane),
        cmocka_unit_test(one_name_is_one_lane_for_threads_at_once),
        cmocka_unit_test(ledger_options_are_checked),
        cmocka_unit_test(a_case_outlives_the_ledger_handle),
        cmocka_unit_test(case_calls_are_checked),
        cmocka_unit_test(a_refused_serial_number_is_remembered),
        cmocka_unit_test(an_untouched_case_leaves_no_record),
        cmocka_unit_test(adapter_tables_are_checked_whole),
        cmocka_unit_test(version_is_the_headers),
    };
    return cmocka_run_group_tests(tests, fixture_open, fixture_close);
}
