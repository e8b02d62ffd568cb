/*
 * How does a lane begin and end, and what may the host ask of it? See lane.h.
 */
#include "lane/lane.h"

#include "lane/parts.h"
#include "ledger/ledger.h"
#include "model/error.h"
#include "model/text.h"
#include "os/os.h"
#include "transport/trace.h"
#include "transport/transport.h"

#include <stdio.h>
#include <string.h>

#define AREA              "lane"
#define PATH_TEXT_MAX     4095
#define QUEUE_MIN         8
#define QUEUE_MAX         65536
#define QUEUE_DEFAULT     256
#define RECONNECT_MIN     100
#define RECONNECT_MAX     60000
#define RECONNECT_DEFAULT 5000
#define FAILING_AFTER_MS  10000
#define HOLD_MAX_MS       600000
#define WAIT_MAX_MS       3600000

/* ---- Checking the options ---- */

static bool between(uint32_t value, uint32_t low, uint32_t high)
{
    return value >= low && value <= high;
}

static int32_t options_check(const cfoil_lane_options *options, cfoil_error_info *error)
{
    if (options->name != NULL && !text_acceptable(options->name, 1, LANE_NAME_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA, "The name of a lane must be 1 to 32 bytes of UTF-8.");
    if (options->record_path != NULL && !text_acceptable(options->record_path, 1, PATH_TEXT_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA,
                         "record_path must be a path of 1 to 4095 bytes of UTF-8.");
    if (options->accept < CFOIL_ACCEPT_NONE || options->accept > CFOIL_ACCEPT_ALL)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "accept must be one of CFOIL_ACCEPT_*.");
    if (options->queue_length != 0 && !between(options->queue_length, QUEUE_MIN, QUEUE_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "queue_length must be 8 to 65536, or 0.");
    if (options->reconnect_ms != 0 && !between(options->reconnect_ms, RECONNECT_MIN, RECONNECT_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "reconnect_ms must be 100 to 60000, or 0.");
    return transport_port_check(options->port, error);
}

/* ---- A trial of the settings, on a state that is thrown away ---- */

static void trial_send(void *user, const uint8_t *bytes, uint32_t length)
{
    (void)user;
    (void)bytes;
    (void)length;
}

static void trial_event(void *user, const cfoil_adapter_event *event)
{
    (void)user;
    (void)event;
}

static void trial_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    (void)user;
    (void)lane_state;
    (void)result;
    (void)text;
}

static void trial_log(void *user, int32_t level, const char *key, const char *text)
{
    (void)user;
    (void)level;
    (void)key;
    (void)text;
}

static uint32_t trial_load(void *user, const char *device, uint8_t *bytes, uint32_t capacity)
{
    (void)user;
    (void)device;
    (void)bytes;
    (void)capacity;
    return 0;
}

static void trial_store(void *user, const char *device, const uint8_t *bytes, uint32_t length)
{
    (void)user;
    (void)device;
    (void)bytes;
    (void)length;
}

static int32_t settings_try(const struct lane *lane, cfoil_error_info *error)
{
    const cfoil_adapter_host host = {.struct_size = sizeof host,
                                     .send = trial_send,
                                     .event = trial_event,
                                     .state = trial_state,
                                     .log = trial_log,
                                     .memory_load = trial_load,
                                     .memory_store = trial_store};
    char text[256] = "";
    cfoil_adapter_start start = {.struct_size = sizeof start,
                                 .setting_count = lane->settings.count,
                                 .settings = lane->settings.items,
                                 .host = &host,
                                 .accept = lane->accept,
                                 .error_capacity = sizeof text,
                                 .error = text,
                                 .adapter = lane->adapter};
    int32_t result = lane->adapter->open(lane->adapter_state, &start);
    if (result != CFOIL_OK)
        return error_set(error, result, 0, lane->adapter->id, "%s",
                         text[0] != '\0' ? text : "The adapter does not start with these settings.");
    if (lane->adapter->close != NULL)
        lane->adapter->close(lane->adapter_state);
    return CFOIL_OK;
}

/* ---- Creating ---- */

/* The settings as the adapter gets them, and how its words or lines travel. */
static int32_t settings_read(struct lane *lane, const char *text, cfoil_error_info *error)
{
    int32_t result = settings_parse(text, &lane->settings, error);
    return result != CFOIL_OK ? result
                              : transport_way_find(lane->adapter, lane->port_text, &lane->settings, &lane->way, error);
}

/* A trace has the adapter's own settings: the host may give the same, and a carrier, which a replay does not use. */
static int32_t player_settings_read(struct lane *lane, const char *given, const char *recorded, cfoil_error_info *error)
{
    char given_text[SETTINGS_TEXT_MAX + 1];
    char recorded_text[SETTINGS_TEXT_MAX + 1];
    int32_t result = settings_read(lane, given, error);
    if (result != CFOIL_OK)
        return result;
    settings_join(&lane->settings, given_text);
    result = settings_read(lane, recorded, error);
    if (result != CFOIL_OK)
        return result;
    settings_join(&lane->settings, recorded_text);
    if (given_text[0] != '\0' && strcmp(given_text, recorded_text) != 0)
        return error_set(error, CFOIL_E_ARGUMENT_SETTING, 0, AREA,
                         "A replay takes its settings from the trace: give none.");
    return CFOIL_OK;
}

static int32_t player_open(struct lane *lane, const char *path, const char *settings, cfoil_error_info *error)
{
    struct trace_reader *reader;
    struct trace_target target;
    int32_t result = trace_reader_open(lane->memory, path, &reader, error);
    if (result != CFOIL_OK)
        return result;
    result = trace_player_create(lane->memory, reader, lane_replay_target(lane, &target), TRACE_WHOLE, 0, &lane->player,
                                 error);
    if (result != CFOIL_OK)
        return result;
    const struct trace_header *header = trace_player_header(lane->player);
    if (strcmp(header->adapter, lane->adapter->id) != 0)
        return error_set(error, CFOIL_E_DATA_TRACE, 0, AREA, "The trace is of adapter %s: open the lane with that one.",
                         header->adapter);
    lane->accept = header->accept;
    return player_settings_read(lane, settings, header->settings, error);
}

static int32_t writer_open(struct lane *lane, const char *path, cfoil_error_info *error)
{
    struct trace_header header = {.accept = lane->accept, .captured = true};
    text_copy(header.adapter, sizeof header.adapter, lane->adapter->id);
    settings_join(&lane->settings, header.settings);
    if (lane->player != NULL)
        header = *trace_player_header(lane->player);
    return trace_writer_open(lane->memory, path, &header, &lane->writer, error);
}

/* Everything but the thread and the trace that is written. */
static int32_t parts_create(struct lane *lane, const cfoil_lane_options *options, cfoil_error_info *error)
{
    uint32_t queue_length = options->queue_length != 0 ? options->queue_length : QUEUE_DEFAULT;
    lane->adapter_state = memory_allocate(lane->memory, lane->adapter->state_size);
    if (lane->adapter_state == NULL || !queue_create(&lane->queue, lane->memory, queue_length))
        return error_memory_set(error, AREA);
    lane->lock = os_mutex_create(lane->memory);
    lane->changed = os_condition_create(lane->memory);
    lane->wake = os_signal_create(lane->memory);
    if (lane->lock == NULL || lane->changed == NULL || lane->wake == NULL)
        return error_set(error, CFOIL_E_SYSTEM_OS, 0, AREA, "The system gives no lock or no pipe for a lane.");
    struct port port;
    int32_t result = port_parse(options->port, &port, error);
    if (result != CFOIL_OK)
        return result;
    lane->replay = port.kind == PORT_TRACE;
    lane->messages = port.kind == PORT_USB;
    lane->plugged = port.kind == PORT_USB || port.kind == PORT_SERIAL;
    return lane->replay ? player_open(lane, port.place, options->settings, error)
                        : settings_read(lane, options->settings, error);
}

static int32_t lane_begin(struct lane *lane, const cfoil_lane_options *options, cfoil_error_info *error)
{
    int32_t result = parts_create(lane, options, error);
    if (result == CFOIL_OK)
        result = settings_try(lane, error);
    if (result == CFOIL_OK && options->record_path != NULL)
        result = writer_open(lane, options->record_path, error);
    if (result != CFOIL_OK)
        return result;
    lane->accept_seen = lane->accept;
    lane->start_us = os_monotonic_us();
    lane->thread = os_thread_start(lane->memory, "cfoil-lane", lane_run, lane);
    if (lane->thread != NULL)
        return CFOIL_OK;
    if (lane->writer != NULL)
        (void)remove(options->record_path); /* it holds nothing, and nothing is left half done */
    return error_set(error, CFOIL_E_SYSTEM_THREAD, 0, AREA, "The system starts no thread for the lane.");
}

static struct lane *lane_make(const struct lane_setup *setup)
{
    const cfoil_lane_options *options = setup->options;
    struct lane *made = memory_allocate(setup->memory, sizeof *made);
    if (made == NULL)
        return NULL;
    made->memory = setup->memory;
    made->adapter = setup->adapter;
    made->log = setup->log;
    made->accept = options->accept;
    made->reconnect_ms = options->reconnect_ms != 0 ? options->reconnect_ms : RECONNECT_DEFAULT;
    uint32_t failing_after_ms = setup->failing_after_ms != 0 ? setup->failing_after_ms : FAILING_AFTER_MS;
    made->failing_after_us = (uint64_t)failing_after_ms * 1000;
    made->error.struct_size = sizeof made->error;
    if (setup->ledger != NULL)
        made->ledger = ledger_retain(setup->ledger);
    text_copy(made->name, sizeof made->name, options->name != NULL ? options->name : "lane");
    text_copy(made->port_text, sizeof made->port_text, options->port);
    host_table_fill(made);
    return made;
}

int32_t lane_create(const struct lane_setup *setup, struct lane **lane, cfoil_error_info *error)
{
    *lane = NULL;
    int32_t result = options_check(setup->options, error);
    if (result != CFOIL_OK)
        return result;
    struct lane *made = lane_make(setup);
    if (made == NULL)
        return error_memory_set(error, AREA);
    result = lane_begin(made, setup->options, error);
    if (result == CFOIL_OK)
        *lane = made;
    else
        lane_destroy(made);
    return result;
}

/* ---- Ending ---- */

static void waiters_wake(struct lane *lane)
{
    if (lane->watch != NULL)
        os_signal_set(lane->watch); /* who watches the handle shall come and see */
    os_condition_wake_all(lane->changed);
}

void lane_stop(struct lane *lane)
{
    os_mutex_lock(lane->lock);
    struct os_thread *thread = lane->thread;
    lane->thread = NULL;
    lane->closing = true;
    waiters_wake(lane);
    os_mutex_unlock(lane->lock);
    os_signal_set(lane->wake);
    os_thread_join(lane->memory, thread);
}

void lane_shutdown(struct lane *lane)
{
    os_mutex_lock(lane->lock);
    lane->shutdown = true;
    waiters_wake(lane);
    os_mutex_unlock(lane->lock);
}

void lane_destroy(struct lane *lane)
{
    if (lane == NULL)
        return;
    const struct memory *memory = lane->memory;
    trace_writer_close(lane->writer);
    trace_player_destroy(lane->player);
    os_signal_destroy(memory, lane->watch);
    os_signal_destroy(memory, lane->wake);
    os_condition_destroy(memory, lane->changed);
    os_mutex_destroy(memory, lane->lock);
    queue_destroy(&lane->queue, memory);
    memory_release(memory, lane->adapter_state);
    ledger_release(lane->ledger);
    memory_release(memory, lane);
}

/* ---- Events for the host ---- */

static int32_t host_state(const struct lane *lane)
{
    return lane->closing ? CFOIL_E_STATE_CLOSING : lane->shutdown ? CFOIL_E_STATE_SHUTDOWN : CFOIL_OK;
}

/* Takes an event under the lock. *wake = the lane's thread has something to do now. */
static bool event_take(struct lane *lane, cfoil_event *event, bool *wake)
{
    uint32_t struct_size = event->struct_size;
    if (!queue_pop(&lane->queue, event))
        return false;
    event->struct_size = struct_size;
    if (lane->queue.count == 0 && lane->watch != NULL)
        os_signal_clear(lane->watch);
    if (lane->replay)
        os_condition_wake_all(lane->changed); /* there is room again */
    *wake = lane->queue.dropped > 0;
    return true;
}

int32_t lane_wait(struct lane *lane, uint32_t timeout_ms, cfoil_event *event)
{
    if (timeout_ms > WAIT_MAX_MS)
        return CFOIL_E_ARGUMENT_RANGE;
    uint64_t until_us = timeout_ms != 0 ? os_monotonic_us() + (uint64_t)timeout_ms * 1000 : 0;
    bool wake = false;
    os_mutex_lock(lane->lock);
    int32_t result = host_state(lane);
    while (result == CFOIL_OK && !event_take(lane, event, &wake)) {
        bool in_time = timeout_ms != 0 && os_condition_wait(lane->changed, lane->lock, until_us);
        result = host_state(lane);
        if (result == CFOIL_OK && !in_time && lane->queue.count == 0)
            result = CFOIL_E_TIME_OUT;
    }
    os_mutex_unlock(lane->lock);
    if (wake)
        os_signal_set(lane->wake);
    return result;
}

int32_t lane_wait_handle(struct lane *lane, intptr_t *handle)
{
    os_mutex_lock(lane->lock);
    if (lane->watch == NULL) {
        lane->watch = os_signal_create(lane->memory);
        if (lane->watch != NULL && (lane->queue.count > 0 || host_state(lane) != CFOIL_OK))
            os_signal_set(lane->watch);
    }
    int32_t result = lane->watch != NULL ? CFOIL_OK
                                         : error_set(&lane->error, CFOIL_E_SYSTEM_OS, 0, AREA,
                                                     "The system gives no pipe for a wait handle.");
    if (result == CFOIL_OK)
        *handle = os_signal_handle(lane->watch);
    os_mutex_unlock(lane->lock);
    return result;
}

/* ---- Commands of the host ---- */

static int32_t refuse(struct lane *lane, int32_t result, const char *text)
{
    return error_set(&lane->error, result, 0, AREA, "%s", text);
}

/* May the host command anything now? Under the lock. */
static int32_t command_allowed(struct lane *lane)
{
    int32_t result = host_state(lane);
    if (result != CFOIL_OK)
        return result;
    return lane->replay ? refuse(lane, CFOIL_E_STATE_REPLAY, "A replay takes its commands from the trace.") : CFOIL_OK;
}

int32_t lane_accept(struct lane *lane, int32_t accept)
{
    if (accept < CFOIL_ACCEPT_NONE || accept > CFOIL_ACCEPT_ALL)
        return CFOIL_E_ARGUMENT_RANGE;
    os_mutex_lock(lane->lock);
    int32_t result = command_allowed(lane);
    /* Nobody is called from the opening of a port for it: the adapter begins with what is wanted then. */
    bool wake = result == CFOIL_OK && lane->served;
    if (result == CFOIL_OK) {
        lane->accept = accept;
        lane->accept_count++;
    }
    os_mutex_unlock(lane->lock);
    if (wake)
        os_signal_set(lane->wake);
    return result;
}

/* Is this presentation the note in escrow, and not yet decided otherwise? */
static int32_t note_check(struct lane *lane, uint64_t presentation, int32_t command)
{
    const struct held_note *held = &lane->held;
    int32_t result = command_allowed(lane);
    if (result != CFOIL_OK)
        return result;
    if (presentation == 0 || presentation != held->presentation)
        return refuse(lane, CFOIL_E_STATE_NO_NOTE, "No note of that presentation is held.");
    if (held->stack_asked && command != CFOIL_COMMAND_STACK)
        return refuse(lane, CFOIL_E_STATE_NOT_READY,
                      "The note was sent to the cash box already: wait for the outcome.");
    if (held->return_asked && command != CFOIL_COMMAND_RETURN)
        return refuse(lane, CFOIL_E_STATE_NOT_READY, "The note was sent back already: wait for the outcome.");
    if (lane->command_count == LANE_COMMANDS_MAX)
        return refuse(lane, CFOIL_E_STATE_NOT_READY, "Too many commands are waiting: try again in a moment.");
    return CFOIL_OK;
}

/* Under the lock. Asking the same again is answered the same, and sent once. */
static bool command_put(struct lane *lane, int32_t command, int32_t argument)
{
    bool *asked = command == CFOIL_COMMAND_STACK    ? &lane->held.stack_asked
                  : command == CFOIL_COMMAND_RETURN ? &lane->held.return_asked
                                                    : NULL;
    if (asked != NULL && *asked)
        return false;
    if (asked != NULL)
        *asked = true;
    lane->commands[lane->command_count++] = (struct lane_command){
        .command = command, .argument = argument, .presentation = lane->held.presentation};
    return true;
}

static int32_t note_command(struct lane *lane, uint64_t presentation, int32_t command, int32_t argument)
{
    os_mutex_lock(lane->lock);
    int32_t result = note_check(lane, presentation, command);
    bool wake = result == CFOIL_OK && command_put(lane, command, argument);
    os_mutex_unlock(lane->lock);
    if (wake)
        os_signal_set(lane->wake);
    return result;
}

int32_t lane_note_stack(struct lane *lane, uint64_t presentation)
{
    return note_command(lane, presentation, CFOIL_COMMAND_STACK, 0);
}

int32_t lane_note_return(struct lane *lane, uint64_t presentation)
{
    return note_command(lane, presentation, CFOIL_COMMAND_RETURN, 0);
}

int32_t lane_note_hold(struct lane *lane, uint64_t presentation, uint32_t hold_ms)
{
    if (hold_ms > HOLD_MAX_MS)
        return CFOIL_E_ARGUMENT_RANGE;
    return note_command(lane, presentation, CFOIL_COMMAND_HOLD, (int32_t)hold_ms);
}

void lane_error_read(struct lane *lane, cfoil_error_info *error)
{
    uint32_t struct_size = error->struct_size;
    os_mutex_lock(lane->lock);
    *error = lane->error;
    os_mutex_unlock(lane->lock);
    error->struct_size = struct_size;
}

const char *lane_name(const struct lane *lane)
{
    return lane->name;
}
