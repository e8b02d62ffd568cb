/*
 * Lanes whose adapters speak in words or in modem-control lines: does each block and each change arrive as it was
 * given, is a restart of the controller told, and does a trace hold the adapter's side of it?
 */
#if defined(__linux__)
#define _GNU_SOURCE /* mkdtemp */
#endif
#include "unit/lane/lane_test.h"
#include "unit/transport/controller.h"

#include "lane/registry.h"
#include "transport/trace.h"

/* ---- An adapter that tells each piece it gets, and answers it ---- */

struct teller {
    const cfoil_adapter_host *host;
    bool greedy; /* sends too much */
};

static void teller_send(const struct teller *teller, const uint8_t *bytes, uint32_t length)
{
    teller->host->send(teller->host->user, bytes, length);
}

static int32_t teller_open(void *state, const cfoil_adapter_start *start)
{
    struct teller *teller = state;
    teller->host = start->host;
    for (uint32_t i = 0; i < start->setting_count; i++) {
        if (strcmp(start->settings[i].key, "greedy") != 0) {
            snprintf(start->error, start->error_capacity, "There is no setting %s.", start->settings[i].key);
            return CFOIL_E_ARGUMENT_SETTING;
        }
        teller->greedy = true;
    }
    teller->host->state(teller->host->user, CFOIL_LANE_ACCEPTING, CFOIL_OK, "Ready.");
    return CFOIL_OK;
}

static void teller_tell(const struct teller *teller, const cfoil_adapter_input *input)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_DEVICE;
    event.condition = CFOIL_CONDITION_UNKNOWN_CODE;
    event.raw_length = input->length;
    memcpy(event.raw, input->bytes, input->length);
    snprintf(event.text, sizeof event.text, "Told.");
    teller->host->event(teller->host->user, &event);
}

static uint64_t words_step(void *state, const cfoil_adapter_input *input)
{
    static const uint8_t acknowledge[] = {0x00, 0x00};
    static const uint8_t poll_block[] = {0x33, 0x01, 0x33, 0x00};
    static const uint8_t reset[] = {0x00, 0x80};
    const struct teller *teller = state;
    if (input->length == 0)
        return UINT64_MAX;
    teller_tell(teller, input);
    if (teller->greedy) {
        teller_send(teller, acknowledge, 1); /* half a word */
        for (int i = 0; i < 70; i++)
            teller_send(teller, acknowledge, 2);
        return UINT64_MAX;
    }
    teller_send(teller, acknowledge, 2);
    teller_send(teller, poll_block, 4);
    teller_send(teller, reset, 2);
    return UINT64_MAX;
}

static uint64_t lines_step(void *state, const cfoil_adapter_input *input)
{
    const struct teller *teller = state;
    if (input->length > 0)
        teller_tell(teller, input);
    for (uint32_t i = 0; i < input->length; i++) {
        uint8_t output = (uint8_t)(input->bytes[i] << 4);
        teller_send(teller, &output, 1);
    }
    return UINT64_MAX;
}

static int32_t teller_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    static const uint8_t inhibit[] = {0x34, 0x01, 0x34, 0x00};
    const struct teller *teller = state;
    (void)argument;
    (void)now_us;
    if (command == CFOIL_COMMAND_QUIT)
        teller_send(teller, inhibit, 4);
    return CFOIL_OK;
}

static const cfoil_adapter words_adapter = {
    .struct_size = sizeof(cfoil_adapter),
    .api_version = CFOIL_ADAPTER_API,
    .id = "words",
    .name = "Words for tests",
    .maturity = CFOIL_MATURITY_EXPERIMENTAL,
    .capabilities = CFOIL_ADAPTER_WORDS,
    .frame_max = 72,
    .state_size = sizeof(struct teller),
    .line = {9600, 8, 1, CFOIL_PARITY_NONE},
    .answer_max_ms = 1000,
    .open = teller_open,
    .step = words_step,
    .command = teller_command,
};

