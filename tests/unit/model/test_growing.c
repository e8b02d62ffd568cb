/*
 * A text that grows, also when memory ends.
 */
#include "model/growing.h"
#include "test.h"

#include <stdlib.h>
#include <string.h>

static long left;

static void *some(void *user, size_t size)
{
    (void)user;
    return left-- > 0 ? malloc(size) : NULL;
}

static void release(void *user, void *block)
{
    (void)user;
    free(block);
}

static void it_holds_what_was_added(void **state)
{
    (void)state;
    struct growing growing = {.memory = &memory_heap};
    assert_string_equal(growing_text(&growing), "");
    for (int i = 0; i < 1000; i++)
        growing_text_add(&growing, "0123456789");
    growing_add(&growing, "abc", 2);
    assert_int_equal(growing.length, 10002);
    assert_int_equal(strlen(growing_text(&growing)), 10002);
    assert_string_equal(growing_text(&growing) + 9990, "0123456789ab");
    growing_release(&growing);
    assert_string_equal(growing_text(&growing), "");
}

static void nothing_is_added_after_a_failure(void **state)
{
    (void)state;
    const struct memory memory = {NULL, some, release};
    struct growing growing = {.memory = &memory};
    left = 1;
    growing_text_add(&growing, "short");
    for (int i = 0; i < 100; i++)
        growing_text_add(&growing, "0123456789");
    assert_true(growing.failed);
    size_t length = growing.length;
    growing_text_add(&growing, "x");
    assert_int_equal(growing.length, length);
    assert_false(growing_reserve(&growing, 0));
    growing_release(&growing);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_holds_what_was_added),
        cmocka_unit_test(nothing_is_added_after_a_failure),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
