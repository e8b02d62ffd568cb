/*
 * A stand-in for libusb with devices made of tables: it hands out transfers, completes them on the caller's event thread
 * as the test says, and keeps an account of what was asked and not given back. Include it once in a test program.
 */
#ifndef UNIT_TRANSPORT_USB_STANDIN_H
#define UNIT_TRANSPORT_USB_STANDIN_H

#include "test.h"

#include <libusb.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define BUS_DEVICES   4
#define BUS_TRANSFERS 16

struct libusb_device {
    struct libusb_device_descriptor descriptor;
    const char *serial; /* string 3; NULL = it has none */
    struct libusb_config_descriptor *config;
    int open; /* answers */
    int claim;
    bool driver; /* the system's driver holds interface 0 */
    const uint8_t *report_descriptor;
    int report_descriptor_length; /* or an answer */
    int control;                  /* answer to class requests */
    bool mute;                    /* answers no question for its status */
};

struct libusb_device_handle {
    struct libusb_device *device;
};

struct libusb_context {
    int unused;
};

/* One entry of what is under way. */
struct way {
    struct libusb_transfer *transfer;
    bool done;
    int number; /* in the order in which they were submitted */
};

static struct {
    pthread_mutex_t lock;
    pthread_cond_t changed;
    struct libusb_device devices[BUS_DEVICES];
    int count;
    int init; /* answers */
    int list;
    int submit;
    bool out_hangs;                         /* output stays under way until it is cancelled */
    enum libusb_transfer_status out_status; /* else it ends so at once */
    int out_short;                          /* so many bytes fewer */
    bool interrupted;
    struct way under_way[BUS_TRANSFERS];
    int submitted;
    int opened; /* contexts, handles, lists, transfers, configurations not given back */
    char account[1024];
    libusb_hotplug_callback_fn came;
    void *came_user;
    bool hotplug;
    int clear_halts;
} bus;

static void bus_account(const char *format, ...)
{
    size_t filled = strlen(bus.account);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(bus.account + filled, sizeof bus.account - filled, format, arguments);
    va_end(arguments);
}

static inline void bus_begin(void)
{
    memset(&bus, 0, sizeof bus);
    pthread_mutex_init(&bus.lock, NULL);
    pthread_cond_init(&bus.changed, NULL);
    bus.hotplug = true;
}

/* ---- Contexts and lists ---- */

int libusb_init(libusb_context **context)
{
    assert_non_null(context); /* the default context belongs to the host */
    if (bus.init != LIBUSB_SUCCESS)
        return bus.init;
    *context = calloc(1, sizeof **context);
    bus.opened++;
    return LIBUSB_SUCCESS;
}

void libusb_exit(libusb_context *context)
{
    assert_non_null(context);
    free(context);
    bus.opened--;
}

int libusb_set_option(libusb_context *context, enum libusb_option option, ...)
{
    va_list arguments;
    va_start(arguments, option);
    assert_non_null(context);
    assert_int_equal(option, LIBUSB_OPTION_LOG_LEVEL);
    assert_int_equal(va_arg(arguments, int), LIBUSB_LOG_LEVEL_NONE);
    va_end(arguments);
    return LIBUSB_SUCCESS;
}

ssize_t libusb_get_device_list(libusb_context *context, libusb_device ***list)
{
    assert_non_null(context);
    if (bus.list != LIBUSB_SUCCESS)
        return bus.list;
    *list = calloc(BUS_DEVICES + 1, sizeof **list);
    for (int i = 0; i < bus.count; i++)
        (*list)[i] = &bus.devices[i];
    bus.opened++;
    return bus.count;
}

void libusb_free_device_list(libusb_device **list, int unref)
{
    assert_int_equal(unref, 1);
    free(list);
    bus.opened--;
}

int libusb_get_device_descriptor(libusb_device *device, struct libusb_device_descriptor *descriptor)
{
    *descriptor = device->descriptor;
    return LIBUSB_SUCCESS;
}

uint8_t libusb_get_bus_number(libusb_device *device)
{
    (void)device;
    return 1;
}

uint8_t libusb_get_device_address(libusb_device *device)
{
    return (uint8_t)(1 + (device - bus.devices));
}

/* ---- One device ---- */

int libusb_open(libusb_device *device, libusb_device_handle **handle)
{
    if (device->open != LIBUSB_SUCCESS)
        return device->open;
    *handle = calloc(1, sizeof **handle);
    (*handle)->device = device;
    bus.opened++;
    return LIBUSB_SUCCESS;
}

void libusb_close(libusb_device_handle *handle)
{
    free(handle);
    bus.opened--;
}

libusb_device *libusb_get_device(libusb_device_handle *handle)
{
    return handle->device;
}

