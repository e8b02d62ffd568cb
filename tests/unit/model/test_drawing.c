/*
 * A text that is counted when it does not fit, and what XML must not hold as it is.
 */
#include "model/drawing.h"
#include "test.h"

static void what_does_not_fit_is_counted(void **state)
{
    (void)state;
    char buffer[6] = "?????";
    struct drawing drawing = {buffer, sizeof buffer, 0};
    drawing_put(&drawing, "abc");
    drawing_format(&drawing, "%d", 45678);
    assert_string_equal(buffer, "abc45");
    assert_int_equal(drawing.length, 8);
    drawing_put(&drawing, "z");
    assert_string_equal(buffer, "abc45");
    assert_int_equal(drawing.length, 9);
    struct drawing none = {NULL, 0, 0};
    drawing_put(&none, "abc");
    assert_int_equal(none.length, 3);
}

/* XML 1.0 section 2.4: & and < must be escaped; > must be in "]]>". */
static void character_data_is_escaped(void **state)
{
    (void)state;
    char buffer[64];
    struct drawing drawing = {buffer, sizeof buffer, 0};
    drawing_escape(&drawing, "a<b>&c");
    assert_string_equal(buffer, "a&lt;b&gt;&amp;c");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_does_not_fit_is_counted),
        cmocka_unit_test(character_data_is_escaped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
