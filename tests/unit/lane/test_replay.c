/*
 * Is what a lane records replayed bit for bit by another, on the trace's own clock and at the pace of the host?
 */
#if defined(__linux__)
#define _GNU_SOURCE /* mkdtemp */
#endif
#include "unit/lane/lane_test.h"

#include <sys/stat.h>

#define EVENTS_MAX 64

struct recording {
    char folder[32];
    char path[64];
    char again[64];
    char port[80];
    uint32_t count;
    cfoil_event events[EVENTS_MAX];
};

static void recording_prepare(struct recording *recording)
{
    memset(recording, 0, sizeof *recording);
    strcpy(recording->folder, "/tmp/cfoil-replay-XXXXXX");
    assert_non_null(mkdtemp(recording->folder));
    snprintf(recording->path, sizeof recording->path, "%s/one.trace", recording->folder);
    snprintf(recording->again, sizeof recording->again, "%s/two.trace", recording->folder);
    snprintf(recording->port, sizeof recording->port, "trace:%s", recording->path);
}

static void recording_remove(struct recording *recording)
{
    unlink(recording->path);
    unlink(recording->again);
    rmdir(recording->folder);
}

static cfoil_event keep(struct recording *recording, struct lane *lane)
{
    cfoil_event event = event_next(lane);
    assert_true(recording->count < EVENTS_MAX);
    recording->events[recording->count++] = event;
    return event;
}

/* A day in the life: identity, a held note, a lost line, the late word, a change of accept, the close. */
static void record(struct recording *recording)
{
    struct bench bench;
    bench_prepare(&bench);
    bench.options.record_path = recording->path;
    bench.options.settings = "poll_ms=20";
    bench_start(&bench);
    keep(recording, bench.lane);
    loopback_accept(&bench.device);
    device_hear(&bench, 'H', CFOIL_ACCEPT_HOLD);
    device_hear(&bench, 'P', 0);
    keep(recording, bench.lane);
    device_tell(&bench, 'I', 0);
    keep(recording, bench.lane);
    device_tell(&bench, 'M', 9);
    keep(recording, bench.lane);
    device_tell(&bench, 'N', 5);
    cfoil_event held = keep(recording, bench.lane);
    assert_int_equal(lane_note_hold(bench.lane, held.presentation, 40), CFOIL_OK);
    assert_int_equal(lane_note_stack(bench.lane, held.presentation), CFOIL_OK);
    loopback_drop(&bench.device);
    assert_int_equal(keep(recording, bench.lane).lane_state, CFOIL_LANE_LOST);
    assert_int_equal(keep(recording, bench.lane).condition, CFOIL_CONDITION_OUTCOME_UNKNOWN);
    loopback_accept(&bench.device);
    assert_int_equal(lane_accept(bench.lane, CFOIL_ACCEPT_ALL), CFOIL_OK);
    device_tell(&bench, 'I', 0);
    keep(recording, bench.lane);
    keep(recording, bench.lane);
    device_tell(&bench, 'W', 5);
    cfoil_event stacked = keep(recording, bench.lane);
    while (stacked.kind != CFOIL_KIND_STACKED)
        stacked = keep(recording, bench.lane);
    assert_int_equal(stacked.presentation, held.presentation);
    bench_end(&bench);
}

static void same_event(cfoil_event expected, cfoil_event found)
{
    expected.time_utc_ms = 0; /* the wall clock is not in a trace */
    found.time_utc_ms = 0;
    if (found.kind == CFOIL_KIND_LANE_STATE && found.lane_state == CFOIL_LANE_OPENING)
        found.monotonic_us = expected.monotonic_us; /* told before the trace's first input */
    assert_memory_equal(&expected, &found, sizeof found);
}

static void files_equal(const char *one, const char *other)
{
    FILE *first = fopen(one, "rb");
    FILE *second = fopen(other, "rb");
    assert_non_null(first);
    assert_non_null(second);
    int byte;
    do {
        byte = fgetc(first);
        assert_int_equal(byte, fgetc(second));
    } while (byte != EOF);
    fclose(first);
    fclose(second);
}

static void bench_replay(struct bench *bench, struct recording *recording)
{
    bench_prepare(bench);
    bench->options.port = recording->port;
}

static void test_record_and_replay(void **state)
{
    (void)state;
    struct recording recording;
    struct bench bench;
    recording_prepare(&recording);
    record(&recording);
    bench_replay(&bench, &recording);
    bench.options.record_path = recording.again;
    bench_start(&bench);
    for (uint32_t i = 0; i < recording.count; i++)
        same_event(recording.events[i], event_next(bench.lane));
    cfoil_event ended = state_expect(bench.lane, CFOIL_LANE_ENDED);
    assert_int_equal(ended.result, CFOIL_E_PORT_ENDED);
    nothing_expect(bench.lane);
    bench_end(&bench);
    files_equal(recording.path, recording.again);
    recording_remove(&recording);
}