int libusb_get_string_descriptor_ascii(libusb_device_handle *handle, uint8_t index, unsigned char *text, int length)
{
    assert_int_equal(index, 3);
    if (handle->device->serial == NULL)
        return LIBUSB_ERROR_PIPE;
    return snprintf((char *)text, (size_t)length, "%s", handle->device->serial);
}

int libusb_get_active_config_descriptor(libusb_device *device, struct libusb_config_descriptor **config)
{
    if (device->config == NULL)
        return LIBUSB_ERROR_NOT_FOUND;
    *config = device->config;
    bus.opened++;
    return LIBUSB_SUCCESS;
}

void libusb_free_config_descriptor(struct libusb_config_descriptor *config)
{
    assert_non_null(config);
    bus.opened--;
}

int libusb_kernel_driver_active(libusb_device_handle *handle, int interface)
{
    return interface == 0 && handle->device->driver ? 1 : 0;
}

int libusb_detach_kernel_driver(libusb_device_handle *handle, int interface)
{
    bus_account("detach %d;", interface);
    handle->device->driver = false;
    return LIBUSB_SUCCESS;
}

int libusb_attach_kernel_driver(libusb_device_handle *handle, int interface)
{
    bus_account("attach %d;", interface);
    handle->device->driver = true;
    return LIBUSB_SUCCESS;
}

int libusb_claim_interface(libusb_device_handle *handle, int interface)
{
    if (handle->device->claim != LIBUSB_SUCCESS)
        return handle->device->claim;
    bus_account("claim %d;", interface);
    bus.opened++;
    return LIBUSB_SUCCESS;
}

int libusb_release_interface(libusb_device_handle *handle, int interface)
{
    (void)handle;
    bus_account("release %d;", interface);
    bus.opened--;
    return LIBUSB_SUCCESS;
}

int libusb_clear_halt(libusb_device_handle *handle, unsigned char endpoint)
{
    (void)handle;
    (void)endpoint;
    bus.clear_halts++;
    return LIBUSB_SUCCESS;
}

int libusb_control_transfer(libusb_device_handle *handle, uint8_t type, uint8_t request, uint16_t value, uint16_t index,
                            unsigned char *bytes, uint16_t length, unsigned int timeout_ms)
{
    assert_in_range(timeout_ms, 1, 1000);
    const struct libusb_device *device = handle->device;
    if (type == 0x81) { /* the report descriptor */
        assert_int_equal(request, 6);
        assert_int_equal(value, 0x2200);
        if (device->report_descriptor_length > 0)
            memcpy(bytes, device->report_descriptor, (size_t)device->report_descriptor_length);
        return device->report_descriptor_length;
    }
    if (type == 0x80) { /* GET_STATUS of the device */
        assert_int_equal(request, 0);
        assert_int_equal(length, 2);
        return device->mute ? LIBUSB_ERROR_IO : 2;
    }
    assert_int_equal(type, 0x21);
    bus_account("request %02x %04x %u", request, value, index);
    for (uint16_t i = 0; i < length; i++)
        bus_account(" %02x", bytes[i]);
    bus_account(";");
    return device->control != LIBUSB_SUCCESS ? device->control : length;
}

/* ---- Transfers ---- */

struct libusb_transfer *libusb_alloc_transfer(int packets)
{
    assert_int_equal(packets, 0);
    bus.opened++;
    return calloc(1, sizeof(struct libusb_transfer));
}

void libusb_free_transfer(struct libusb_transfer *transfer)
{
    if (transfer != NULL)
        bus.opened--;
    free(transfer);
}

/* Under the lock. */
static void way_end(struct way *way, enum libusb_transfer_status status, int length)
{
    way->transfer->status = status;
    way->transfer->actual_length = length;
    way->done = true;
    pthread_cond_broadcast(&bus.changed);
}

static void output_begin(struct way *way)
{
    const struct libusb_transfer *transfer = way->transfer;
    assert_in_range(transfer->timeout, 1, 500);
    bus_account(transfer->type == LIBUSB_TRANSFER_TYPE_INTERRUPT ? "interrupt" : "bulk");
    for (int i = 0; i < transfer->length && i < 16; i++)
        bus_account(" %02x", transfer->buffer[i]);
    bus_account(";");
    if (!bus.out_hangs)
        way_end(way, bus.out_status, transfer->length - bus.out_short);
}

