/*
 * How do bytes come and go while nobody waits for them? See usb_flow.h.
 *
 * A thread of its own gives libusb its events, so that the lane has one thing to wait for: a signal. Every buffer and
 * transfer is made at the beginning. A buffer that is full waits for the reader before it is used again, so a device
 * that sends faster than it is read is held up by the bus and loses nothing.
 */
#include "transport/usb_flow.h"

#include "model/error.h"
#include "os/os.h"
#include "transport/kinds.h"
#include "transport/usb_result.h"

#include <string.h>
#include <sys/time.h>

#define AREA "transport"

/* Enough that one is always under way while others wait to be read. */
#define SLOT_COUNT 4

#define CANCEL_MAX_MS 1000 /* for transfers to come back after they were cancelled */
#define STATUS_MS     100  /* beyond a transfer's own time-out, for the word of it to come */

enum slot_state { SLOT_IDLE = 0, SLOT_UNDER_WAY = 1, SLOT_FULL = 2 };

struct slot {
    struct usb_flow *flow;
    struct libusb_transfer *transfer;
    uint8_t *bytes;
    enum slot_state state;
    uint32_t filled;
};

struct usb_flow {
    const struct memory *memory;
    const struct usb_device *device;
    struct os_mutex *lock;        /* for all that follows */
    struct os_condition *changed; /* a transfer came back */
    struct os_signal *signal;
    struct os_thread *thread;
    bool ending;
    int answer; /* why it failed; LIBUSB_SUCCESS = it has not */
    struct slot input[SLOT_COUNT];
    uint32_t oldest; /* transfers come back in the order in which they were submitted (USB 2.0 section 5.3.2) */
    uint32_t taken;  /* bytes of the oldest that were read */
    struct slot output;
};

/* ---- On libusb's events: the flow's thread ---- */

static void failure_note(struct usb_flow *flow, int answer)
{
    if (answer == LIBUSB_SUCCESS || flow->answer != LIBUSB_SUCCESS)
        return;
    flow->answer = answer;
    os_signal_set(flow->signal);
}

/* Under the lock. */
static void slot_submit(struct slot *slot)
{
    struct usb_flow *flow = slot->flow;
    slot->state = SLOT_IDLE;
    if (flow->ending || flow->answer != LIBUSB_SUCCESS)
        return;
    int answer = libusb_submit_transfer(slot->transfer);
    if (answer == LIBUSB_SUCCESS)
        slot->state = SLOT_UNDER_WAY;
    failure_note(flow, answer);
}

/* Under the lock. */
static void transfer_back(struct slot *slot)
{
    struct usb_flow *flow = slot->flow;
    slot->state = SLOT_IDLE;
    slot->filled = (uint32_t)slot->transfer->actual_length;
    failure_note(flow, usb_status_answer(slot->transfer->status));
    os_condition_wake_all(flow->changed);
}

static void LIBUSB_CALL input_came(struct libusb_transfer *transfer)
{
    struct slot *slot = transfer->user_data;
    struct usb_flow *flow = slot->flow;
    os_mutex_lock(flow->lock);
    transfer_back(slot);
    /* A packet of length 0 ends a transfer and says nothing: the buffer waits in its turn all the same. */
    if (transfer->status == LIBUSB_TRANSFER_COMPLETED || slot->filled > 0) {
        slot->state = SLOT_FULL;
        os_signal_set(flow->signal);
    }
    os_mutex_unlock(flow->lock);
}

static void LIBUSB_CALL output_went(struct libusb_transfer *transfer)
{
    struct slot *slot = transfer->user_data;
    os_mutex_lock(slot->flow->lock);
    transfer_back(slot);
    os_mutex_unlock(slot->flow->lock);
}

static bool flow_ending(struct usb_flow *flow)
{
    os_mutex_lock(flow->lock);
    bool ending = flow->ending;
    os_mutex_unlock(flow->lock);
    return ending;
}

static void flow_run(void *user)
{
    struct usb_flow *flow = user;
    while (!flow_ending(flow)) {
        struct timeval longest = {.tv_sec = 60};
        int answer = libusb_handle_events_timeout_completed(flow->device->context, &longest, NULL);
        if (answer == LIBUSB_SUCCESS || answer == LIBUSB_ERROR_INTERRUPTED)
            continue;
        os_mutex_lock(flow->lock);
        failure_note(flow, answer);
        flow->ending = true; /* without events nothing comes back any more */
        os_mutex_unlock(flow->lock);
    }
}

