/*
 * Does the adapter do its duties? The device is played by hand on a virtual clock, one byte at a time: nothing waits,
 * nothing happens by chance.
 */
#include <counterfoil/adapter.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { EVENTS_MAX = 32, STATE_MAX = 4096 };

/* The core, as far as an adapter sees it. */
static struct {
    const cfoil_adapter *adapter;
    _Alignas(max_align_t) uint8_t state[STATE_MAX];
    uint64_t now_us;
    uint64_t due_us;
    char asked[160]; /* what was sent since the last look */
    cfoil_adapter_event events[EVENTS_MAX];
    uint32_t count;
    int32_t lane_state;
    int32_t lane_result;
    uint8_t memory[64];
    uint32_t memory_length;
    char device[40];
    char error[160];
} rig;

static int failures;

#define CHECK(condition)                                                                                               \
    do {                                                                                                               \
        if (!(condition)) {                                                                                            \
            fprintf(stderr, "%s:%d: %s\n", __FILE__, __LINE__, #condition);                                            \
            failures++;                                                                                                \
        }                                                                                                              \
    } while (0)

static void host_send(void *user, const uint8_t *bytes, uint32_t length)
{
    (void)user;
    size_t used = strlen(rig.asked);
    if (used + length < sizeof rig.asked)
        memcpy(rig.asked + used, bytes, length);
}

static void host_event(void *user, const cfoil_adapter_event *event)
{
    (void)user;
    if (rig.count < EVENTS_MAX)
        rig.events[rig.count++] = *event;
}

static void host_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    (void)user;
    (void)text;
    rig.lane_state = lane_state;
    rig.lane_result = result;
}

static void host_log(void *user, int32_t level, const char *key, const char *text)
{
    (void)user;
    (void)level;
    (void)key;
    (void)text;
}

static uint32_t host_memory_load(void *user, const char *device, uint8_t *bytes, uint32_t capacity)
{
    (void)user;
    if (strcmp(device, rig.device) != 0)
        return 0;
    memcpy(bytes, rig.memory, rig.memory_length < capacity ? rig.memory_length : capacity);
    return rig.memory_length;
}

static void host_memory_store(void *user, const char *device, const uint8_t *bytes, uint32_t length)
{
    (void)user;
    snprintf(rig.device, sizeof rig.device, "%s", device);
    memcpy(rig.memory, bytes, length);
    rig.memory_length = length;
}

static const cfoil_adapter_host host = {
    .struct_size = sizeof host,
    .send = host_send,
    .event = host_event,
    .state = host_state,
    .log = host_log,
    .memory_load = host_memory_load,
    .memory_store = host_memory_store,
};

static void step(const char *bytes, uint32_t length)
{
    cfoil_adapter_input input = {
        .struct_size = sizeof input, .length = length, .bytes = (const uint8_t *)bytes, .now_us = rig.now_us};
    rig.due_us = rig.adapter->step(rig.state, &input);
}

/* What the adapter asks when its time has come: the text before the star. */
static const char *asks(void)
{
    static char text[160];
    for (int i = 0; i < 40 && rig.asked[0] == '\0' && rig.due_us != UINT64_MAX; i++) {
        rig.now_us = rig.due_us > rig.now_us ? rig.due_us : rig.now_us;
        step(NULL, 0);
    }
    snprintf(text, sizeof text, "%s", rig.asked);
    text[strcspn(text, "*")] = '\0';
    memset(rig.asked, 0, sizeof rig.asked);
    return text;
}

/* The device says a line; `damage` is added to its sum. */
static void says_damaged(const char *text, unsigned damage)
{
    char line[256];
    unsigned sum = damage;
    for (const char *at = text; *at != '\0'; at++)
        sum += (unsigned char)*at;
    int length = snprintf(line, sizeof line, "%s*%02X\n", text, sum % 256);
    for (int i = 0; i < length; i++) {
        rig.now_us += 1000;
        step(line + i, 1);
    }
}

static void says(const char *text)
{
    says_damaged(text, 0);
}

static int32_t open_with(int32_t accept, const cfoil_adapter_setting *settings, uint32_t count)
{
    cfoil_adapter_start start = {.struct_size = sizeof start,
                                 .setting_count = count,
                                 .settings = settings,
                                 .host = &host,
                                 .now_us = rig.now_us,
                                 .accept = accept,
                                 .error_capacity = sizeof rig.error,
                                 .error = rig.error,
                                 .adapter = rig.adapter};
    memset(rig.state, 0, sizeof rig.state);
    memset(rig.asked, 0, sizeof rig.asked);
    rig.count = 0;
    rig.due_us = rig.now_us;
    return rig.adapter->open(rig.state, &start);
}

static void forget(void)
{
    rig.device[0] = '\0';
    rig.memory_length = 0;
}

#define IDENTITY(boot, newest) "I,7," boot "," newest ",EUR,500,1000"

