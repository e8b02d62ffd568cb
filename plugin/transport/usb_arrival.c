/*
 * When does a USB device come? Through libusb's hot-plug events, where the system has them.
 */
#include "transport/arrival.h"

#include "os/os.h"
#include "transport/usb_find.h"

#include <stdatomic.h>
#include <sys/time.h>

struct arrival {
    const struct memory *memory;
    libusb_context *context;
    struct os_signal *signal;
    struct os_thread *thread;
    atomic_bool ending;
};

static int LIBUSB_CALL device_came(libusb_context *context, libusb_device *device, libusb_hotplug_event event,
                                   void *user)
{
    (void)context;
    (void)device;
    (void)event;
    struct arrival *arrival = user;
    os_signal_set(arrival->signal);
    return 0; /* go on */
}

static void arrival_run(void *user)
{
    struct arrival *arrival = user;
    while (!atomic_load(&arrival->ending)) {
        struct timeval longest = {.tv_sec = 60};
        int answer = libusb_handle_events_timeout_completed(arrival->context, &longest, NULL);
        if (answer != LIBUSB_SUCCESS && answer != LIBUSB_ERROR_INTERRUPTED)
            return; /* no events, then: whoever waits looks from time to time anyway */
    }
}

static bool events_begin(struct arrival *arrival)
{
    /* Any device: the one behind a serial port has numbers that the port's name does not tell. */
    return libusb_hotplug_register_callback(arrival->context, LIBUSB_HOTPLUG_EVENT_DEVICE_ARRIVED, 0,
                                            LIBUSB_HOTPLUG_MATCH_ANY, LIBUSB_HOTPLUG_MATCH_ANY,
                                            LIBUSB_HOTPLUG_MATCH_ANY, device_came, arrival, NULL) == LIBUSB_SUCCESS;
}

struct arrival *arrival_begin(const struct memory *memory)
{
    if (!libusb_has_capability(LIBUSB_CAP_HAS_HOTPLUG))
        return NULL;
    struct arrival *arrival = memory_allocate(memory, sizeof *arrival);
    if (arrival == NULL)
        return NULL;
    arrival->memory = memory;
    atomic_init(&arrival->ending, false);
    if (usb_context_open(&arrival->context) != LIBUSB_SUCCESS)
        goto free_arrival;
    arrival->signal = os_signal_create(memory);
    if (arrival->signal == NULL)
        goto exit_context;
    if (events_begin(arrival))
        arrival->thread = os_thread_start(memory, "cfoil-arrival", arrival_run, arrival);
    if (arrival->thread != NULL)
        return arrival;

    os_signal_destroy(memory, arrival->signal);
exit_context:
    libusb_exit(arrival->context);
free_arrival:
    memory_release(memory, arrival);
    return NULL;
}

void arrival_end(struct arrival *arrival)
{
    if (arrival == NULL)
        return;
    atomic_store(&arrival->ending, true);
    libusb_interrupt_event_handler(arrival->context);
    os_thread_join(arrival->memory, arrival->thread);
    libusb_exit(arrival->context); /* takes the callback with it */
    os_signal_destroy(arrival->memory, arrival->signal);
    memory_release(arrival->memory, arrival);
}

intptr_t arrival_handle(const struct arrival *arrival)
{
    return arrival != NULL ? os_signal_handle(arrival->signal) : -1;
}

void arrival_clear(struct arrival *arrival)
{
    if (arrival != NULL)
        os_signal_clear(arrival->signal);
}
