/*
 * The parts of a lane without thread or port: the queue, the numbering of presentations, the memory of devices.
 */
#include "test.h"

#include "lane/devices.h"
#include "lane/presentations.h"
#include "lane/queue.h"

static cfoil_event numbered(uint64_t sequence)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    event.sequence = sequence;
    return event;
}

static void push(struct queue *queue, uint64_t sequence, bool fits)
{
    cfoil_event event = numbered(sequence);
    assert_int_equal(queue_push(queue, &event), fits);
}

static void pop(struct queue *queue, uint64_t sequence)
{
    cfoil_event event;
    assert_true(queue_pop(queue, &event));
    assert_int_equal(event.sequence, sequence);
}

static void test_queue_in_order(void **state)
{
    (void)state;
    struct queue queue;
    cfoil_event event;
    assert_true(queue_create(&queue, &memory_heap, 3));
    assert_false(queue_pop(&queue, &event));
    for (uint64_t turn = 0; turn < 5; turn++) {
        push(&queue, 2 * turn + 1, true);
        push(&queue, 2 * turn + 2, true);
        assert_false(queue_full(&queue));
        pop(&queue, 2 * turn + 1);
        pop(&queue, 2 * turn + 2);
    }
    assert_false(queue_overflow_due(&queue));
    queue_destroy(&queue, &memory_heap);
}

static void test_queue_overflow(void **state)
{
    (void)state;
    struct queue queue;
    assert_true(queue_create(&queue, &memory_heap, 3));
    for (uint64_t sequence = 1; sequence <= 5; sequence++)
        push(&queue, sequence, sequence <= 3);
    assert_int_equal(queue.dropped, 2);
    assert_false(queue_overflow_due(&queue));
    pop(&queue, 1);
    /* There is room, but 4 and 5 are not explained yet: an event now would hide the gap. */
    assert_true(queue_overflow_due(&queue));
    push(&queue, 6, false);
    assert_int_equal(queue.dropped, 3);
    cfoil_event lost = numbered(7);
    queue_overflow_push(&queue, &lost);
    assert_int_equal(queue.dropped, 0);
    assert_false(queue_overflow_due(&queue));
    pop(&queue, 2);
    push(&queue, 8, true);
    pop(&queue, 3);
    pop(&queue, 7);
    pop(&queue, 8);
    queue_destroy(&queue, &memory_heap);
}

static void test_queue_counts_no_further_than_it_can(void **state)
{
    (void)state;
    struct queue queue;
    assert_true(queue_create(&queue, &memory_heap, 1));
    queue.dropped = UINT32_MAX;
    push(&queue, 1, false);
    assert_int_equal(queue.dropped, UINT32_MAX);
    queue_destroy(&queue, &memory_heap);
}

static uint64_t assign(struct presentations *presentations, int32_t kind, int32_t note_type, uint32_t flags)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    event.kind = kind;
    event.flags = flags;
    event.note_type = note_type;
    if (note_type != 0) {
        event.value_minor = note_type * 100;
        memcpy(event.currency, "EUR", 4);
    }
    if (kind == CFOIL_KIND_DEVICE)
        event.condition = CFOIL_CONDITION_OUTCOME_UNKNOWN;
    return presentation_assign(presentations, &event);
}

static void test_presentations(void **state)
{
    (void)state;
    struct presentations numbers = {0};
    assert_int_equal(assign(&numbers, CFOIL_KIND_HELD, 5, 0), 1);
    assert_int_equal(numbers.held, 1);
    assert_int_equal(assign(&numbers, CFOIL_KIND_REJECTED, 0, 0), 2); /* a second note was tried meanwhile */
    assert_int_equal(numbers.held, 1);
    assert_int_equal(assign(&numbers, CFOIL_KIND_STACKED, 5, 0), 1);
    assert_int_equal(numbers.held, 0);
    assert_int_equal(assign(&numbers, CFOIL_KIND_STACKED, 5, 0), 3);
    assert_int_equal(assign(&numbers, CFOIL_KIND_HELD, 5, 0), 4);
    assert_int_equal(assign(&numbers, CFOIL_KIND_RETURNED, 0, 0), 4); /* the device does not name the note again */
    assert_int_equal(assign(&numbers, CFOIL_KIND_RETURNED, 0, 0), 5);
    assert_int_equal(assign(&numbers, CFOIL_KIND_DEVICE, 0, 0), 0);
    assert_int_equal(assign(&numbers, CFOIL_KIND_LOST_EVENTS, 0, 0), 0);
    cfoil_event fault = {.kind = CFOIL_KIND_DEVICE, .condition = CFOIL_CONDITION_FAULT};
    assert_int_equal(presentation_assign(&numbers, &fault), 0);
}