/* A device in its boot `1` that has told `newest` events and takes notes. */
static void begin(const char *identity)
{
    CHECK(open_with(CFOIL_ACCEPT_HOLD, NULL, 0) == CFOIL_OK);
    CHECK(strcmp(asks(), "I") == 0);
    says(identity);
    CHECK(strcmp(asks(), "M,1") == 0);
    says("M,1");
    CHECK(rig.lane_state == CFOIL_LANE_ACCEPTING);
    CHECK(rig.events[rig.count - 1].condition == CFOIL_CONDITION_IDENTIFIED);
    rig.count = 0;
}

static void answer(const char *question, const char *text)
{
    const char *asked = asks();
    if (strcmp(asked, question) != 0)
        fprintf(stderr, "asked '%s', not '%s'\n", asked, question);
    CHECK(strcmp(asked, question) == 0);
    says(text);
}

static bool told(uint32_t index, int32_t kind, int64_t value_minor)
{
    return index < rig.count && rig.events[index].kind == kind && rig.events[index].value_minor == value_minor;
}

static bool told_condition(uint32_t index, int32_t condition)
{
    return index < rig.count && rig.events[index].condition == condition;
}

/* ---- The duties ---- */

static void a_note_is_one_credit(void)
{
    forget();
    begin(IDENTITY("1", "0"));
    answer("P,0", "E,1,H,2");
    answer("P,1", "N,1");
    CHECK(told(0, CFOIL_KIND_HELD, 1000) && strcmp(rig.events[0].currency, "EUR") == 0);
    CHECK(rig.adapter->command(rig.state, CFOIL_COMMAND_STACK, 0, rig.now_us) == CFOIL_OK);
    answer("S,1", "S,1,1");
    answer("P,1", "E,2,S,2");
    answer("P,2", "E,2,S,2"); /* the device repeats itself */
    answer("P,2", "N,2");
    CHECK(rig.count == 2 && told(1, CFOIL_KIND_STACKED, 1000));
    CHECK(strcmp(rig.events[1].raw_text, "S,2") == 0 && rig.events[1].flags == 0);
    CHECK(rig.adapter->command(rig.state, CFOIL_COMMAND_RETURN, 0, rig.now_us) == CFOIL_E_STATE_NO_NOTE);
}

static void lost_and_damaged_answers_cost_nothing(void)
{
    forget();
    begin(IDENTITY("1", "0"));
    CHECK(strcmp(asks(), "P,0") == 0);
    says_damaged("E,1,S,1", 1);
    answer("P,0", "E,1,S,1"); /* asked again after a while */
    says("E,2,S,1");          /* nobody asked: it will be asked for */
    answer("P,1", "E,2,S,1");
    CHECK(rig.count == 2 && told(0, CFOIL_KIND_STACKED, 500) && told(1, CFOIL_KIND_STACKED, 500));
    char endless[300];
    memset(endless, 'E', sizeof endless);
    step(endless, sizeof endless);
    step("\n", 1);
    answer("P,2", "N,2");
    CHECK(rig.count == 2);
}

static void a_decision_is_about_one_note(void)
{
    forget();
    begin(IDENTITY("1", "0"));
    answer("P,0", "E,1,H,1");
    answer("P,1", "N,1");
    CHECK(rig.adapter->command(rig.state, CFOIL_COMMAND_RETURN, 0, rig.now_us) == CFOIL_OK);
    CHECK(strcmp(asks(), "B,1") == 0); /* the answer is lost */
    answer("B,1", "B,1,0");            /* it went back meanwhile */
    answer("P,1", "E,2,B,1");
    answer("P,2", "E,3,H,2");
    answer("P,3", "N,3");
    CHECK(rig.count == 3 && told(1, CFOIL_KIND_RETURNED, 500) && told(2, CFOIL_KIND_HELD, 1000));
    CHECK(rig.adapter->command(rig.state, CFOIL_COMMAND_HOLD, 60000, rig.now_us) == CFOIL_OK);
    const char *asked = asks();
    for (int i = 0; i < 60 && strcmp(asked, "P,3") == 0; i++, asked = asks())
        says("N,3");
    CHECK(strcmp(asked, "K,3") == 0);
    says("K,3,1");
    answer("P,3", "N,3");
}

static void a_gap_is_told(void)
{
    forget();
    begin(IDENTITY("1", "0"));
    answer("P,0", "E,5,S,1");
    CHECK(rig.count == 2 && told_condition(0, CFOIL_CONDITION_COUNTER_GAP) && rig.events[0].lost_count == 4);
    CHECK(told(1, CFOIL_KIND_STACKED, 500));
}

static void nothing_unknown_is_money(void)
{
    forget();
    begin(IDENTITY("1", "0"));
    answer("P,0", "E,1,S,3");
    answer("P,1", "E,2,Q,1");
    answer("P,2", "E,3,R,9");
    answer("P,3", "E,4,R,2");
    CHECK(told_condition(0, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED));
    CHECK(told_condition(1, CFOIL_CONDITION_UNKNOWN_CODE) && told_condition(2, CFOIL_CONDITION_UNKNOWN_CODE));
    CHECK(told(3, CFOIL_KIND_REJECTED, 0) && rig.events[3].reason == CFOIL_REASON_AUTHENTICITY);
    for (uint32_t i = 0; i < rig.count; i++)
        CHECK(rig.events[i].kind != CFOIL_KIND_STACKED);
}

