/*
 * A small adapter that is whole: how does one device's protocol become what a till can act on?
 * Copy this folder, put your device's protocol in the place of the invented one (README.md), and keep the shape.
 */
#include <counterfoil/adapter.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#define MS(milliseconds) (UINT64_C(1000) * (milliseconds))

/* README.md, "The protocol": the device is invented, so every number here is ours. */
enum { LINE_MAX = 80, FIELDS_MAX = 12, NOTES_MAX = 8, MEMORY_SIZE = 8 };
#define ANSWER_US MS(300)  /* then the question is asked again */
#define LOST_US   MS(2000) /* then the device counts as lost */
#define KEEP_US   MS(5000) /* a held note stays for 10 s, longer only when the device is asked to keep it */

enum stage { STAGE_IDENTITY, STAGE_RUN, STAGE_ENDED };

struct session {
    const cfoil_adapter_host *host;
    uint64_t now_us;
    uint64_t poll_us;  /* pause between polls: the setting poll_ms */
    uint64_t next_us;  /* when to ask next, if no answer is open */
    uint64_t asked_us; /* when the open question went out */
    uint64_t heard_us; /* when the device last said something whole */
    enum stage stage;
    char question; /* its letter; 0 = no answer is open */
    bool lost;
    bool jammed;
    bool known;      /* boot and number are right */
    bool while_away; /* the event being told happened while nobody listened */

    uint32_t boot;        /* how often the device was switched on: the count of its events begins anew then */
    uint32_t number;      /* the last event that was told */
    uint32_t away_number; /* events up to this one happened while nobody listened */

    int32_t accept;         /* wanted by the host */
    int32_t mode;           /* confirmed by the device; -1 = not known */
    uint32_t held;          /* the number of the event that told the note in escrow; 0 = none */
    uint64_t hold_until_us; /* as long as the host wants it kept */
    uint64_t kept_us;       /* when the device was last asked to keep it */
    char decision;          /* 'S' or 'B' to be sent for that note; 0 = none */
    uint32_t value_count;
    int64_t values[NOTES_MAX]; /* of the note types 1.., as the device told */
    char currency[4];
    char device[40]; /* the name under which its counter is remembered */

    uint32_t length; /* of the line that is coming in */
    bool overlong;
    char line[LINE_MAX + 1];
};

/* ---- Telling the core ---- */

static void state_tell(const struct session *session, int32_t state, int32_t result, const char *text)
{
    session->host->state(session->host->user, state, result, text);
}

/* Every event begins as this: the raw words of the device are always kept. */
static cfoil_adapter_event event_make(const struct session *session, int32_t kind, const char *raw, const char *text)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = kind;
    event.flags = session->while_away ? CFOIL_EVENT_WHILE_AWAY : 0;
    snprintf(event.raw_text, sizeof event.raw_text, "%s", raw);
    snprintf(event.text, sizeof event.text, "%s", text);
    size_t length = strlen(raw);
    event.raw_length = (uint32_t)(length < CFOIL_RAW_MAX ? length : CFOIL_RAW_MAX);
    memcpy(event.raw, raw, event.raw_length);
    return event;
}

static void event_tell(const struct session *session, const cfoil_adapter_event *event)
{
    session->host->event(session->host->user, event);
}

static void condition_tell(const struct session *session, int32_t condition, const char *raw, const char *text)
{
    cfoil_adapter_event event = event_make(session, CFOIL_KIND_DEVICE, raw, text);
    event.condition = condition;
    event_tell(session, &event);
}

static void lost_tell(const struct session *session, uint32_t count, int32_t condition, const char *text)
{
    cfoil_adapter_event event = event_make(session, CFOIL_KIND_LOST_EVENTS, "", text);
    event.condition = condition;
    event.lost_count = count;
    event_tell(session, &event);
}

static void ready_tell(const struct session *session)
{
    if (session->jammed)
        state_tell(session, CFOIL_LANE_FAULT, CFOIL_E_DEVICE_FAULT, "A note is jammed: clear it.");
    else if (session->mode == CFOIL_ACCEPT_NONE)
        state_tell(session, CFOIL_LANE_IDLE, CFOIL_OK, "No notes are taken.");
    else
        state_tell(session, CFOIL_LANE_ACCEPTING, CFOIL_OK, "Notes are taken.");
}

