/*
 * The calls about damaged notes: arguments, buffers, failures with their place.
 */
#include "test.h"

#include <counterfoil/counterfoil.h>
#include <stdlib.h>

#define REQUEST(body) "{\"schema\":\"counterfoil.damaged/1\",\"currency\":\"INR\",\"value_minor\":50000," body "}"

static cfoil_context *context;
static char buffer[65536];

static int context_make(void **state)
{
    (void)state;
    return cfoil_context_open(NULL, &context) == CFOIL_OK ? 0 : -1;
}

static int context_end(void **state)
{
    (void)state;
    cfoil_context_close(context);
    return 0;
}

typedef int32_t (*call)(cfoil_context *context, const char *request, char *buffer, size_t capacity, size_t *needed);

static void request_calls_keep_their_word(void **state)
{
    (void)state;
    static const call calls[] = {cfoil_damaged_json, cfoil_damaged_text};
    for (size_t i = 0; i < 2; i++) {
        size_t needed = 0;
        const char *request = REQUEST("\"conditions\":[\"soiled\"]");
        assert_int_equal(calls[i](context, NULL, buffer, sizeof buffer, NULL), CFOIL_E_ARGUMENT_NULL);
        assert_int_equal(calls[i](NULL, request, buffer, sizeof buffer, NULL), CFOIL_E_ARGUMENT_NULL);
        assert_int_equal(calls[i](context, request, NULL, 0, &needed), CFOIL_E_ARGUMENT_BUFFER);
        assert_int_equal(calls[i](context, request, NULL, 9, NULL), CFOIL_E_ARGUMENT_NULL);
        assert_int_equal(calls[i](context, request, buffer, needed - 1, NULL), CFOIL_E_ARGUMENT_BUFFER);
        assert_int_equal(calls[i](context, request, buffer, needed, &needed), CFOIL_OK);
        assert_int_equal(strlen(buffer) + 1, needed);
        assert_int_equal(calls[i](context, "{", buffer, sizeof buffer, NULL), CFOIL_E_DATA_SYNTAX);
        assert_int_equal(calls[i](context, REQUEST("\"conditions\":[\"x\"]"), buffer, sizeof buffer, NULL),
                         CFOIL_E_DATA_SCHEMA);
        cfoil_error_info info = CFOIL_ERROR_INFO_INIT;
        assert_int_equal(cfoil_error_read(context, &info), CFOIL_OK);
        assert_non_null(strstr(info.text, "conditions[0]"));
        assert_int_equal(calls[i](context, REQUEST("\"language\":\"tlh\""), buffer, sizeof buffer, NULL),
                         CFOIL_E_MISSING_LANGUAGE);
        assert_int_equal(calls[i](context, REQUEST("\"language\":7"), buffer, sizeof buffer, NULL),
                         CFOIL_E_DATA_SCHEMA);
        assert_int_equal(calls[i](context, "{\"currency\":7}", buffer, sizeof buffer, NULL), CFOIL_E_DATA_SCHEMA);
    }
}

static int32_t grid(const char *currency, int64_t value_minor, const char *series, uint32_t side_mm,
                    const char *language)
{
    return cfoil_damaged_grid(context, currency, value_minor, series, side_mm, language, buffer, sizeof buffer, NULL);
}

static void the_grid_keeps_its_word(void **state)
{
    (void)state;
    size_t needed = 0;
    assert_int_equal(grid(NULL, 50000, NULL, 5, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(grid("RUPEE", 50000, NULL, 5, NULL), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(grid("INR", 50000, "", 5, NULL), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(grid("INR", 50000, NULL, 5, "a-language-far-too-long"), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(grid("INR", 50000, NULL, 0, NULL), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(grid("INR", 50000, NULL, 11, NULL), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(grid("XTS", 50000, NULL, 5, NULL), CFOIL_E_MISSING_PACK);
    assert_int_equal(grid("INR", 1, NULL, 5, NULL), CFOIL_E_MISSING_NOTE);
    assert_int_equal(grid("INR", 50000, NULL, 5, "tlh"), CFOIL_E_MISSING_LANGUAGE);
    assert_int_equal(grid("INR", 50000, "N", 1, "hi"), CFOIL_OK);
    assert_int_equal(grid("EUR", 50000, "ES1", 10, NULL), CFOIL_OK);
    assert_int_equal(cfoil_damaged_grid(context, "INR", 50000, NULL, 5, NULL, NULL, 0, &needed),
                     CFOIL_E_ARGUMENT_BUFFER);
    assert_int_equal(cfoil_damaged_grid(context, "INR", 50000, NULL, 5, NULL, NULL, 5, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_damaged_grid(context, "INR", 50000, NULL, 5, NULL, buffer, needed - 1, NULL),
                     CFOIL_E_ARGUMENT_BUFFER);
    assert_string_equal(buffer, "");
    assert_int_equal(cfoil_damaged_grid(context, "INR", 50000, NULL, 5, NULL, buffer, needed, &needed), CFOIL_OK);
    assert_int_equal(strlen(buffer) + 1, needed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(request_calls_keep_their_word),
        cmocka_unit_test(the_grid_keeps_its_word),
    };
    return cmocka_run_group_tests(tests, context_make, context_end);
}
