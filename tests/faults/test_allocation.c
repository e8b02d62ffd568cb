/*
 * Every public call with its 1st, 2nd, ... n-th allocation refused, once and for ever: it says so, changes nothing,
 * works when called again, and nothing leaks. (Each of the first 150 allocations of a call, then a sample.)
 */
#include "failing_heap.h"
#include "ledger_copy.h"
#include "test.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

/* One host with everything open that a call may need. */
struct world {
    char folder[64];
    char path[96];
    char pack[128];
    cfoil_context *context;
    cfoil_ledger *ledger;
    cfoil_lane *lane;
    cfoil_case *doubt;
    cfoil_context *made_context; /* what the call under test opened */
    cfoil_ledger *made_ledger;
    cfoil_lane *made_lane;
    cfoil_case *made_case;
};

static cfoil_event refusal_make(void)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    event.kind = CFOIL_KIND_REJECTED;
    event.sequence = 1;
    event.presentation = 1;
    event.reason = CFOIL_REASON_AUTHENTICITY;
    event.reasons_possible = 1u << CFOIL_REASON_AUTHENTICITY | 1u << CFOIL_REASON_NOT_RECOGNISED;
    event.finding_count = 1;
    event.findings[0].strength = CFOIL_STRENGTH_WEAK;
    event.findings[0].origin = CFOIL_ORIGIN_DEVICE;
    strcpy(event.raw_text, "0,2");
    strcpy(event.text, "The device could not validate the note.");
    return event;
}

static cfoil_lane_options lane_options_make(const struct world *world, const char *name)
{
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = "cctalk";
    options.port = "tcp:127.0.0.1:9"; /* nobody listens: the lane keeps trying, that is all this test needs */
    options.settings = "poll_ms=200;currency.GB=GBP";
    options.name = name;
    options.ledger = world->ledger;
    return options;
}

static cfoil_case_options case_options_make(const struct world *world)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.ledger = world->ledger;
    options.currency = "EUR";
    options.value_minor = 5000;
    options.lane = "lane 1";
    options.sale = "4711";
    options.staff = "c7";
    return options;
}

static void world_open(struct world *world)
{
    memset(world, 0, sizeof *world);
    ledger_copy_folder(world->folder, "allocation");
    snprintf(world->path, sizeof world->path, "%s/ledger", world->folder);
    snprintf(world->pack, sizeof world->pack, "%s", SOURCE_DIR "/plugin/packs");
    assert_int_equal(cfoil_context_open(NULL, &world->context), CFOIL_OK);
    cfoil_ledger_options ledger = CFOIL_LEDGER_OPTIONS_INIT;
    ledger.path = world->path;
    ledger_copy_write(world->context, world->path);
    assert_int_equal(cfoil_ledger_open(world->context, &ledger, &world->ledger), CFOIL_OK);
    cfoil_lane_options lane = lane_options_make(world, "lane 1");
    assert_int_equal(cfoil_lane_open(world->context, &lane, &world->lane), CFOIL_OK);
    cfoil_case_options doubt = case_options_make(world);
    assert_int_equal(cfoil_case_open(world->context, &doubt, &world->doubt), CFOIL_OK);
    cfoil_event event = refusal_make();
    assert_int_equal(cfoil_case_presentation_add(world->doubt, &event), CFOIL_OK);
}

static void world_close(struct world *world)
{
    cfoil_context_close(world->made_context);
    cfoil_context_close(world->context);
    char path[160];
    static const char *const endings[] = {"", "-wal", "-shm"};
    for (int i = 0; i < 3; i++) {
        snprintf(path, sizeof path, "%s%s", world->path, endings[i]);
        unlink(path);
    }
    snprintf(path, sizeof path, "%s/other", world->folder);
    unlink(path);
    snprintf(path, sizeof path, "%s/other-wal", world->folder);
    unlink(path);
    snprintf(path, sizeof path, "%s/other-shm", world->folder);
    unlink(path);
    rmdir(world->folder);
}

/* ---- The calls under test ---- */

static char text[1048576];

static int32_t call_context_open(struct world *world)
{
    return cfoil_context_open(NULL, &world->made_context);
}

static int32_t call_pack_directory_add(struct world *world)
{
    return cfoil_pack_directory_add(world->context, world->pack);
}

static int32_t call_pack_check(struct world *world)
{
    return cfoil_pack_check(world->context, SOURCE_DIR "/plugin/packs/eur.json", text, sizeof text, NULL);
}

static int32_t call_catalogue(struct world *world)
{
    return cfoil_catalogue_json(world->context, text, sizeof text, NULL);
}