/* ---- The counter, kept over a restart of the host ---- */

static void number_write(uint8_t *bytes, uint32_t number)
{
    for (int i = 0; i < 4; i++)
        bytes[i] = (uint8_t)(number >> (8 * i));
}

static uint32_t number_read(const uint8_t *bytes)
{
    uint32_t number = 0;
    for (int i = 3; i >= 0; i--)
        number = number << 8 | bytes[i];
    return number;
}

static void memory_store(const struct session *session)
{
    uint8_t bytes[MEMORY_SIZE];
    number_write(bytes, session->boot);
    number_write(bytes + 4, session->number);
    session->host->memory_store(session->host->user, session->device, bytes, sizeof bytes);
}

static bool memory_load(struct session *session)
{
    uint8_t bytes[MEMORY_SIZE] = {0};
    uint32_t length = session->host->memory_load(session->host->user, session->device, bytes, sizeof bytes);
    if (length != MEMORY_SIZE)
        return false;
    session->boot = number_read(bytes);
    session->number = number_read(bytes + 4);
    return true;
}

/* Where does the count go on? A device that nobody knows may hold old events: they are not credited again. */
static void counter_settle(struct session *session, uint32_t boot, uint32_t newest)
{
    if (!session->known && !memory_load(session)) {
        session->number = newest;
    } else if (session->boot != boot) {
        lost_tell(session, 0, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT,
                  "The device was switched off; a note stacked just before may be missing here: count the cash box.");
        session->number = 0;
    } else if (session->number > newest) {
        lost_tell(session, 0, CFOIL_CONDITION_COUNTER_GAP, "The device's counter went back: count the cash box.");
        session->number = newest;
    }
    session->boot = boot;
    session->away_number = newest;
    session->known = true;
    memory_store(session);
}

/* ---- What the device says ---- */

/* Cuts "a,b,c" into its fields. Returns how many there are; 0 = too many. */
static uint32_t fields_cut(char *line, const char *fields[FIELDS_MAX])
{
    uint32_t count = 0;
    for (char *at = line; at != NULL;) {
        if (count == FIELDS_MAX)
            return 0;
        fields[count++] = at;
        at = strchr(at, ',');
        if (at != NULL)
            *at++ = '\0';
    }
    return count;
}

/* Decimal digits only, at most nine of them. */
static bool whole_read(const char *text, uint32_t *value)
{
    size_t length = strlen(text);
    if (length < 1 || length > 9 || strspn(text, "0123456789") != length)
        return false;
    *value = 0;
    for (; *text != '\0'; text++)
        *value = *value * 10 + (uint32_t)(*text - '0');
    return true;
}

static bool values_read(struct session *session, const char *const *fields, uint32_t count)
{
    session->value_count = 0;
    for (uint32_t i = 0; i < count && i < NOTES_MAX; i++) {
        uint32_t value;
        if (!whole_read(fields[i], &value) || value == 0)
            return false;
        session->values[session->value_count++] = value;
    }
    return session->value_count > 0;
}

static bool identity_read(struct session *session, const char *const *fields, uint32_t count)
{
    uint32_t boot;
    uint32_t newest;
    if (count < 6 || strlen(fields[1]) > 16 || strlen(fields[4]) != 3 || !whole_read(fields[2], &boot) ||
        !whole_read(fields[3], &newest) || !values_read(session, fields + 5, count - 5))
        return false;
    memcpy(session->currency, fields[4], sizeof session->currency);
    snprintf(session->device, sizeof session->device, "skeleton/%s", fields[1]);
    counter_settle(session, boot, newest);
    return true;
}

