/*
 * Result codes: every one has a text, an action and a class of its own; unknown ones are explained by their class.
 */
#include "test.h"

#include <stdio.h>
#include <stdlib.h>

/* Reads the codes out of the header, so that a new code without a text fails here. */
static size_t codes_read(char names[][64], int32_t *values, size_t capacity)
{
    FILE *file = fopen(SOURCE_DIR "/include/counterfoil/counterfoil.h", "r");
    assert_non_null(file);
    char line[512];
    size_t count = 0;
    while (fgets(line, sizeof line, file) != NULL) {
        char value[16];
        if (sscanf(line, " CFOIL_E_%63[A-Z_] = %15[0-9a-fx]", names[count], value) == 2) {
            values[count++] = (int32_t)strtol(value, NULL, 16);
            assert_true(count < capacity);
        }
    }
    fclose(file);
    return count;
}

static void every_code_has_its_own_text(void **state)
{
    (void)state;
    static char names[128][64];
    static int32_t values[128];
    size_t count = codes_read(names, values, 128);
    assert_true(count > 50);
    for (size_t i = 0; i < count; i++) {
        const char *text = cfoil_error_text(values[i]);
        assert_true(strlen(text) > 10 && strlen(text) < 120);
        assert_null(strstr(text, "this version does not know"));
        assert_true(cfoil_result_action(values[i]) >= CFOIL_ACTION_NONE);
        assert_true((values[i] & 0xFF) >= CFOIL_CLASS_ARGUMENT && (values[i] & 0xFF) <= CFOIL_CLASS_SYSTEM);
        for (size_t k = 0; k < i; k++)
            assert_int_not_equal(values[i], values[k]);
    }
}

static void the_class_in_the_low_bits_is_the_one_named(void **state)
{
    (void)state;
    static const struct {
        const char *prefix;
        int32_t class;
    } classes[] = {
        {"ARGUMENT_", CFOIL_CLASS_ARGUMENT}, {"STATE_", CFOIL_CLASS_STATE},   {"MEMORY", CFOIL_CLASS_MEMORY},
        {"TIME_", CFOIL_CLASS_TIME},         {"PORT_", CFOIL_CLASS_PORT},     {"DEVICE_", CFOIL_CLASS_DEVICE},
        {"DATA_", CFOIL_CLASS_DATA},         {"LEDGER_", CFOIL_CLASS_LEDGER}, {"RULE_", CFOIL_CLASS_RULE},
        {"MISSING_", CFOIL_CLASS_MISSING},   {"SYSTEM_", CFOIL_CLASS_SYSTEM},
    };
    static char names[128][64];
    static int32_t values[128];
    size_t count = codes_read(names, values, 128);
    for (size_t i = 0; i < count; i++) {
        int32_t class = -1;
        for (size_t k = 0; k < sizeof classes / sizeof classes[0]; k++) {
            if (strncmp(names[i], classes[k].prefix, strlen(classes[k].prefix)) == 0)
                class = classes[k].class;
        }
        assert_int_equal(values[i] & 0xFF, class);
    }
}

static void unknown_causes_are_explained_by_their_class(void **state)
{
    (void)state;
    for (int32_t class = CFOIL_CLASS_ARGUMENT; class <= CFOIL_CLASS_SYSTEM; class ++) {
        int32_t unknown = 0x7F00 | class;
        assert_non_null(cfoil_error_text(unknown));
        assert_int_not_equal(cfoil_result_action(unknown), CFOIL_ACTION_NONE);
    }
    assert_int_equal(cfoil_result_action(0x7FFF), CFOIL_ACTION_STOP);
    assert_int_equal(cfoil_result_action(-1), CFOIL_ACTION_STOP);
    assert_non_null(strstr(cfoil_error_text(0x7FFF), "does not know"));
}

static void success_asks_for_nothing(void **state)
{
    (void)state;
    assert_string_equal(cfoil_error_text(CFOIL_OK), "Success.");
    assert_int_equal(cfoil_result_action(CFOIL_OK), CFOIL_ACTION_NONE);
    assert_int_equal(cfoil_result_action(CFOIL_E_LEDGER_BUSY), CFOIL_ACTION_RETRY);
    assert_int_equal(cfoil_result_action(CFOIL_E_PORT_GONE), CFOIL_ACTION_REOPEN);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_code_has_its_own_text),
        cmocka_unit_test(the_class_in_the_low_bits_is_the_one_named),
        cmocka_unit_test(unknown_causes_are_explained_by_their_class),
        cmocka_unit_test(success_asks_for_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