static void an_old_buffer_is_not_credited_again(void)
{
    forget();
    begin(IDENTITY("1", "6"));
    answer("P,6", "N,6");
    CHECK(rig.count == 0);
}

static void what_happened_meanwhile_is_told_once(void)
{
    forget();
    begin(IDENTITY("1", "6"));
    begin(IDENTITY("1", "7")); /* the host was started again */
    answer("P,6", "E,7,S,1");
    answer("P,7", "E,8,S,1");
    CHECK(rig.count == 2 && rig.events[0].flags == CFOIL_EVENT_WHILE_AWAY && rig.events[1].flags == 0);
    begin(IDENTITY("1", "8"));
    answer("P,8", "N,8");
    CHECK(rig.count == 0);
}

static void a_power_cut_is_told(void)
{
    forget();
    begin(IDENTITY("1", "0"));
    answer("P,0", "E,1,H,1");
    answer("P,1", "R");
    CHECK(told_condition(1, CFOIL_CONDITION_RESTARTED) && told_condition(2, CFOIL_CONDITION_OUTCOME_UNKNOWN));
    answer("I", IDENTITY("2", "0"));
    CHECK(told_condition(3, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT));
    answer("M,1", "M,1");
    answer("P,0", "E,1,S,1");
    CHECK(told(rig.count - 1, CFOIL_KIND_STACKED, 500));
}

static void jams_and_silence_are_told(void)
{
    forget();
    begin(IDENTITY("1", "0"));
    answer("P,0", "E,1,J,0");
    CHECK(rig.lane_state == CFOIL_LANE_FAULT && rig.lane_result == CFOIL_E_DEVICE_FAULT);
    answer("P,1", "E,2,C,0");
    CHECK(rig.lane_state == CFOIL_LANE_ACCEPTING);
    for (int i = 0; i < 20 && rig.lane_state != CFOIL_LANE_LOST; i++)
        (void)asks();
    CHECK(rig.lane_state == CFOIL_LANE_LOST && rig.lane_result == CFOIL_E_DEVICE_SILENT);
    answer("I", IDENTITY("1", "2"));
    answer("M,1", "M,1");
    CHECK(rig.lane_state == CFOIL_LANE_ACCEPTING);
}

static void another_device_and_bad_settings_are_refused(void)
{
    const cfoil_adapter_setting good = {"poll_ms", "50"};
    const cfoil_adapter_setting bad[] = {{"poll_ms", "5"}, {"poll_ms", "x"}, {"speed", "50"}};
    forget();
    CHECK(open_with(CFOIL_ACCEPT_NONE, &good, 1) == CFOIL_OK);
    answer("I", "I,7,1,0,EURO,500");
    CHECK(rig.lane_state == CFOIL_LANE_ENDED && rig.lane_result == CFOIL_E_DEVICE_WRONG);
    CHECK(asks()[0] == '\0' && rig.due_us == UINT64_MAX);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        CHECK(open_with(CFOIL_ACCEPT_NONE, &bad[i], 1) == CFOIL_E_ARGUMENT_SETTING && rig.error[0] != '\0');
}

static void notes_are_off_at_the_end(void)
{
    forget();
    begin(IDENTITY("1", "0"));
    CHECK(rig.adapter->command(rig.state, CFOIL_COMMAND_ACCEPT, 7, rig.now_us) == CFOIL_E_ARGUMENT_RANGE);
    CHECK(rig.adapter->command(rig.state, 99, 0, rig.now_us) == CFOIL_E_ARGUMENT_RANGE);
    CHECK(rig.adapter->command(rig.state, CFOIL_COMMAND_QUIT, 0, rig.now_us) == CFOIL_OK);
    CHECK(strcmp(asks(), "M,0") == 0);
}

int main(void)
{
    CHECK(counterfoil_adapter_entry(CFOIL_ADAPTER_API + 1) == NULL);
    rig.adapter = counterfoil_adapter_entry(CFOIL_ADAPTER_API);
    if (rig.adapter == NULL || rig.adapter->state_size > STATE_MAX)
        return 1;
    a_note_is_one_credit();
    lost_and_damaged_answers_cost_nothing();
    a_decision_is_about_one_note();
    a_gap_is_told();
    nothing_unknown_is_money();
    an_old_buffer_is_not_credited_again();
    what_happened_meanwhile_is_told_once();
    a_power_cut_is_told();
    jams_and_silence_are_told();
    another_device_and_bad_settings_are_refused();
    notes_are_off_at_the_end();
    if (failures == 0)
        puts("the adapter does its duties");
    return failures == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