static void identity_take(struct session *session, const char *const *fields, uint32_t count)
{
    if (!identity_read(session, fields, count)) {
        session->stage = STAGE_ENDED;
        state_tell(session, CFOIL_LANE_ENDED, CFOIL_E_DEVICE_WRONG,
                   "The device is not of the kind this adapter is for; nothing more is sent to it.");
        return;
    }
    char text[160];
    snprintf(text, sizeof text, "Skeleton device %s, %u note types in %s.", fields[1], (unsigned)session->value_count,
             session->currency);
    condition_tell(session, CFOIL_CONDITION_IDENTIFIED, "", text);
    session->stage = STAGE_RUN;
    session->mode = -1;
}

/* What each reason of the device may mean. A real table names its source in each row. */
static const struct {
    const char *code;
    int32_t reason;
    uint32_t possible;
    int32_t channel;
    int32_t strength;
    const char *text;
} refusals[] = {
    {"1", CFOIL_REASON_NOT_RECOGNISED, 1u << CFOIL_REASON_NOT_RECOGNISED | 1u << CFOIL_REASON_HANDLING,
     CFOIL_CHANNEL_UNKNOWN, CFOIL_STRENGTH_WEAK, "Not taken: no note that the device knows."},
    {"2", CFOIL_REASON_AUTHENTICITY, 1u << CFOIL_REASON_AUTHENTICITY | 1u << CFOIL_REASON_HANDLING,
     CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_CLEAR, "Not taken: the infrared image could not be confirmed."},
    {"3", CFOIL_REASON_HANDLING, 1u << CFOIL_REASON_HANDLING, CFOIL_CHANNEL_TRANSPORT, CFOIL_STRENGTH_CLEAR,
     "Not taken: the note went in askew; feed it again."},
    {"4", CFOIL_REASON_NOT_ENABLED, 1u << CFOIL_REASON_NOT_ENABLED, CFOIL_CHANNEL_UNKNOWN, CFOIL_STRENGTH_NONE,
     "Not taken: the device was told to take no notes."},
};

static void unknown_tell(const struct session *session, const char *raw)
{
    condition_tell(session, CFOIL_CONDITION_UNKNOWN_CODE, raw, "The device told something this adapter does not know.");
}

static void refusal_tell(const struct session *session, const char *raw, const char *code)
{
    for (size_t i = 0; i < sizeof refusals / sizeof refusals[0]; i++) {
        if (strcmp(refusals[i].code, code) != 0)
            continue;
        cfoil_adapter_event event = event_make(session, CFOIL_KIND_REJECTED, raw, refusals[i].text);
        event.reason = refusals[i].reason;
        event.reasons_possible = refusals[i].possible;
        event.finding_count = refusals[i].strength != CFOIL_STRENGTH_NONE;
        event.findings[0].channel = refusals[i].channel;
        event.findings[0].strength = refusals[i].strength;
        event.findings[0].origin = CFOIL_ORIGIN_DEVICE;
        event_tell(session, &event);
        return;
    }
    unknown_tell(session, raw);
}

/* HELD, STACKED, RETURNED: only for a type whose value the device told. */
static void note_tell(struct session *session, int32_t kind, const char *raw, const char *type_text, const char *text)
{
    uint32_t type;
    if (!whole_read(type_text, &type) || type < 1 || type > session->value_count) {
        if (kind == CFOIL_KIND_STACKED)
            condition_tell(session, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED, raw,
                           "A note of unknown value went to the cash box: count it by hand.");
        else
            unknown_tell(session, raw);
        return;
    }
    cfoil_adapter_event event = event_make(session, kind, raw, text);
    event.note_type = (int32_t)type;
    event.value_minor = session->values[type - 1];
    memcpy(event.currency, session->currency, sizeof event.currency);
    event_tell(session, &event);
    session->held = kind == CFOIL_KIND_HELD ? session->number : 0;
    session->hold_until_us = 0;
    session->kept_us = session->now_us;
    session->decision = 0;
}

static void jam_tell(struct session *session, bool jammed, const char *raw)
{
    session->jammed = jammed;
    condition_tell(session, jammed ? CFOIL_CONDITION_JAM_REACHABLE : CFOIL_CONDITION_FAULT_CLEARED, raw,
                   jammed ? "A note is jammed where it can be reached." : "The jam was cleared.");
    ready_tell(session);
}