static cfoil_adapter lines_adapter_make(void)
{
    cfoil_adapter adapter = words_adapter;
    adapter.id = "lines";
    adapter.capabilities = CFOIL_ADAPTER_LINES;
    adapter.frame_max = 4;
    adapter.step = lines_step;
    return adapter;
}

/* ---- The tests ---- */

static const uint8_t answer[] = {0x82, 0x00, 0x82, 0x01};
static const uint8_t poll_block[] = {0x33, 0x01, 0x33, 0x00};
static const uint8_t reset[] = {0x00, 0x80};
static const uint8_t inhibit[] = {0x34, 0x01, 0x34, 0x00};

static void words_prepare(struct bench *bench)
{
    bench_prepare(bench);
    bench->setup.adapter = &words_adapter;
}

static void words_begin(struct bench *bench)
{
    bench_start(bench);
    state_expect(bench->lane, CFOIL_LANE_OPENING);
    controller_begin(&bench->device, 1);
    state_expect(bench->lane, CFOIL_LANE_ACCEPTING);
}

/* One block in; what the adapter sends in one call goes out as the blocks that it was, without the ACK. */
static void block_exchange(struct bench *bench, uint8_t number)
{
    controller_send(&bench->device, PACKET_BLOCK, number, answer, sizeof answer);
    cfoil_event event = event_expect(bench->lane, CFOIL_KIND_DEVICE);
    assert_int_equal(event.raw_length, sizeof answer);
    assert_memory_equal(event.raw, answer, sizeof answer);
    uint8_t first = (uint8_t)(2 * number - 1);
    bool acknowledged = false;
    bool sent = false;
    while (!acknowledged || !sent) { /* in either order */
        struct packet packet = controller_hear(&bench->device);
        acknowledged = acknowledged || (packet.kind == PACKET_ACKNOWLEDGE && packet.payload[0] == number);
        if (packet.kind == PACKET_SEND) {
            assert_int_equal(packet.number, first);
            assert_int_equal(packet.length, sizeof poll_block);
            assert_memory_equal(packet.payload, poll_block, sizeof poll_block);
            sent = true;
        }
    }
    controller_acknowledge(&bench->device, first);
    controller_expect(&bench->device, PACKET_SEND, (uint8_t)(first + 1), reset, sizeof reset);
    controller_acknowledge(&bench->device, (uint8_t)(first + 1));
}

static void test_words(void **state)
{
    (void)state;
    struct bench bench;
    words_prepare(&bench);
    words_begin(&bench);
    for (uint8_t number = 1; number <= 5; number++)
        block_exchange(&bench, number);
    nothing_expect(bench.lane);
    bench_end(&bench);
}

static void stop(void *user)
{
    lane_stop(user);
}

/* The last word leaves although the one before it is not acknowledged yet. */
static void test_words_last(void **state)
{
    (void)state;
    struct bench bench;
    words_prepare(&bench);
    words_begin(&bench);
    block_exchange(&bench, 1);
    struct os_thread *thread = os_thread_start(&memory_heap, "stop", stop, bench.lane);
    assert_non_null(thread);
    controller_expect(&bench.device, PACKET_SEND, 3, inhibit, sizeof inhibit);
    controller_acknowledge(&bench.device, 3);
    os_thread_join(&memory_heap, thread);
    bench_end(&bench);
}

/* A controller that began anew is a port that was lost: the adapter begins anew as well. */
static void test_controller_restarts(void **state)
{
    (void)state;
    struct bench bench;
    words_prepare(&bench);
    words_begin(&bench);
    block_exchange(&bench, 1);
    controller_hello(&bench.device, 2);
    cfoil_event lost = state_expect(bench.lane, CFOIL_LANE_LOST);
    assert_int_equal(lost.result, CFOIL_E_PORT_GONE);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    lane_error_read(bench.lane, &error);
    assert_non_null(strstr(error.text, "restarted"));
    loopback_drop(&bench.device);
    controller_begin(&bench.device, 2);
    state_expect(bench.lane, CFOIL_LANE_ACCEPTING);
    /* It says so once more: no reason to begin again. */
    const uint8_t fault = 3;
    controller_send(&bench.device, PACKET_FAULT, 1, &fault, 1);
    controller_expect_acknowledge(&bench.device, 1);
    controller_send(&bench.device, PACKET_BLOCK, 2, answer, sizeof answer);
    event_expect(bench.lane, CFOIL_KIND_DEVICE);
    bench_end(&bench);
}