static int32_t call_devices(struct world *world)
{
    return cfoil_devices_json(world->context, NULL, text, sizeof text, NULL);
}

static int32_t call_message(struct world *world)
{
    cfoil_argument title = {"title", "Watermark", 0};
    return cfoil_message(world->context, "en", "till.back_to", &title, 1, text, sizeof text, NULL);
}

static int32_t call_language_check(struct world *world)
{
    uint32_t missing;
    return cfoil_language_check(world->context, "en", &missing, text, sizeof text, NULL);
}

static int32_t call_serial_check(struct world *world)
{
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    return cfoil_serial_check(world->context, "EUR", "VA0436214792", &serial);
}

static uint64_t idle_step(void *state, const cfoil_adapter_input *input)
{
    (void)state;
    (void)input;
    return UINT64_MAX;
}

static int32_t idle_open(void *state, const cfoil_adapter_start *start)
{
    (void)state;
    (void)start;
    return CFOIL_OK;
}

static int32_t idle_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    (void)state;
    (void)command;
    (void)argument;
    (void)now_us;
    return CFOIL_OK;
}

static const cfoil_adapter idle_adapter = {
    .struct_size = sizeof(cfoil_adapter),
    .api_version = CFOIL_ADAPTER_API,
    .id = "idle",
    .name = "An adapter that does nothing",
    .maturity = CFOIL_MATURITY_EXPERIMENTAL,
    .frame_max = 16,
    .state_size = 16,
    .line = {9600, 8, 1, CFOIL_PARITY_NONE},
    .answer_max_ms = 1000,
    .open = idle_open,
    .step = idle_step,
    .command = idle_command,
};

static int32_t call_adapter_register(struct world *world)
{
    return cfoil_adapter_register(world->context, &idle_adapter);
}

static int32_t call_adapter_describe(struct world *world)
{
    return cfoil_adapter_describe(world->context, SOURCE_DIR "/examples/descriptions/status-bits.json");
}

static int32_t call_adapter_load(struct world *world)
{
    return cfoil_adapter_load(world->context, ADAPTER_FILE);
}

/* The system's loader keeps some blocks for good: one for its lines, with the first that it has to say, and lists that
 * grow with the first files it loads and unloads. */
static void loader_warm_up(void)
{
    cfoil_context *context;
    assert_int_equal(cfoil_context_open(NULL, &context), CFOIL_OK);
    assert_int_equal(cfoil_adapter_load(context, SOURCE_DIR "/README.md"), CFOIL_E_DATA_LIBRARY);
    cfoil_context_close(context);
    for (int i = 0; i < 8; i++) {
        assert_int_equal(cfoil_context_open(NULL, &context), CFOIL_OK);
        assert_int_equal(cfoil_adapter_load(context, ADAPTER_FILE), CFOIL_OK);
        cfoil_context_close(context);
    }
}

static int32_t call_lane_open(struct world *world)
{
    cfoil_lane_options options = lane_options_make(world, "lane 2");
    return cfoil_lane_open(world->context, &options, &world->made_lane);
}

static int32_t call_lane_wait(struct world *world)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    int32_t result = cfoil_lane_poll(world->lane, &event);
    return result == CFOIL_E_TIME_OUT ? CFOIL_OK : result;
}

static int32_t call_lane_wait_handle(struct world *world)
{
    intptr_t handle;
    int32_t result = cfoil_lane_wait_handle(world->lane, &handle);
    return result == CFOIL_E_SYSTEM_OS ? CFOIL_E_MEMORY : result;
}

static int32_t call_lane_accept(struct world *world)
{
    return cfoil_lane_accept(world->lane, CFOIL_ACCEPT_HOLD);
}

static int32_t call_event_json(struct world *world)
{
    (void)world;
    cfoil_event event = refusal_make();
    return cfoil_event_json(&event, text, sizeof text, NULL);
}

static int32_t call_case_open(struct world *world)
{
    cfoil_case_options options = case_options_make(world);
    return cfoil_case_open(world->context, &options, &world->made_case);
}

static int32_t call_presentation_add(struct world *world)
{
    cfoil_event event = refusal_make();
    return cfoil_case_presentation_add(world->doubt, &event);
}

static int32_t call_step(struct world *world)
{
    cfoil_step step = CFOIL_STEP_INIT;
    return cfoil_case_step(world->doubt, &step);
}

static int32_t call_answer(struct world *world)
{
    return cfoil_case_answer(world->doubt, "watermark", CFOIL_ANSWER_AS_IT_SHOULD_BE);
}