static void event_word_take(struct session *session, const char *raw, const char *word, const char *argument)
{
    if (strcmp(word, "H") == 0)
        note_tell(session, CFOIL_KIND_HELD, raw, argument, "A note is held.");
    else if (strcmp(word, "S") == 0)
        note_tell(session, CFOIL_KIND_STACKED, raw, argument, "The note went to the cash box.");
    else if (strcmp(word, "B") == 0)
        note_tell(session, CFOIL_KIND_RETURNED, raw, argument, "The note went back to the customer.");
    else if (strcmp(word, "R") == 0)
        refusal_tell(session, raw, argument);
    else if (strcmp(word, "J") == 0 || strcmp(word, "C") == 0)
        jam_tell(session, word[0] == 'J', raw);
    else
        unknown_tell(session, raw);
}

/* Exactly once: what was told already is passed over, what is missing is told as missing. */
static void event_take(struct session *session, const char *const *fields, uint32_t count)
{
    uint32_t number;
    if (count != 4 || !whole_read(fields[1], &number) || number <= session->number)
        return;
    if (number != session->number + 1)
        lost_tell(session, number - session->number - 1, CFOIL_CONDITION_COUNTER_GAP,
                  "Events of the device were lost: count the cash box.");
    session->number = number;
    session->while_away = number <= session->away_number;
    char raw[LINE_MAX + 1];
    snprintf(raw, sizeof raw, "%s,%s", fields[2], fields[3]);
    event_word_take(session, raw, fields[2], fields[3]);
    session->while_away = false;
    memory_store(session);
    session->next_us = session->now_us; /* there may be more */
}

/* After it was switched on the device says so until it was asked who it is. What it did before is gone. */
static void restart_take(struct session *session)
{
    if (session->stage != STAGE_RUN)
        return;
    condition_tell(session, CFOIL_CONDITION_RESTARTED, "R", "The device was switched off and on.");
    if (session->held != 0)
        condition_tell(session, CFOIL_CONDITION_OUTCOME_UNKNOWN, "",
                       "The device was switched off while a note was held: look where it is.");
    session->held = 0;
    session->decision = 0;
    session->jammed = false;
    session->stage = STAGE_IDENTITY;
    state_tell(session, CFOIL_LANE_STARTING, CFOIL_OK, "Asking the device who it is.");
}

static void mode_take(struct session *session, const char *const *fields, uint32_t count)
{
    uint32_t mode;
    if (count != 2 || !whole_read(fields[1], &mode) || mode > CFOIL_ACCEPT_ALL)
        return;
    session->mode = (int32_t)mode;
    ready_tell(session);
}

/* S, B and K name the note they are about, so a late answer about another one does nothing. */
static void decision_answer_take(struct session *session, const char *const *fields, uint32_t count)
{
    uint32_t held;
    if (count == 3 && whole_read(fields[1], &held) && held == session->held && fields[0][0] == session->decision)
        session->decision = 0; /* the device has it: an event will tell how it ended */
}

/* `line` is whole and its check is right. An answer to anything but the open question is late: it says nothing new. */
static void answer_take(struct session *session, char *line)
{
    const char *fields[FIELDS_MAX];
    uint32_t count = fields_cut(line, fields);
    char answer = count > 0 && strlen(fields[0]) == 1 ? fields[0][0] : '\0';
    char question = session->question;
    session->heard_us = session->now_us;
    session->question = 0;
    session->next_us = session->now_us + session->poll_us;
    if (answer == 'R' && question != 'I')
        restart_take(session);
    else if (answer == 'I' && question == 'I')
        identity_take(session, fields, count);
    else if (answer == 'M' && question == 'M')
        mode_take(session, fields, count);
    else if (answer == 'E' && question == 'P')
        event_take(session, fields, count);
    else if (answer == 'S' || answer == 'B')
        decision_answer_take(session, fields, count);
    if (question == 'I' && session->stage == STAGE_RUN)
        session->next_us = session->now_us;
}

/* ---- Lines ---- */