static void test_presentation_of_unknown_outcome(void **state)
{
    (void)state;
    struct presentations numbers = {0};
    assert_int_equal(assign(&numbers, CFOIL_KIND_HELD, 5, 0), 1);
    assert_int_equal(assign(&numbers, CFOIL_KIND_DEVICE, 5, 0), 1);
    assert_int_equal(numbers.held, 0);
    assert_int_equal(assign(&numbers, CFOIL_KIND_DEVICE, 5, 0), 1); /* said again: still that one */
    /* A note of today is not the one of before; one that was stacked while the line was away is, if it is the same. */
    assert_int_equal(assign(&numbers, CFOIL_KIND_STACKED, 5, 0), 2);
    assert_int_equal(assign(&numbers, CFOIL_KIND_STACKED, 6, CFOIL_EVENT_WHILE_AWAY), 3);
    assert_int_equal(assign(&numbers, CFOIL_KIND_STACKED, 5, CFOIL_EVENT_WHILE_AWAY), 1);
    assert_int_equal(assign(&numbers, CFOIL_KIND_STACKED, 5, CFOIL_EVENT_WHILE_AWAY), 4);
    /* A new note ends the waiting for word of an old one. */
    assert_int_equal(assign(&numbers, CFOIL_KIND_HELD, 5, 0), 5);
    assert_int_equal(assign(&numbers, CFOIL_KIND_DEVICE, 5, 0), 5);
    assert_int_equal(assign(&numbers, CFOIL_KIND_HELD, 5, 0), 6);
    assert_int_equal(assign(&numbers, CFOIL_KIND_RETURNED, 5, 0), 6);
    assert_int_equal(assign(&numbers, CFOIL_KIND_STACKED, 5, CFOIL_EVENT_WHILE_AWAY), 7);
}

static void test_note_told_apart(void **state)
{
    (void)state;
    struct presentations numbers = {0};
    cfoil_event held = {.kind = CFOIL_KIND_HELD, .note_type = 5};
    cfoil_event stacked = {.kind = CFOIL_KIND_STACKED, .note_type = 6};
    assert_int_equal(presentation_assign(&numbers, &held), 1);
    assert_int_equal(presentation_assign(&numbers, &stacked), 2);
    memcpy(held.currency, "EUR", 4);
    memcpy(stacked.currency, "USD", 4);
    stacked.note_type = 5;
    assert_int_equal(presentation_assign(&numbers, &held), 3);
    assert_int_equal(presentation_assign(&numbers, &stacked), 4);
    assert_int_equal(numbers.held, 3);
}

static struct device_memory memory_of(const char *device, uint8_t byte)
{
    struct device_memory memory = {.length = 1, .bytes = {byte}};
    strcpy(memory.device, device);
    return memory;
}

static void test_devices(void **state)
{
    (void)state;
    struct devices devices = {0};
    struct device_memory one = memory_of("toy/1", 1);
    struct device_memory two = memory_of("toy/1", 2);
    assert_null(device_find(&devices, "toy/1"));
    assert_true(device_differs(&devices, &one));
    device_stored(&devices, &one); /* of a device that nobody knows: nothing to note */
    assert_non_null(device_set(&devices, &one));
    assert_true(device_differs(&devices, &one));
    device_stored(&devices, &two); /* not what is there now */
    assert_true(device_differs(&devices, &one));
    device_stored(&devices, &one);
    assert_false(device_differs(&devices, &one));
    assert_non_null(device_set(&devices, &one));
    assert_false(device_differs(&devices, &one));
    assert_true(device_differs(&devices, &two));
    assert_non_null(device_set(&devices, &two));
    assert_true(device_differs(&devices, &two));
    assert_int_equal(devices.count, 1);
    assert_int_equal(device_find(&devices, "toy/1")->memory.bytes[0], 2);
}

static void test_devices_are_bounded(void **state)
{
    (void)state;
    struct devices devices = {0};
    char name[8] = "toy/0";
    for (int i = 0; i < DEVICES_MAX; i++, name[4]++) {
        struct device_memory memory = memory_of(name, 1);
        assert_non_null(device_set(&devices, &memory));
    }
    struct device_memory more = memory_of("more", 1);
    assert_null(device_set(&devices, &more));
}

static void test_device_names(void **state)
{
    (void)state;
    assert_true(device_name_valid("cctalk/1193046"));
    assert_false(device_name_valid(NULL));
    assert_false(device_name_valid(""));
    assert_false(device_name_valid("a b"));
    assert_false(device_name_valid("a\x7f"));
    char name[DEVICE_NAME_MAX + 2];
    memset(name, 'a', sizeof name);
    name[DEVICE_NAME_MAX + 1] = '\0';
    assert_false(device_name_valid(name));
    name[DEVICE_NAME_MAX] = '\0';
    assert_true(device_name_valid(name));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_queue_in_order),
        cmocka_unit_test(test_queue_overflow),
        cmocka_unit_test(test_queue_counts_no_further_than_it_can),
        cmocka_unit_test(test_presentations),
        cmocka_unit_test(test_presentation_of_unknown_outcome),
        cmocka_unit_test(test_note_told_apart),
        cmocka_unit_test(test_devices),
        cmocka_unit_test(test_devices_are_bounded),
        cmocka_unit_test(test_device_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
