/*
 * The list of ports: its arguments, its form, and that listening is only listening.
 */
#include "test.h"

#include "../transport/loopback.h"

#include <cjson/cJSON.h>
#include <pthread.h>

static cfoil_context *context;
static char text[262144];

static int begin(void **state)
{
    (void)state;
    return cfoil_context_open(NULL, &context);
}

static int end(void **state)
{
    (void)state;
    cfoil_context_close(context);
    return 0;
}

static cJSON *list(const cfoil_devices_options *options)
{
    size_t needed = 0;
    assert_int_equal(cfoil_devices_json(context, options, text, sizeof text, &needed), CFOIL_OK);
    assert_int_equal(strlen(text) + 1, needed);
    cJSON *document = cJSON_Parse(text);
    assert_non_null(document);
    assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(document, "schema")), "counterfoil.devices/1");
    assert_true(cJSON_IsArray(cJSON_GetObjectItem(document, "ports")));
    return document;
}

static void arguments_are_checked(void **state)
{
    (void)state;
    cfoil_devices_options options = CFOIL_DEVICES_OPTIONS_INIT;
    size_t needed = 0;
    assert_int_equal(cfoil_devices_json(NULL, NULL, text, sizeof text, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_devices_json(context, NULL, NULL, 0, &needed), CFOIL_E_ARGUMENT_BUFFER);
    assert_true(needed > 40);
    options.wait_ms = 10001;
    assert_int_equal(cfoil_devices_json(context, &options, text, sizeof text, NULL), CFOIL_E_ARGUMENT_RANGE);
    options.wait_ms = 0;
    options.listen_port = "COM1";
    assert_int_equal(cfoil_devices_json(context, &options, text, sizeof text, NULL), CFOIL_E_ARGUMENT_PORT);
    options.listen_port = NULL;
    options.probe_port = "usb:1";
    assert_int_equal(cfoil_devices_json(context, &options, text, sizeof text, NULL), CFOIL_E_ARGUMENT_PORT);
    options.struct_size = 3;
    assert_int_equal(cfoil_devices_json(context, &options, text, sizeof text, NULL), CFOIL_E_ARGUMENT_STRUCT_SIZE);
    assert_int_equal(cfoil_context_shutdown(context), CFOIL_OK);
    assert_int_equal(cfoil_devices_json(context, NULL, text, sizeof text, NULL), CFOIL_E_STATE_SHUTDOWN);
}

/* Every port of this computer has a name that a lane takes, and adapters that could use it. */
static void ports_are_named(void **state)
{
    (void)state;
    cJSON *document = list(NULL);
    assert_null(cJSON_GetObjectItem(document, "listened"));
    assert_null(cJSON_GetObjectItem(document, "probed"));
    const cJSON *port;
    cJSON_ArrayForEach(port, cJSON_GetObjectItem(document, "ports"))
    {
        cfoil_lane *lane;
        cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
        options.adapter = "none";
        options.port = cJSON_GetStringValue(cJSON_GetObjectItem(port, "port"));
        assert_non_null(options.port);
        assert_int_equal(cfoil_lane_open(context, &options, &lane), CFOIL_E_MISSING_ADAPTER);
        assert_true(cJSON_IsArray(cJSON_GetObjectItem(port, "adapters")));
    }
    cJSON_Delete(document);
}

/* Says something as often as somebody connects; what is heard in return is counted. */
struct speaker {
    struct loopback loopback;
    const uint8_t *bytes;
    size_t length;
    long heard;
};

static void *speaker_run(void *user)
{
    struct speaker *speaker = user;
    loopback_accept(&speaker->loopback);
    loopback_send(&speaker->loopback, speaker->bytes, speaker->length);
    uint8_t bytes[64];
    ssize_t count = recv(speaker->loopback.peer, bytes, sizeof bytes, 0); /* 0 once the listener has gone */
    while (count > 0) {
        speaker->heard += count;
        count = recv(speaker->loopback.peer, bytes, sizeof bytes, 0);
    }
    return NULL;
}

/* A simple poll and its answer, twice, as between a ccTalk host (address 1) and a bill validator (address 40): the bytes of
 * each message add up to 0 modulo 256 (ccTalk generic specification, part 1). */
static void listening_writes_nothing(void **state)
{
    (void)state;
    static const uint8_t talk[] = {40, 0, 1, 254, 217, 1, 0, 40, 0, 215, 40, 0, 1, 254, 217, 1, 0, 40, 0, 215};
    struct speaker speaker = {.bytes = talk, .length = sizeof talk};
    loopback_open(&speaker.loopback);
    pthread_t thread;
    assert_int_equal(pthread_create(&thread, NULL, speaker_run, &speaker), 0);
    cfoil_devices_options options = CFOIL_DEVICES_OPTIONS_INIT;
    options.listen_port = speaker.loopback.port;
    options.wait_ms = 300;
    cJSON *document = list(&options);
    pthread_join(thread, NULL);
    loopback_close(&speaker.loopback);
    assert_int_equal(speaker.heard, 0);
    const cJSON *listened = cJSON_GetObjectItem(document, "listened");
    assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(listened, "port")), options.listen_port);
    const cJSON *first = cJSON_GetArrayItem(cJSON_GetObjectItem(listened, "adapters"), 0);
    assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(first, "adapter")), "cctalk");
    assert_true(cJSON_GetNumberValue(cJSON_GetObjectItem(first, "heard")) == sizeof talk);
    assert_true(cJSON_GetNumberValue(cJSON_GetObjectItem(first, "bid")) == 80);
    cJSON_Delete(document);
}

/* Nobody is there: each adapter that could have asked says so. */
static void probing_a_silent_port(void **state)
{
    (void)state;
    cfoil_devices_options options = CFOIL_DEVICES_OPTIONS_INIT;
    options.probe_port = "tcp:127.0.0.1:9";
    options.wait_ms = 200;
    cJSON *document = list(&options);
    const cJSON *probed = cJSON_GetObjectItem(cJSON_GetObjectItem(document, "probed"), "adapters");
    assert_true(cJSON_GetArraySize(probed) >= 2);
    const cJSON *item;
    cJSON_ArrayForEach(item, probed)
    {
        assert_true(cJSON_IsFalse(cJSON_GetObjectItem(item, "answered")));
        assert_true(cJSON_GetNumberValue(cJSON_GetObjectItem(item, "result")) != CFOIL_OK);
        assert_string_not_equal(cJSON_GetStringValue(cJSON_GetObjectItem(item, "adapter")), "pulse");
    }
    cJSON_Delete(document);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(arguments_are_checked, begin, end),
        cmocka_unit_test_setup_teardown(ports_are_named, begin, end),
        cmocka_unit_test_setup_teardown(listening_writes_nothing, begin, end),
        cmocka_unit_test_setup_teardown(probing_a_silent_port, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