int libusb_submit_transfer(struct libusb_transfer *transfer)
{
    int answer = LIBUSB_ERROR_NO_MEM;
    pthread_mutex_lock(&bus.lock);
    for (int i = 0; bus.submit == LIBUSB_SUCCESS && i < BUS_TRANSFERS && answer != LIBUSB_SUCCESS; i++) {
        if (bus.under_way[i].transfer != NULL)
            continue;
        bus.under_way[i] = (struct way){transfer, false, bus.submitted++};
        answer = LIBUSB_SUCCESS;
        if ((transfer->endpoint & LIBUSB_ENDPOINT_IN) == 0)
            output_begin(&bus.under_way[i]);
        pthread_cond_broadcast(&bus.changed);
    }
    if (bus.submit != LIBUSB_SUCCESS)
        answer = bus.submit;
    pthread_mutex_unlock(&bus.lock);
    return answer;
}

int libusb_cancel_transfer(struct libusb_transfer *transfer)
{
    int answer = LIBUSB_ERROR_NOT_FOUND;
    pthread_mutex_lock(&bus.lock);
    for (int i = 0; i < BUS_TRANSFERS; i++) {
        if (bus.under_way[i].transfer != transfer || bus.under_way[i].done)
            continue;
        way_end(&bus.under_way[i], LIBUSB_TRANSFER_CANCELLED, 0);
        answer = LIBUSB_SUCCESS;
    }
    pthread_mutex_unlock(&bus.lock);
    return answer;
}

/* Under the lock: the oldest that is done, or the oldest input that is not; NULL = none. */
static struct way *way_find(bool done)
{
    struct way *oldest = NULL;
    for (int i = 0; i < BUS_TRANSFERS; i++) {
        struct way *way = &bus.under_way[i];
        if (way->transfer == NULL || way->done != done ||
            (!done && (way->transfer->endpoint & LIBUSB_ENDPOINT_IN) == 0))
            continue;
        if (oldest == NULL || way->number < oldest->number)
            oldest = way;
    }
    return oldest;
}

/* Under the lock: takes out what is done, or NULL. */
static struct libusb_transfer *done_take(void)
{
    struct way *way = way_find(true);
    struct libusb_transfer *transfer = way != NULL ? way->transfer : NULL;
    if (way != NULL)
        way->transfer = NULL;
    return transfer;
}

int libusb_handle_events_timeout_completed(libusb_context *context, struct timeval *longest, int *completed)
{
    assert_non_null(context);
    assert_null(completed);
    assert_in_range(longest->tv_sec, 1, 60);
    pthread_mutex_lock(&bus.lock);
    struct libusb_transfer *transfer = done_take();
    while (transfer == NULL && !bus.interrupted) {
        pthread_cond_wait(&bus.changed, &bus.lock);
        transfer = done_take();
    }
    if (transfer == NULL)
        bus.interrupted = false;
    pthread_mutex_unlock(&bus.lock);
    if (transfer != NULL)
        transfer->callback(transfer);
    return LIBUSB_SUCCESS;
}

void libusb_interrupt_event_handler(libusb_context *context)
{
    assert_non_null(context);
    pthread_mutex_lock(&bus.lock);
    bus.interrupted = true;
    pthread_cond_broadcast(&bus.changed);
    pthread_mutex_unlock(&bus.lock);
}

/* ---- Hot-plug ---- */

int libusb_has_capability(uint32_t capability)
{
    return capability == LIBUSB_CAP_HAS_HOTPLUG && bus.hotplug;
}

int libusb_hotplug_register_callback(libusb_context *context, int events, int flags, int vendor, int product,
                                     int class_code, libusb_hotplug_callback_fn came, void *user,
                                     libusb_hotplug_callback_handle *handle)
{
    assert_non_null(context);
    assert_int_equal(events, LIBUSB_HOTPLUG_EVENT_DEVICE_ARRIVED);
    assert_int_equal(flags, 0);
    assert_int_equal(vendor, LIBUSB_HOTPLUG_MATCH_ANY);
    assert_int_equal(product, LIBUSB_HOTPLUG_MATCH_ANY);
    assert_int_equal(class_code, LIBUSB_HOTPLUG_MATCH_ANY);
    assert_null(handle);
    bus.came = came;
    bus.came_user = user;
    return LIBUSB_SUCCESS;
}

/* ---- What the device does ---- */

/* Completes the input transfer that has waited longest; waits, at most 10 s, until there is one. */
static inline void device_ends(enum libusb_transfer_status status, const void *bytes, int length)
{
    struct timespec until;
    clock_gettime(CLOCK_REALTIME, &until);
    until.tv_sec += 10;
    pthread_mutex_lock(&bus.lock);
    struct way *way = way_find(false);
    while (way == NULL) {
        assert_int_equal(pthread_cond_timedwait(&bus.changed, &bus.lock, &until), 0);
        way = way_find(false);
    }
    assert_in_range(length, 0, way->transfer->length);
    if (length > 0)
        memcpy(way->transfer->buffer, bytes, (size_t)length);
    way_end(way, status, length);
    pthread_mutex_unlock(&bus.lock);
}

#endif