/* ---- Beginning and ending ---- */

static bool slot_make(struct usb_flow *flow, struct slot *slot, uint32_t bytes)
{
    slot->flow = flow;
    slot->bytes = memory_allocate(flow->memory, bytes);
    slot->transfer = libusb_alloc_transfer(0);
    return slot->bytes != NULL && slot->transfer != NULL;
}

/* What the system did not give back in time is left to it: it may still write there. */
static void slot_free(struct usb_flow *flow, struct slot *slot)
{
    if (slot->state == SLOT_UNDER_WAY)
        return;
    libusb_free_transfer(slot->transfer);
    memory_release(flow->memory, slot->bytes);
}

static void flow_free(struct usb_flow *flow)
{
    for (uint32_t i = 0; i < SLOT_COUNT; i++)
        slot_free(flow, &flow->input[i]);
    slot_free(flow, &flow->output);
    os_signal_destroy(flow->memory, flow->signal);
    os_condition_destroy(flow->memory, flow->changed);
    os_mutex_destroy(flow->memory, flow->lock);
    memory_release(flow->memory, flow);
}

static void slot_fill(struct slot *slot, uint8_t endpoint, bool interrupt, uint32_t length, libusb_transfer_cb_fn came,
                      uint32_t timeout_ms)
{
    libusb_device_handle *handle = slot->flow->device->handle;
    if (interrupt)
        libusb_fill_interrupt_transfer(slot->transfer, handle, endpoint, slot->bytes, (int)length, came, slot,
                                       timeout_ms);
    else
        libusb_fill_bulk_transfer(slot->transfer, handle, endpoint, slot->bytes, (int)length, came, slot, timeout_ms);
}

static bool slots_make(struct usb_flow *flow, uint32_t input_bytes)
{
    const struct usb_shape *shape = &flow->device->shape;
    for (uint32_t i = 0; i < SLOT_COUNT; i++) {
        if (!slot_make(flow, &flow->input[i], input_bytes))
            return false;
        slot_fill(&flow->input[i], shape->in, shape->in_interrupt, input_bytes, input_came, 0);
    }
    return slot_make(flow, &flow->output, USB_OUTPUT_MAX);
}

int32_t usb_flow_begin(const struct memory *memory, const struct usb_device *device, uint32_t input_bytes,
                       struct usb_flow **flow, cfoil_error_info *error)
{
    struct usb_flow *made = memory_allocate(memory, sizeof *made);
    if (made == NULL)
        return error_memory_set(error, AREA);
    made->memory = memory;
    made->device = device;
    int32_t result = CFOIL_OK;
    if (!slots_make(made, input_bytes))
        result = error_memory_set(error, AREA);
    made->lock = os_mutex_create(memory);
    made->changed = os_condition_create(memory);
    made->signal = os_signal_create(memory);
    if (result == CFOIL_OK && (made->lock == NULL || made->changed == NULL || made->signal == NULL))
        result = error_set(error, CFOIL_E_SYSTEM_OS, 0, AREA, "The system gives no lock or no pipe for a USB port.");
    if (result == CFOIL_OK) {
        made->thread = os_thread_start(memory, "cfoil-usb", flow_run, made);
        if (made->thread == NULL)
            result = error_set(error, CFOIL_E_SYSTEM_THREAD, 0, AREA, "The system starts no thread for a USB port.");
    }
    if (result != CFOIL_OK) {
        flow_free(made);
        return result;
    }
    os_mutex_lock(made->lock);
    for (uint32_t i = 0; i < SLOT_COUNT; i++)
        slot_submit(&made->input[i]);
    os_mutex_unlock(made->lock);
    *flow = made;
    return CFOIL_OK;
}

static bool under_way(const struct usb_flow *flow)
{
    bool any = flow->output.state == SLOT_UNDER_WAY;
    for (uint32_t i = 0; i < SLOT_COUNT; i++)
        any = any || flow->input[i].state == SLOT_UNDER_WAY;
    return any;
}

/* Under the lock. */
static void slot_cancel(struct slot *slot)
{
    if (slot->state == SLOT_UNDER_WAY)
        (void)libusb_cancel_transfer(slot->transfer); /* it may have come back just now */
}

/* The device keeps a stalled endpoint stopped until it is told (USB 2.0 section 9.4.5), also for the next that opens it.
 */
