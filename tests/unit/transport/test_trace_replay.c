/*
 * Does a replay give an adapter exactly what the trace holds, however it is cut, and name the first line that differs?
 */
#include "test.h"

#include "model/memory.h"
#include "transport/trace.h"
#include "unit/transport/toy.h"

#define HEADER "counterfoil-trace 1\nadapter toy\naccept hold\norigin synthetic\n"

/* What the adapter told, as text. */
struct heard {
    char text[2048];
};

static void note(struct heard *heard, const char *text, int64_t number, uint64_t now_us)
{
    size_t length = strlen(heard->text);
    snprintf(heard->text + length, sizeof heard->text - length, "%s %d @%u\n", text, (int)number, (unsigned)now_us);
}

static void on_event(void *user, const cfoil_adapter_event *event, uint64_t now_us)
{
    note(user, event->text, event->kind, now_us);
}

static void on_state(void *user, int32_t lane_state, int32_t result, const char *text, uint64_t now_us)
{
    (void)result;
    note(user, text, lane_state, now_us);
}

static void on_store(void *user, const char *device, const uint8_t *bytes, uint32_t length)
{
    note(user, device, bytes[0], length);
}

static int32_t replay(const char *text, enum trace_chunking chunking, uint64_t seed, struct heard *heard,
                      cfoil_error_info *error)
{
    struct trace_reader *reader;
    struct trace_listener listener = {heard, on_event, on_state, on_store};
    heard->text[0] = '\0';
    int32_t result = trace_reader_open_text(&memory_heap, text, strlen(text), &reader, error);
    if (result != CFOIL_OK)
        return result;
    return trace_replay(&memory_heap, &toy_adapter, reader, chunking, seed, &listener, error);
}

/* Two frames in one record, and a memory that is asked for between two sent frames. */
#define WHOLE_DAY                                                                                                      \
    HEADER "100 open hold\n"                                                                                           \
           "100 to 55 48 01\n"                                                                                         \
           "100 tick\n"                                                                                                \
           "250 from aa 49 00 aa 4e 05\n"                                                                              \
           "250 memory toy/1 2a\n"                                                                                     \
           "250 to 55 4b 2a\n"                                                                                         \
           "300 do stack\n"                                                                                            \
           "300 tick\n"                                                                                                \
           "300 to 55\n"                                                                                               \
           "300 to 53 00\n"                                                                                            \
           "400 from aa 4d 07\n"                                                                                       \
           "500 lost gone\n"                                                                                           \
           "900 open none\n"                                                                                           \
           "900 to 55 48 00\n"                                                                                         \
           "901 from aa 49 00\n"                                                                                       \
           "901 memory toy/1 none\n"                                                                                   \
           "901 to 55 4b 00\n"

static void test_same_however_cut(void **state)
{
    (void)state;
    static const char expected[] = "Looking for the device. 2 @100\n"
                                   "Ready. 4 @250\n"
                                   "Told 5. 1 @250\n"
                                   "toy/1 7 @1\n"
                                   "Told 5. 2 @400\n"
                                   "Looking for the device. 2 @900\n"
                                   "Ready. 3 @901\n";
    struct heard heard;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(replay(WHOLE_DAY, TRACE_WHOLE, 0, &heard, &error), CFOIL_OK);
    assert_string_equal(heard.text, expected);
    assert_int_equal(replay(WHOLE_DAY, TRACE_SINGLE, 0, &heard, &error), CFOIL_OK);
    assert_string_equal(heard.text, expected);
    for (uint64_t seed = 0; seed < 50; seed++) {
        assert_int_equal(replay(WHOLE_DAY, TRACE_RANDOM, seed, &heard, &error), CFOIL_OK);
        assert_string_equal(heard.text, expected);
    }
}

/* No open, no ticks, no memory: what was sent implies the steps. */
static void test_hand_written(void **state)
{
    (void)state;
    static const char text[] = "counterfoil-trace 1\n"
                               "adapter toy\n"
                               "settings poll_ms=1\n"
                               "accept all\n"
                               "origin synthetic\n"
                               "0 to 55 48 02\n"
                               "1000 to 55 50 00\n"
                               "1200 from aa 49 00\n"
                               "1200 to 55 4b 00\n"
                               "1300 do accept hold\n"
                               "1300 to 55 41 01\n"
                               "9000 to 55 50 00\n";
    struct heard heard;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(replay(text, TRACE_WHOLE, 0, &heard, &error), CFOIL_OK);
    assert_string_equal(heard.text, "Looking for the device. 2 @0\nReady. 4 @1200\nReady. 4 @1300\n");
    /* Nothing but a header is a trace too. */
    assert_int_equal(replay(HEADER, TRACE_WHOLE, 0, &heard, &error), CFOIL_OK);
    assert_string_equal(heard.text, "");
}