static void test_no_controller(void **state)
{
    (void)state;
    struct bench bench;
    words_prepare(&bench);
    bench_start(&bench);
    state_expect(bench.lane, CFOIL_LANE_OPENING);
    loopback_accept(&bench.device);
    uint64_t begin_us = os_monotonic_us();
    bench_end(&bench); /* closing does not wait for it */
    assert_true(os_monotonic_us() - begin_us < 1000000);
}

static void test_too_many_blocks(void **state)
{
    (void)state;
    struct bench bench;
    words_prepare(&bench);
    bench.options.settings = "greedy=1;carrier=framed";
    words_begin(&bench);
    controller_send(&bench.device, PACKET_BLOCK, 1, answer, sizeof answer);
    event_expect(bench.lane, CFOIL_KIND_DEVICE);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    EVENTUALLY((lane_error_read(bench.lane, &error), strstr(error.text, "more than its table") != NULL));
    controller_expect_acknowledge(&bench.device, 1); /* only ACKs were sent: none travels */
    bench_end(&bench);
}

static void refused(struct bench *bench, const char *settings)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    bench->options.settings = settings;
    assert_int_equal(lane_create(&bench->setup, &bench->lane, &error), CFOIL_E_ARGUMENT_SETTING);
    assert_null(bench->lane);
    assert_true(error.text[0] != '\0');
}

static void test_carrier_setting(void **state)
{
    (void)state;
    struct bench bench;
    words_prepare(&bench);
    refused(&bench, "carrier=parity"); /* the port is TCP */
    refused(&bench, "carrier=other");
    refused(&bench, "carrier=framed;other=1"); /* this one the adapter refuses */
    bench.setup.adapter = &toy_adapter;
    refused(&bench, "carrier=framed");
    bench_end(&bench);
}

/* ---- Lines ---- */

static void test_lines(void **state)
{
    (void)state;
    const cfoil_adapter lines_adapter = lines_adapter_make();
    struct bench bench;
    bench_prepare(&bench);
    bench.setup.adapter = &lines_adapter;
    bench_start(&bench);
    state_expect(bench.lane, CFOIL_LANE_OPENING);
    loopback_accept(&bench.device);
    state_expect(bench.lane, CFOIL_LANE_ACCEPTING);
    uint64_t before_us = 0;
    for (uint8_t lines = 0; lines < 4; lines++) {
        loopback_send(&bench.device, &lines, 1);
        cfoil_event event = event_expect(bench.lane, CFOIL_KIND_DEVICE);
        assert_int_equal(event.raw_length, 1);
        assert_int_equal(event.raw[0], lines);
        assert_true(event.monotonic_us >= before_us);
        before_us = event.monotonic_us;
        uint8_t output = (uint8_t)(lines << 4);
        loopback_expect(&bench.device, &output, 1);
    }
    bench_end(&bench);
}

/* ---- Traces ---- */

static void header_expect(const char *path, const char *settings)
{
    struct trace_reader *reader;
    assert_int_equal(trace_reader_open(&memory_heap, path, &reader, NULL), CFOIL_OK);
    assert_string_equal(trace_reader_header(reader)->settings, settings);
    trace_reader_close(reader);
}

static uint32_t told;

static void told_count(void *user, const cfoil_adapter_event *event, uint64_t now_us)
{
    (void)user;
    (void)now_us;
    assert_int_equal(event->raw_length, sizeof answer);
    told++;
}