static void trace_write_text(const struct recording *recording, const char *text)
{
    FILE *file = fopen(recording->path, "wb");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

#define HEADER "counterfoil-trace 1\nadapter toy\naccept hold\norigin synthetic\n"
#define READY  "0 to 55 48 01\n10 from aa 49 00\n10 to 55 4b 00\n"

/* Fewer places than events: nothing is dropped, and closing does not wait for the host. */
static void test_pace_of_the_host(void **state)
{
    (void)state;
    struct recording recording;
    struct bench bench;
    recording_prepare(&recording);
    trace_write_text(&recording, HEADER READY "20 from aa 42 c8\n30 from aa 42 c8\n");
    bench_replay(&bench, &recording);
    bench.options.queue_length = 8;
    bench_start(&bench);
    for (uint64_t sequence = 1; sequence <= 403; sequence++)
        assert_int_equal(event_next(bench.lane).sequence, sequence);
    state_expect(bench.lane, CFOIL_LANE_ENDED);
    bench_end(&bench);
    bench_replay(&bench, &recording);
    bench.options.queue_length = 8;
    bench_start(&bench);
    state_expect(bench.lane, CFOIL_LANE_OPENING);
    bench_end(&bench); /* the lane's thread waits for room now, or will */
    recording_remove(&recording);
}

static void test_commands_come_from_the_trace(void **state)
{
    (void)state;
    struct recording recording;
    struct bench bench;
    recording_prepare(&recording);
    trace_write_text(&recording, HEADER READY "20 from aa 4e 05\n30 do stack\n30 to 55 53 00\n");
    bench_replay(&bench, &recording);
    bench_start(&bench);
    cfoil_event event;
    do {
        event = event_next(bench.lane);
    } while (event.kind != CFOIL_KIND_HELD);
    assert_int_equal(event.monotonic_us, 20);
    assert_int_equal(lane_note_stack(bench.lane, event.presentation), CFOIL_E_STATE_REPLAY);
    assert_int_equal(lane_note_return(bench.lane, event.presentation), CFOIL_E_STATE_REPLAY);
    assert_int_equal(lane_note_hold(bench.lane, event.presentation, 1), CFOIL_E_STATE_REPLAY);
    assert_int_equal(lane_accept(bench.lane, CFOIL_ACCEPT_NONE), CFOIL_E_STATE_REPLAY);
    cfoil_event ended = state_expect(bench.lane, CFOIL_LANE_ENDED);
    assert_int_equal(ended.result, CFOIL_E_PORT_ENDED);
    bench_end(&bench);
    recording_remove(&recording);
}

static void ended_expect(const char *text, int32_t result, const char *told, int32_t line)
{
    struct recording recording;
    struct bench bench;
    recording_prepare(&recording);
    trace_write_text(&recording, text);
    bench_replay(&bench, &recording);
    bench_start(&bench);
    cfoil_event event;
    do {
        event = event_next(bench.lane);
    } while (event.lane_state != CFOIL_LANE_ENDED);
    assert_int_equal(event.result, result);
    assert_non_null(strstr(event.text, told));
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    lane_error_read(bench.lane, &error);
    assert_int_equal(error.line, line);
    nothing_expect(bench.lane);
    bench_end(&bench);
    recording_remove(&recording);
}

static void test_departures(void **state)
{
    (void)state;
    ended_expect(HEADER READY "20 from aa 4e 05\n30 do stack\n30 to 55 52 00\n", CFOIL_E_DATA_TRACE, "line 10", 10);
    ended_expect(HEADER READY "20 dance\n", CFOIL_E_DATA_TRACE, "line 8", 8);
    ended_expect(HEADER READY "20 from aa 45 00\n30 tick\n", CFOIL_E_DEVICE_WRONG, "Another kind", 0);
}

static void test_traces_that_do_not_fit(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        const char *settings;
        int32_t result;
    } cases[] = {
        {"nonsense\n", NULL, CFOIL_E_DATA_TRACE},
        {"counterfoil-trace 1\nadapter other\naccept hold\norigin synthetic\n", NULL, CFOIL_E_DATA_TRACE},
        {HEADER, "poll_ms=1", CFOIL_E_ARGUMENT_SETTING},
        {"counterfoil-trace 1\nadapter toy\nsettings a\naccept hold\norigin synthetic\n", NULL,
         CFOIL_E_ARGUMENT_SETTING},
        {"counterfoil-trace 1\nadapter toy\nsettings a=1\naccept hold\norigin synthetic\n", NULL,
         CFOIL_E_ARGUMENT_SETTING},
    };
    struct recording recording;
    struct bench bench;
    recording_prepare(&recording);
    bench_replay(&bench, &recording);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        trace_write_text(&recording, cases[i].text);
        bench.options.settings = cases[i].settings;
        assert_int_equal(lane_create(&bench.setup, &bench.lane, &error), cases[i].result);
        assert_null(bench.lane);
    }
    trace_write_text(&recording, "counterfoil-trace 1\nadapter toy\nsettings poll_ms=1\naccept all\norigin captured\n");
    bench.options.settings = "poll_ms=1"; /* the same: no harm */
    bench_start(&bench);
    bench_end(&bench);
    recording_remove(&recording);
}

static void test_existing_file_is_not_overwritten(void **state)
{
    (void)state;
    struct recording recording;
    struct bench bench;
    recording_prepare(&recording);
    trace_write_text(&recording, "mine\n");
    bench_prepare(&bench);
    bench.options.record_path = recording.path;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(lane_create(&bench.setup, &bench.lane, &error), CFOIL_E_DATA_FILE);
    struct stat status;
    assert_int_equal(stat(recording.path, &status), 0);
    assert_int_equal(status.st_size, 5);
    bench_end(&bench);
    recording_remove(&recording);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_record_and_replay),
        cmocka_unit_test(test_pace_of_the_host),
        cmocka_unit_test(test_commands_come_from_the_trace),
        cmocka_unit_test(test_departures),
        cmocka_unit_test(test_traces_that_do_not_fit),
        cmocka_unit_test(test_existing_file_is_not_overwritten),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
