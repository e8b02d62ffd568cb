/*
 * Does the signal for an arriving device come, and is everything given back?
 */
#define _GNU_SOURCE

#include "usb_standin.h"

#include "model/memory.h"
#include "os/os.h"
#include "transport/arrival.h"

static void test_arrival(void **state)
{
    (void)state;
    bus_begin();
    struct arrival *arrival = arrival_begin(&memory_heap);
    assert_non_null(arrival);
    assert_int_equal(os_wait(arrival_handle(arrival), NULL, 0), 0);
    assert_int_equal(bus.came(NULL, NULL, LIBUSB_HOTPLUG_EVENT_DEVICE_ARRIVED, bus.came_user),
                     0); /* stays registered */
    assert_int_equal(os_wait(arrival_handle(arrival), NULL, 0), OS_READY_PORT);
    arrival_clear(arrival);
    assert_int_equal(os_wait(arrival_handle(arrival), NULL, 0), 0);
    arrival_end(arrival);
    assert_int_equal(bus.opened, 0);
}

static void test_none(void **state)
{
    (void)state;
    bus_begin();
    bus.init = LIBUSB_ERROR_OTHER;
    assert_null(arrival_begin(&memory_heap));
    bus.hotplug = false;
    bus.init = LIBUSB_SUCCESS;
    struct arrival *arrival = arrival_begin(&memory_heap);
    assert_null(arrival);
    assert_int_equal(arrival_handle(arrival), -1);
    arrival_clear(arrival);
    arrival_end(arrival);
    assert_int_equal(bus.opened, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_arrival), cmocka_unit_test(test_none)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