static void halt_clear(const struct usb_flow *flow)
{
    if (flow->answer != LIBUSB_ERROR_PIPE)
        return;
    (void)libusb_clear_halt(flow->device->handle, flow->device->shape.in);
    if (flow->device->shape.out != 0)
        (void)libusb_clear_halt(flow->device->handle, flow->device->shape.out);
}

void usb_flow_end(struct usb_flow *flow)
{
    uint64_t until_us = os_monotonic_us() + CANCEL_MAX_MS * UINT64_C(1000);
    os_mutex_lock(flow->lock);
    failure_note(flow, LIBUSB_ERROR_INTERRUPTED); /* nothing is submitted any more */
    for (uint32_t i = 0; i < SLOT_COUNT; i++)
        slot_cancel(&flow->input[i]);
    slot_cancel(&flow->output);
    while (under_way(flow) && !flow->ending && os_condition_wait(flow->changed, flow->lock, until_us)) {
    }
    flow->ending = true;
    os_mutex_unlock(flow->lock);
    libusb_interrupt_event_handler(flow->device->context);
    os_thread_join(flow->memory, flow->thread);
    halt_clear(flow);
    flow_free(flow);
}

/* ---- The lane's thread ---- */

const struct os_signal *usb_flow_signal(const struct usb_flow *flow)
{
    return flow->signal;
}

/* Under the lock: gives the oldest buffer back and goes on with the next. */
static void oldest_give_back(struct usb_flow *flow)
{
    struct slot *slot = &flow->input[flow->oldest];
    flow->taken = 0;
    flow->oldest = (flow->oldest + 1) % SLOT_COUNT;
    slot_submit(slot);
}

/* Under the lock. False = nothing has come. */
static bool oldest_read(struct usb_flow *flow, uint8_t *bytes, uint32_t capacity, uint32_t *length)
{
    while (flow->input[flow->oldest].state == SLOT_FULL && flow->input[flow->oldest].filled == 0)
        oldest_give_back(flow);
    struct slot *slot = &flow->input[flow->oldest];
    if (slot->state != SLOT_FULL)
        return false;
    uint32_t left = slot->filled - flow->taken;
    *length = left < capacity ? left : capacity;
    memcpy(bytes, slot->bytes + flow->taken, *length);
    flow->taken += *length;
    if (flow->taken == slot->filled)
        oldest_give_back(flow);
    return true;
}

int32_t usb_flow_read(struct usb_flow *flow, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                      cfoil_error_info *error)
{
    os_mutex_lock(flow->lock);
    bool came = oldest_read(flow, bytes, capacity, length);
    int answer = came ? LIBUSB_SUCCESS : flow->answer;
    if (!came && answer == LIBUSB_SUCCESS)
        os_signal_clear(flow->signal);
    os_mutex_unlock(flow->lock);
    return answer == LIBUSB_SUCCESS ? CFOIL_OK : usb_use_failure(error, answer);
}

/* Under the lock, which it lets go while it waits. False = the transfer is still under way. */
static bool output_wait(struct usb_flow *flow, uint32_t wait_ms)
{
    uint64_t until_us = os_monotonic_us() + (uint64_t)wait_ms * 1000;
    while (flow->output.state == SLOT_UNDER_WAY && !flow->ending &&
           os_condition_wait(flow->changed, flow->lock, until_us)) {
    }
    return flow->output.state != SLOT_UNDER_WAY;
}

int32_t usb_flow_write(struct usb_flow *flow, const uint8_t *bytes, uint32_t length, cfoil_error_info *error)
{
    const struct usb_shape *shape = &flow->device->shape;
    struct slot *slot = &flow->output;
    os_mutex_lock(flow->lock);
    /* One that never came back has failed the flow. */
    if (flow->answer == LIBUSB_SUCCESS && slot->state == SLOT_IDLE) {
        memcpy(slot->bytes, bytes, length);
        slot_fill(slot, shape->out, shape->out_interrupt, length, output_went, TRANSPORT_WRITE_MAX_MS);
        slot_submit(slot);
        if (!output_wait(flow, TRANSPORT_WRITE_MAX_MS + STATUS_MS)) {
            failure_note(flow, LIBUSB_ERROR_TIMEOUT);
            slot_cancel(slot);
        }
    }
    int answer = flow->answer;
    if (answer == LIBUSB_SUCCESS && slot->filled < length)
        answer = LIBUSB_ERROR_IO;
    os_mutex_unlock(flow->lock);
    return answer == LIBUSB_SUCCESS ? CFOIL_OK : usb_use_failure(error, answer);
}