static int32_t call_serial_set(struct world *world)
{
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    return cfoil_case_serial_set(world->doubt, "VA0436214792", &serial);
}

static int32_t call_case_json(struct world *world)
{
    return cfoil_case_json(world->doubt, text, sizeof text, NULL);
}

static int32_t call_case_picture(struct world *world)
{
    return cfoil_case_picture(world->doubt, text, sizeof text, NULL);
}

static int32_t call_dispose(struct world *world)
{
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    options.disposition = CFOIL_DISPOSITION_NOT_TAKEN;
    cfoil_record record = CFOIL_RECORD_INIT;
    int32_t result = cfoil_case_dispose(world->doubt, &options, &record);
    if (result == CFOIL_OK)
        assert_true(record.entry > 1);
    return result;
}

static int32_t call_ledger_open(struct world *world)
{
    char path[96];
    snprintf(path, sizeof path, "%s/other", world->folder);
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = path;
    return cfoil_ledger_open(world->context, &options, &world->made_ledger);
}

static int32_t call_entry_json(struct world *world)
{
    return cfoil_ledger_entry_json(world->ledger, 1, text, sizeof text, NULL);
}

static int32_t call_case_explain(struct world *world)
{
    static char json[65536]; /* made when nothing fails: the first run is such a one */
    if (json[0] == '\0') {
        int32_t result = cfoil_case_json(world->doubt, json, sizeof json, NULL);
        if (result != CFOIL_OK)
            return result;
    }
    return cfoil_case_explain(world->context, json, text, sizeof text, NULL);
}

static int32_t call_matrix(struct world *world)
{
    return cfoil_matrix_json(world->context, "EUR", text, sizeof text, NULL);
}

#define DAMAGED                                                                                                        \
    "{\"schema\":\"counterfoil.damaged/"                                                                               \
    "1\",\"currency\":\"EUR\",\"value_minor\":5000,\"conditions\":[\"part_missing\"],"                                 \
    "\"pieces\":[{\"area_mm2\":6200,\"bound_mm2\":50}],\"defects\":[{\"defect\":\"hole\",\"area_mm2\":9}]}"

static int32_t call_damaged_json(struct world *world)
{
    return cfoil_damaged_json(world->context, DAMAGED, text, sizeof text, NULL);
}

static int32_t call_damaged_text(struct world *world)
{
    return cfoil_damaged_text(world->context, DAMAGED, text, sizeof text, NULL);
}

static int32_t call_damaged_grid(struct world *world)
{
    return cfoil_damaged_grid(world->context, "EUR", 5000, NULL, 5, NULL, text, sizeof text, NULL);
}

/* A case that has not ended is not in the ledger: the call must say so, or say that there is no memory. */
static int32_t call_ledger_case(struct world *world)
{
    int32_t result = cfoil_ledger_case_json(world->ledger, "no such case", text, sizeof text, NULL);
    return result == CFOIL_E_MISSING_ENTRY ? CFOIL_OK : result;
}

static int32_t call_verify(struct world *world)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    int32_t result = cfoil_ledger_verify(world->ledger, &check);
    if (result == CFOIL_OK)
        assert_int_equal(check.intact, 1);
    return result;
}

static int32_t call_report_json(struct world *world)
{
    return cfoil_report_write(world->ledger, NULL, text, sizeof text, NULL);
}

static int32_t call_report_text(struct world *world)
{
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    options.format = CFOIL_FORMAT_TEXT;
    return cfoil_report_write(world->ledger, &options, text, sizeof text, NULL);
}

static int32_t call_shutdown(struct world *world)
{
    return cfoil_context_shutdown(world->context);
}

static int32_t call_error_read(struct world *world)
{
    cfoil_error_info info = CFOIL_ERROR_INFO_INIT;
    return cfoil_error_read(world->context, &info);
}

static int32_t call_note(struct world *world)
{
    int32_t stacked = cfoil_note_stack(world->lane, 1);
    int32_t returned = cfoil_note_return(world->lane, 1);
    int32_t held = cfoil_note_hold(world->lane, 1, 1000);
    bool none = stacked == CFOIL_E_STATE_NO_NOTE && returned == CFOIL_E_STATE_NO_NOTE && held == CFOIL_E_STATE_NO_NOTE;
    return none ? CFOIL_OK : stacked;
}