static uint32_t line_sum(const char *line, size_t length)
{
    uint32_t sum = 0;
    for (size_t i = 0; i < length; i++)
        sum += (uint8_t)line[i];
    return sum & 0xFF;
}

/* "TEXT*SS": is the sum right? Then the line ends before the star. */
static bool line_check(char *line, size_t length)
{
    char expected[3];
    if (length < 4 || line[length - 3] != '*')
        return false;
    snprintf(expected, sizeof expected, "%02X", (unsigned)line_sum(line, length - 3));
    if (memcmp(expected, line + length - 2, 2) != 0)
        return false;
    line[length - 3] = '\0';
    return memchr(line, '\0', length - 3) == NULL;
}

/* A damaged line is as good as none: the question is asked again. */
static void line_end(struct session *session)
{
    session->line[session->length] = '\0';
    bool good = !session->overlong && line_check(session->line, session->length);
    session->length = 0;
    session->overlong = false;
    if (!good)
        session->host->log(session->host->user, CFOIL_LOG_NOTICE, "line_damaged", "A damaged line was passed over.");
    else if (session->question != 0) /* it only speaks when it is asked: anything else is late */
        answer_take(session, session->line);
}

static void byte_take(struct session *session, uint8_t byte)
{
    if (byte == '\n')
        line_end(session);
    else if (session->length == LINE_MAX)
        session->overlong = true;
    else
        session->line[session->length++] = (char)byte;
}

/* ---- Asking ---- */

static void line_send(struct session *session, const char *text)
{
    char line[LINE_MAX];
    int length = snprintf(line, sizeof line, "%s*%02X\n", text, (unsigned)line_sum(text, strlen(text)));
    session->host->send(session->host->user, (const uint8_t *)line, (uint32_t)length);
    session->question = text[0];
    session->asked_us = session->now_us;
}

static bool keep_due(const struct session *session)
{
    return session->held != 0 && session->now_us < session->hold_until_us &&
           session->now_us >= session->kept_us + KEEP_US;
}

/* Before the device is known, nothing goes out but the question who it is. */
static void question_send(struct session *session)
{
    char text[32] = "I";
    if (session->stage == STAGE_RUN && session->mode != session->accept)
        snprintf(text, sizeof text, "M,%d", (int)session->accept);
    else if (session->stage == STAGE_RUN && session->decision != 0)
        snprintf(text, sizeof text, "%c,%u", session->decision, (unsigned)session->held);
    else if (session->stage == STAGE_RUN && keep_due(session))
        snprintf(text, sizeof text, "K,%u", (unsigned)session->held);
    else if (session->stage == STAGE_RUN)
        snprintf(text, sizeof text, "P,%u", (unsigned)session->number);
    if (text[0] == 'K')
        session->kept_us = session->now_us;
    line_send(session, text);
}

static void silence_check(struct session *session)
{
    if (session->lost || session->now_us < session->heard_us + LOST_US)
        return;
    session->lost = true;
    session->stage = STAGE_IDENTITY; /* whoever answers next has to say who it is */
    state_tell(session, CFOIL_LANE_LOST, CFOIL_E_DEVICE_SILENT, "The device does not answer.");
}

static void silence_end(struct session *session)
{
    if (!session->lost || session->heard_us != session->now_us)
        return;
    session->lost = false;
    if (session->stage != STAGE_ENDED)
        state_tell(session, CFOIL_LANE_STARTING, CFOIL_OK, "The device answers.");
}

/* ---- The calls of the core ---- */

static int32_t settings_read(struct session *session, const cfoil_adapter_start *start)
{
    session->poll_us = MS(100);
    for (uint32_t i = 0; i < start->setting_count; i++) {
        const cfoil_adapter_setting *setting = &start->settings[i];
        uint32_t value;
        if (strcmp(setting->key, "poll_ms") != 0 || !whole_read(setting->value, &value) || value < 10 || value > 1000) {
            snprintf(start->error, start->error_capacity, "The setting '%s' is not good: poll_ms takes 10 to 1000.",
                     setting->key);
            return CFOIL_E_ARGUMENT_SETTING;
        }
        session->poll_us = MS((uint64_t)value);
    }
    return CFOIL_OK;
}