static void test_first_difference(void **state)
{
    (void)state;
    static const struct {
        const char *records;
        int32_t line;
        const char *told;
    } cases[] = {
        {"0 to 55 48 02\n", 5, "other bytes: 554801"},
        {"0 to 55 48 01 00\n", 5, "other bytes"},
        {"0 to 55 48\n0 tick\n", 6, "does not have: 01"},
        {"0 tick\n", 5, "does not have: 554801"},
        {"0 to 55 48 01\n5 to 00\n", 6, "did not send"},
        {"0 to 55 48 01\n5 tick\n5 to 00\n", 7, "did not send"},
        {"0 to 55 48 01\n5 from aa 49 00\n5 to 55 4b 00\n5 memory toy/1 none\n", 8, "did not ask"},
        {"0 to 55 48 01\n5 from aa 49 00\n5 memory toy/2 none\n5 to 55 4b 00\n", 7, "another device"},
        {"0 to 55 48 01\n5 from aa 49 00\n", 6, "does not have: 554b00"},
        {"0 to 55 48 01\n5 from aa 49 00\n6 lost gone\n", 7, "does not have: 554b00"},
        {"0 to 55 48 01\n1 open hold\n", 6, "open already"},
        {"0 to 55 48 01\n1 lost gone\n2 tick\n", 7, "not open"},
        {"0 to 55 48 01\n1 lost gone\n2 lost gone\n", 7, "not open"},
        {"0 to 55 48 01\n1 tock\n", 6, "after the time"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[400];
        struct heard heard;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        snprintf(text, sizeof text, HEADER "%s", cases[i].records);
        assert_int_equal(replay(text, TRACE_WHOLE, 0, &heard, &error), CFOIL_E_DATA_TRACE);
        assert_int_equal(error.line, cases[i].line);
        assert_non_null(strstr(error.text, cases[i].told));
        assert_int_equal(replay(text, TRACE_SINGLE, 0, &heard, NULL), CFOIL_E_DATA_TRACE);
    }
}

static void test_traces_of_others(void **state)
{
    (void)state;
    struct heard heard;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    static const char other[] = "counterfoil-trace 1\nadapter other\naccept hold\norigin synthetic\n";
    assert_int_equal(replay(other, TRACE_WHOLE, 0, &heard, &error), CFOIL_E_DATA_TRACE);
    static const char unknown[] =
        "counterfoil-trace 1\nadapter toy\nsettings a=1\naccept hold\norigin synthetic\n0 tick\n";
    assert_int_equal(replay(unknown, TRACE_WHOLE, 0, &heard, &error), CFOIL_E_ARGUMENT_SETTING);
    static const char malformed[] = "counterfoil-trace 1\nadapter toy\nsettings a\naccept hold\norigin synthetic\n";
    assert_int_equal(replay(malformed, TRACE_WHOLE, 0, &heard, &error), CFOIL_E_ARGUMENT_SETTING);
}

/* An adapter that answers each byte with 16: more than a player will hold. */
static uint64_t flood_step(void *state, const cfoil_adapter_input *input)
{
    struct toy *toy = state;
    static const uint8_t bytes[16];
    for (uint32_t i = 0; i < input->length; i++)
        toy->host->send(toy->host->user, bytes, sizeof bytes);
    return UINT64_MAX;
}

static void test_flood(void **state)
{
    (void)state;
    cfoil_adapter flood = toy_adapter;
    flood.step = flood_step;
    flood.close = NULL;
    size_t header = strlen(HEADER "0 to 55 48 01\n0 from");
    size_t length = header + 3 * TRACE_BYTES_MAX + 1;
    char *text = malloc(length + 1);
    assert_non_null(text);
    strcpy(text, HEADER "0 to 55 48 01\n0 from");
    for (size_t i = 0; i < TRACE_BYTES_MAX; i++)
        memcpy(text + header + 3 * i, " 00", 3);
    strcpy(text + length - 1, "\n");
    struct trace_reader *reader;
    struct trace_listener listener = {0};
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(trace_reader_open_text(&memory_heap, text, length, &reader, &error), CFOIL_OK);
    assert_int_equal(trace_replay(&memory_heap, &flood, reader, TRACE_WHOLE, 0, &listener, &error), CFOIL_E_DATA_TRACE);
    assert_non_null(strstr(error.text, "without end"));
    free(text);
}

/* A listener that wants nothing, and an adapter that asks for everything. */
static void test_deaf_listener(void **state)
{
    (void)state;
    static const char text[] = HEADER "0 to 55 48 01\n1 from aa 46 06 aa 4d 01\n";
    struct trace_reader *reader;
    struct trace_listener listener = {0};
    assert_int_equal(trace_reader_open_text(&memory_heap, text, strlen(text), &reader, NULL), CFOIL_OK);
    assert_int_equal(trace_replay(&memory_heap, &toy_adapter, reader, TRACE_WHOLE, 0, &listener, NULL), CFOIL_OK);
}

struct failing {
    int left;
};

static void *failing_allocate(void *user, size_t size)
{
    struct failing *failing = user;
    return failing->left-- > 0 ? malloc(size) : NULL;
}

static void failing_release(void *user, void *block)
{
    (void)user;
    free(block);
}

static void test_no_memory(void **state)
{
    (void)state;
    for (int count = 0; count < 2; count++) {
        struct failing failing = {count};
        struct memory memory = {&failing, failing_allocate, failing_release};
        struct trace_reader *reader;
        struct trace_listener listener = {0};
        assert_int_equal(trace_reader_open_text(&memory_heap, HEADER, strlen(HEADER), &reader, NULL), CFOIL_OK);
        assert_int_equal(trace_replay(&memory, &toy_adapter, reader, TRACE_WHOLE, 0, &listener, NULL), CFOIL_E_MEMORY);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_same_however_cut),
        cmocka_unit_test(test_hand_written),
        cmocka_unit_test(test_first_difference),
        cmocka_unit_test(test_traces_of_others),
        cmocka_unit_test(test_flood),
        cmocka_unit_test(test_deaf_listener),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
