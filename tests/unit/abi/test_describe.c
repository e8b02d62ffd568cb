/*
 * Making described devices known: arguments, faults that are told, and the adapter that comes of it.
 */
#include "test.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#define EXAMPLE SOURCE_DIR "/examples/descriptions/detector-lines.json"

static void arguments_are_checked(void **state)
{
    (void)state;
    cfoil_context *context;
    assert_int_equal(cfoil_context_open(NULL, &context), CFOIL_OK);
    assert_int_equal(cfoil_adapter_describe(NULL, EXAMPLE), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_adapter_describe(context, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_adapter_describe(context, ""), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_adapter_describe(context, "\xFF"), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_adapter_describe(context, "/nowhere.json"), CFOIL_E_DATA_FILE);
    assert_int_equal(cfoil_adapter_describe(context, SOURCE_DIR "/plugin/packs/eur.json"), CFOIL_E_DATA_SCHEMA);
    cfoil_error_info info = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(cfoil_error_read(context, &info), CFOIL_OK);
    assert_non_null(strstr(info.text, "eur.json"));
    assert_int_equal(info.line, 2);
    cfoil_context_close(context);
}

static void the_adapter_is_known_once(void **state)
{
    (void)state;
    cfoil_context *context;
    static char text[1048576];
    assert_int_equal(cfoil_context_open(NULL, &context), CFOIL_OK);
    assert_int_equal(cfoil_adapter_describe(context, EXAMPLE), CFOIL_OK);
    assert_int_equal(cfoil_adapter_describe(context, EXAMPLE), CFOIL_E_STATE_EXISTS);
    assert_int_equal(cfoil_adapter_describe(context, SOURCE_DIR "/examples/descriptions/status-bits.json"), CFOIL_OK);
    assert_int_equal(cfoil_catalogue_json(context, text, sizeof text, NULL), CFOIL_OK);
    assert_non_null(strstr(text, "\"id\":\"detector-lines\""));
    assert_non_null(strstr(text, "\"id\":\"status-bits\""));
    cfoil_context_close(context);
}

static void a_lane_uses_it_and_refuses_settings(void **state)
{
    (void)state;
    cfoil_context *context;
    cfoil_lane *lane;
    assert_int_equal(cfoil_context_open(NULL, &context), CFOIL_OK);
    assert_int_equal(cfoil_adapter_describe(context, EXAMPLE), CFOIL_OK);
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = "detector-lines";
    options.port = "tcp:127.0.0.1:9";
    assert_int_equal(cfoil_lane_open(context, &options, &lane), CFOIL_OK);
    cfoil_lane_close(lane);
    options.settings = "poll_ms=5";
    assert_int_equal(cfoil_lane_open(context, &options, &lane), CFOIL_E_ARGUMENT_SETTING);
    cfoil_context_close(context);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(arguments_are_checked),
        cmocka_unit_test(the_adapter_is_known_once),
        cmocka_unit_test(a_lane_uses_it_and_refuses_settings),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