/* A trace by hand may name a carrier: nobody asks for it. */
static void by_hand_play(void)
{
    static const char text[] = "counterfoil-trace 1\nadapter words\nsettings carrier=parity\naccept hold\n"
                               "origin synthetic\n1000 from 82 00 82 01\n1000 to 00 00 33 01 33 00 00 80\n";
    struct trace_reader *reader;
    const struct trace_listener listener = {.event = told_count};
    assert_int_equal(trace_reader_open_text(&memory_heap, text, sizeof text - 1, &reader, NULL), CFOIL_OK);
    told = 0;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = trace_replay(&memory_heap, &words_adapter, reader, TRACE_WHOLE, 0, &listener, &error);
    if (result != CFOIL_OK)
        print_message("%s\n", error.text);
    assert_int_equal(result, CFOIL_OK);
    assert_int_equal(told, 1);
}

static void replay_refused(struct bench *bench, const char *port)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    words_prepare(bench);
    bench->options.port = port;
    bench->options.settings = "greedy=1";
    assert_int_equal(lane_create(&bench->setup, &bench->lane, &error), CFOIL_E_ARGUMENT_SETTING);
    bench->options.settings = "carrier=pigeon";
    assert_int_equal(lane_create(&bench->setup, &bench->lane, &error), CFOIL_E_ARGUMENT_SETTING);
    bench_end(bench);
}

/* What was carried in packets is replayed without any carrier, whatever the host says about one. */
static void test_record_and_replay(void **state)
{
    (void)state;
    char folder[] = "/tmp/cfoil-words-XXXXXX";
    char path[64];
    char port[80];
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/words.trace", folder);
    snprintf(port, sizeof port, "trace:%s", path);
    struct bench bench;
    words_prepare(&bench);
    bench.options.record_path = path;
    bench.options.settings = "carrier=framed";
    words_begin(&bench);
    for (uint8_t number = 1; number <= 3; number++)
        block_exchange(&bench, number);
    bench_end(&bench);
    header_expect(path, "");
    for (int with = 0; with < 2; with++) {
        words_prepare(&bench);
        bench.options.port = port;
        bench.options.settings = with == 1 ? "carrier=parity" : NULL;
        bench_start(&bench);
        state_expect(bench.lane, CFOIL_LANE_OPENING);
        state_expect(bench.lane, CFOIL_LANE_ACCEPTING);
        for (int i = 0; i < 3; i++)
            assert_memory_equal(event_expect(bench.lane, CFOIL_KIND_DEVICE).raw, answer, sizeof answer);
        assert_int_equal(state_expect(bench.lane, CFOIL_LANE_ENDED).result, CFOIL_E_PORT_ENDED);
        bench_end(&bench);
    }
    replay_refused(&bench, port);
    by_hand_play();
    unlink(path);
    rmdir(folder);
}

/* ---- The tables ---- */

static void test_tables(void **state)
{
    (void)state;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_adapter adapter = words_adapter;
    assert_int_equal(adapter_check(&adapter, &error), CFOIL_OK);
    adapter.frame_max = 80;
    assert_int_equal(adapter_check(&adapter, &error), CFOIL_OK);
    adapter.frame_max = 82;
    assert_int_equal(adapter_check(&adapter, &error), CFOIL_E_ARGUMENT_ADAPTER);
    adapter.frame_max = 71;
    assert_int_equal(adapter_check(&adapter, &error), CFOIL_E_ARGUMENT_ADAPTER);
    adapter.capabilities = CFOIL_ADAPTER_LINES;
    assert_int_equal(adapter_check(&adapter, &error), CFOIL_OK);
    adapter.capabilities = CFOIL_ADAPTER_LINES | CFOIL_ADAPTER_WORDS;
    assert_int_equal(adapter_check(&adapter, &error), CFOIL_E_ARGUMENT_ADAPTER);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_words),
        cmocka_unit_test(test_words_last),
        cmocka_unit_test(test_controller_restarts),
        cmocka_unit_test(test_no_controller),
        cmocka_unit_test(test_too_many_blocks),
        cmocka_unit_test(test_carrier_setting),
        cmocka_unit_test(test_lines),
        cmocka_unit_test(test_record_and_replay),
        cmocka_unit_test(test_tables),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