static const struct {
    const char *name;
    int32_t (*call)(struct world *world);
    long theirs; /* blocks that a library of others loses when it is refused one */
} calls[] = {
    {"cfoil_context_open", call_context_open, 0},
    {"cfoil_context_shutdown", call_shutdown, 0},
    {"cfoil_error_read", call_error_read, 0},
    {"cfoil_pack_directory_add", call_pack_directory_add, 0},
    {"cfoil_pack_check", call_pack_check, 0},
    {"cfoil_catalogue_json", call_catalogue, 0},
    /* libusb_init() of libusb 1.0.26, for its list of devices */
    {"cfoil_devices_json", call_devices, 1},
    {"cfoil_message", call_message, 0},
    {"cfoil_language_check", call_language_check, 0},
    {"cfoil_serial_check", call_serial_check, 0},
    {"cfoil_adapter_register", call_adapter_register, 0},
    {"cfoil_adapter_describe", call_adapter_describe, 0},
    {"cfoil_adapter_load", call_adapter_load, 0},
    {"cfoil_lane_open", call_lane_open, 0},
    {"cfoil_lane_poll", call_lane_wait, 0},
    {"cfoil_lane_wait_handle", call_lane_wait_handle, 0},
    {"cfoil_lane_accept", call_lane_accept, 0},
    {"cfoil_note_stack, _return, _hold", call_note, 0},
    {"cfoil_event_json", call_event_json, 0},
    {"cfoil_case_open", call_case_open, 0},
    {"cfoil_case_presentation_add", call_presentation_add, 0},
    {"cfoil_case_step", call_step, 0},
    {"cfoil_case_answer", call_answer, 0},
    {"cfoil_case_serial_set", call_serial_set, 0},
    {"cfoil_case_json", call_case_json, 0},
    {"cfoil_case_explain", call_case_explain, 0},
    {"cfoil_matrix_json", call_matrix, 0},
    {"cfoil_damaged_json", call_damaged_json, 0},
    {"cfoil_damaged_text", call_damaged_text, 0},
    {"cfoil_damaged_grid", call_damaged_grid, 0},
    {"cfoil_ledger_case_json", call_ledger_case, 0},
    {"cfoil_case_picture", call_case_picture, 0},
    {"cfoil_case_dispose", call_dispose, 0},
    {"cfoil_ledger_open", call_ledger_open, 0},
    {"cfoil_ledger_entry_json", call_entry_json, 0},
    {"cfoil_ledger_verify", call_verify, 0},
    {"cfoil_report_write as JSON", call_report_json, 0},
    {"cfoil_report_write as text", call_report_text, 0},
};

/* One call with its n-th allocation refused. False when the call makes fewer than n. */
static bool refused_once(int32_t (*call)(struct world *world), const char *name, long n, bool for_ever)
{
    struct world world;
    world_open(&world);
    heap_fail_arm(n, for_ever);
    int32_t result = call(&world);
    bool refused = heap_fail_disarm();
    /* A lock or thread that the system does not give may be for want of memory, too. */
    bool named = result == CFOIL_OK || result == CFOIL_E_MEMORY || (result & 0xFF) == CFOIL_CLASS_SYSTEM;
    if (!named || (!refused && result != CFOIL_OK))
        print_error("%s, allocation %ld%s: result %#x\n", name, n, for_ever ? " and after" : "", (unsigned)result);
    assert_true(named);
    if (!refused)
        assert_int_equal(result, CFOIL_OK);
    if (result != CFOIL_OK) {
        int32_t again = call(&world);
        if (again != CFOIL_OK)
            print_error("%s, again after allocation %ld failed: result %#x\n", name, n, (unsigned)again);
        assert_int_equal(again, CFOIL_OK);
    }
    world_close(&world);
    return refused;
}

/* Each of the first 150; further on, where loaders repeat themselves thousands of times, ever larger steps. */
static long allocation_next(long n)
{
    return n < 150 ? n + 1 : n + n / 12;
}

static void every_call_survives_every_refused_allocation(void **state)
{
    (void)state;
    long total = 0;
    loader_warm_up();
    for (size_t i = 0; i < sizeof calls / sizeof calls[0]; i++) {
        for (int for_ever = 0; for_ever < 2; for_ever++) {
            refused_once(calls[i].call, calls[i].name, 1000000, false); /* lets every library make its caches */
            long before = heap_blocks();
            long n = 1;
            while (refused_once(calls[i].call, calls[i].name, n, for_ever != 0)) {
                n = allocation_next(n);
                total++;
            }
            long lost = heap_blocks() - before;
            if (lost < 0 || lost > calls[i].theirs)
                print_error("%s: %ld blocks leaked\n", calls[i].name, lost);
            assert_in_range(lost, 0, calls[i].theirs);
        }
    }
    print_message("%ld refused allocations\n", total);
    assert_true(total > 1000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_call_survives_every_refused_allocation)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