static int32_t skeleton_open(void *state, const cfoil_adapter_start *start)
{
    struct session *session = state;
    int32_t result = settings_read(session, start);
    if (result != CFOIL_OK)
        return result;
    session->host = start->host;
    session->now_us = session->next_us = session->heard_us = start->now_us;
    session->accept = start->accept;
    session->mode = -1;
    state_tell(session, CFOIL_LANE_STARTING, CFOIL_OK, "Asking the device who it is.");
    return CFOIL_OK;
}

static uint64_t skeleton_step(void *state, const cfoil_adapter_input *input)
{
    struct session *session = state;
    session->now_us = input->now_us;
    for (uint32_t i = 0; i < input->length && session->stage != STAGE_ENDED; i++)
        byte_take(session, input->bytes[i]);
    silence_end(session);
    if (session->stage == STAGE_ENDED)
        return UINT64_MAX;
    silence_check(session);
    if (session->question != 0 && session->now_us >= session->asked_us + ANSWER_US)
        session->question = 0;
    if (session->question == 0 && session->now_us >= session->next_us)
        question_send(session);
    return session->question != 0 ? session->asked_us + ANSWER_US : session->next_us;
}

static int32_t accept_take(struct session *session, int32_t accept)
{
    if (accept < CFOIL_ACCEPT_NONE || accept > CFOIL_ACCEPT_ALL)
        return CFOIL_E_ARGUMENT_RANGE;
    session->accept = accept;
    session->next_us = session->now_us;
    return CFOIL_OK;
}

static int32_t decision_take(struct session *session, char decision)
{
    if (session->held == 0)
        return CFOIL_E_STATE_NO_NOTE;
    session->decision = decision;
    session->next_us = session->now_us;
    return CFOIL_OK;
}

static int32_t hold_take(struct session *session, int32_t hold_ms)
{
    if (session->held == 0)
        return CFOIL_E_STATE_NO_NOTE;
    if (hold_ms < 0)
        return CFOIL_E_ARGUMENT_RANGE;
    session->hold_until_us = session->now_us + MS((uint64_t)hold_ms);
    return CFOIL_OK;
}

static int32_t skeleton_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    struct session *session = state;
    session->now_us = now_us;
    switch (command) {
    case CFOIL_COMMAND_ACCEPT:
        return accept_take(session, argument);
    case CFOIL_COMMAND_STACK:
        return decision_take(session, 'S');
    case CFOIL_COMMAND_RETURN:
        return decision_take(session, 'B');
    case CFOIL_COMMAND_HOLD:
        return hold_take(session, argument);
    case CFOIL_COMMAND_QUIT:
        session->accept = CFOIL_ACCEPT_NONE;
        if (session->stage == STAGE_RUN)
            line_send(session, "M,0");
        return CFOIL_OK;
    default:
        return CFOIL_E_ARGUMENT_RANGE;
    }
}

static const cfoil_adapter skeleton_adapter = {
    .struct_size = (uint32_t)sizeof(cfoil_adapter),
    .api_version = CFOIL_ADAPTER_API,
    .id = "skeleton",
    .name = "Skeleton: an invented device that speaks lines",
    .maturity = CFOIL_MATURITY_EXPERIMENTAL, /* there is no such device */
    .capabilities = CFOIL_ADAPTER_ESCROW | CFOIL_ADAPTER_INHIBIT | CFOIL_ADAPTER_COUNTER | CFOIL_ADAPTER_MEMORY,
    .frame_max = LINE_MAX + 1,
    .state_size = (uint32_t)sizeof(struct session),
    .line = {9600, 8, 1, CFOIL_PARITY_NONE},
    .answer_max_ms = (uint32_t)(LOST_US / 1000),
    .open = skeleton_open,
    .step = skeleton_step,
    .command = skeleton_command,
};

const cfoil_adapter *counterfoil_adapter_entry(uint32_t version)
{
    return version == CFOIL_ADAPTER_API ? &skeleton_adapter : NULL;
}
