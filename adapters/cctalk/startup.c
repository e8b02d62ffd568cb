/*
 * From an open port to a device that is known, configured as the host wants, and about to be polled.
 *
 * The order is that of the fact sheet (common practice). Until the device has called itself a bill validator nothing but
 * 254 and 245 is sent; everything that changes the device comes after.
 */
#include "session.h"

#include <stdio.h>
#include <string.h>

/* One request of start-up. `next` is where an answer leads. */
struct step {
    uint8_t header;
    bool optional; /* NAK and silence mean 'not supported' */
    enum stage next;
};

static const struct step steps[] = {
    [STAGE_PROBE] = {HEADER_SIMPLE_POLL, false, STAGE_CATEGORY},
    [STAGE_CATEGORY] = {HEADER_CATEGORY, false, STAGE_MAKER},
    [STAGE_MAKER] = {HEADER_MAKER, true, STAGE_PRODUCT},
    [STAGE_PRODUCT] = {HEADER_PRODUCT, true, STAGE_SOFTWARE},
    [STAGE_SOFTWARE] = {HEADER_SOFTWARE, true, STAGE_BUILD},
    [STAGE_BUILD] = {HEADER_BUILD, true, STAGE_SERIAL},
    [STAGE_SERIAL] = {HEADER_SERIAL, true, STAGE_COMMS_REVISION},
    [STAGE_COMMS_REVISION] = {HEADER_COMMS_REVISION, true, STAGE_PRIORITY},
    [STAGE_PRIORITY] = {HEADER_POLLING_PRIORITY, true, STAGE_TYPES_BEFORE},
    [STAGE_TYPES_BEFORE] = {HEADER_TYPES_READ, true, STAGE_BAR},
    [STAGE_BAR] = {HEADER_MASTER_WRITE, false, STAGE_SELF_CHECK},
    [STAGE_SELF_CHECK] = {HEADER_SELF_CHECK, true, STAGE_COUNTER},
    [STAGE_COUNTER] = {HEADER_EVENTS, false, STAGE_NAMES},
    [STAGE_NAMES] = {HEADER_NOTE_NAME, true, STAGE_SCALING},
    [STAGE_SCALING] = {HEADER_SCALING, true, STAGE_RECOVER},
    [STAGE_CLOSE] = {HEADER_MASTER_WRITE, false, STAGE_MODE_WRITE},
    [STAGE_MODE_WRITE] = {HEADER_MODE_WRITE, true, STAGE_MODE_READ},
    [STAGE_MODE_READ] = {HEADER_MODE_READ, true, STAGE_TYPES_WRITE},
    [STAGE_TYPES_WRITE] = {HEADER_TYPES_WRITE, false, STAGE_TYPES_READ},
    [STAGE_TYPES_READ] = {HEADER_TYPES_READ, false, STAGE_MASTER_WRITE},
    [STAGE_MASTER_WRITE] = {HEADER_MASTER_WRITE, false, STAGE_MASTER_READ},
    [STAGE_MASTER_READ] = {HEADER_MASTER_READ, false, STAGE_RUN},
};

int32_t cctalk_accept_effective(const struct session *session)
{
    if (session->blocked || session->fault || session->valued_count == 0)
        return CFOIL_ACCEPT_NONE;
    return session->accept_wanted;
}

void cctalk_startup_begin(struct session *session, enum stage stage)
{
    session->stage = stage;
    session->wait_us = session->now_us;
    session->busy_since_us = 0;
    session->configured = false;
    session->candidate_known = false;
    session->rereads = 0;
    session->doubt = DOUBT_NONE;
    session->watch_half = false;
    session->watch_misses = 0;
}

/* Start-up cannot go on: from the beginning again, in a while. */
static void again(struct session *session, const char *text)
{
    cctalk_startup_begin(session, STAGE_PROBE);
    session->wait_us = session->now_us + AGAIN_US;
    if (!session->lost)
        say_state(session->host, CFOIL_LANE_STARTING, CFOIL_OK, "%s", text);
}

void cctalk_lost_check(struct session *session)
{
    bool silent = session->now_us - session->answered_us > LOST_AFTER_US;
    bool deaf = session->stage >= STAGE_CLOSE && session->now_us - session->polled_us > LOST_AFTER_US;
    if (session->lost || (!silent && !deaf))
        return;
    session->lost = true;
    cctalk_startup_begin(session, STAGE_PROBE);
    say_state(session->host, CFOIL_LANE_LOST, CFOIL_E_DEVICE_SILENT,
              "No answer; the device may be off, at another address, or set to an encrypted mode.");
}

/* ---- What is sent ---- */

/* Types of known value, whatever is accepted now: the master inhibit is what stops the device, and a mask that is not 0
 * tells a reset (after which it is 0). */
static uint16_t types_mask(const struct session *session)
{
    uint16_t mask = 0;
    for (uint32_t type = 1; type <= CCTALK_TYPES; type++) {
        if (session->notes[type].valued)
            mask = (uint16_t)(mask | 1u << (type - 1));
    }
    return mask;
}

/* Positions without a note may read back 0 (published device manual): only a type too many is wrong, or none at all. */
bool cctalk_types_fit(const struct session *session)
{
    uint16_t mask = types_mask(session);
    uint16_t found = session->types_found;
    return (found & ~mask) == 0 && (mask == 0 || (found & mask) != 0);
}

/* Accepting no notes does not change the mode: a note already on its way finishes under the old choice. */
static uint8_t mode_choose(const struct session *session)
{
    if (session->accept_target == CFOIL_ACCEPT_NONE && session->mode != 0)
        return session->mode;
    return session->accept_target == CFOIL_ACCEPT_ALL ? MODE_STACKER : MODE_STACKER | MODE_ESCROW;
}

static uint32_t tries_of(enum stage stage)
{
    if (stage == STAGE_PROBE)
        return 1;
    /* A serial number missed would cost the memory of the device, a scaling missed all its notes. */
    bool dear = stage == STAGE_SERIAL || stage == STAGE_SCALING;
    return steps[stage].optional && !dear ? TRIES_OPTIONAL : TRIES;
}

static void request_send(struct session *session)
{
    const struct step *step = &steps[session->stage];
    uint8_t data[2] = {0, 0};
    uint8_t length = 0;
    if (session->stage == STAGE_CLOSE)
        session->accept_target = cctalk_accept_effective(session);
    uint16_t mask = types_mask(session);
    switch (session->stage) {
    case STAGE_NAMES:
        data[0] = (uint8_t)session->note_index;
        length = 1;
        break;
    case STAGE_SCALING:
        memcpy(data, session->notes[session->note_index].name, 2);
        length = 2;
        break;
    case STAGE_MODE_WRITE:
        session->mode = mode_choose(session);
        data[0] = session->mode;
        length = 1;
        break;
    case STAGE_TYPES_WRITE:
        data[0] = (uint8_t)(mask & 0xFF);
        data[1] = (uint8_t)(mask >> 8);
        length = 2;
        break;
    case STAGE_MASTER_WRITE:
        data[0] = 1; /* 1 = normal operation, 0 = master inhibit (published device manual) */
        length = 1;
        break;
    case STAGE_BAR:
    case STAGE_CLOSE:
        length = 1;
        break;
    default:
        break;
    }
    cctalk_exchange_begin(session, PURPOSE_START, step->header, data, length, tries_of(session->stage));
}

/* ---- Which notes there are. Read twice: an answer that came late would give a note another one's value. ---- */

static void notes_begin(struct session *session, bool once_more)
{
    session->notes_again = once_more;
    if (once_more)
        memcpy(session->notes_before, session->notes, sizeof session->notes);
    memset(session->notes, 0, sizeof session->notes);
    session->note_index = 0;
    session->stage = STAGE_NAMES;
}

/* The next type whose name is asked for; the second time those of value only. 0 = none is left. */
static uint32_t unnamed_find(const struct session *session)
{
    for (uint32_t type = session->note_index + 1; type <= CCTALK_TYPES; type++) {
        if (!session->notes_again || session->notes_before[type].valued)
            return type;
    }
    return 0;
}

/* The first type whose country's scaling has not been asked for; 0 = none is left. */
static uint32_t unscaled_find(const struct session *session)
{
    for (uint32_t type = 1; type <= CCTALK_TYPES; type++) {
        if (session->notes[type].programmed && !session->notes[type].valued)
            return type;
    }
    return 0;
}

static bool notes_agree(const struct session *session)
{
    for (uint32_t type = 1; type <= CCTALK_TYPES; type++) {
        const struct cctalk_note *before = &session->notes_before[type];
        const struct cctalk_note *now = &session->notes[type];
        if (strcmp(before->name, now->name) != 0 || before->value_minor != now->value_minor)
            return false;
    }
    return true;
}

static void notes_finish(struct session *session)
{
    session->valued_count = 0;
    for (uint32_t type = 1; type <= CCTALK_TYPES; type++)
        session->valued_count += session->notes[type].valued ? 1 : 0;
    if (!session->notes_again)
        notes_begin(session, true);
    else if (notes_agree(session))
        session->stage = STAGE_RECOVER;
    else
        again(session, "The device's note names differ from one reading to the next; trying again.");
}

/* On to the next name, then to the values, then past them. */
static void notes_next(struct session *session)
{
    while (session->stage == STAGE_NAMES || session->stage == STAGE_SCALING) {
        uint32_t type = session->stage == STAGE_NAMES ? unnamed_find(session) : unscaled_find(session);
        if (type != 0) {
            session->note_index = type;
            return;
        }
        if (session->stage == STAGE_NAMES)
            session->stage = STAGE_SCALING;
        else
            notes_finish(session);
    }
}

static void probe_address_next(struct session *session)
{
    /* The other check form at the same address, then the next address. */
    if (session->settings.check == CHECK_AUTO) {
        session->check = session->check == CCTALK_CHECK_SUM ? CCTALK_CHECK_CRC : CCTALK_CHECK_SUM;
        if (session->check == CCTALK_CHECK_CRC)
            return;
    }
    if (session->settings.address == 0)
        session->address = session->address == ADDRESS_LAST ? ADDRESS_FIRST : (uint8_t)(session->address + 1);
}

uint64_t cctalk_startup_next(struct session *session)
{
    if (session->now_us < session->wait_us)
        return session->wait_us;
    if (session->stage == STAGE_RECOVER) {
        cctalk_events_recover(session);
        session->stage = STAGE_CLOSE;
    }
    if (session->stage >= STAGE_CLOSE && session->now_us - session->polled_us > POLL_OVERDUE_US)
        cctalk_exchange_begin(session, PURPOSE_EVENTS, HEADER_EVENTS, NULL, 0, TRIES);
    else
        request_send(session);
    return session->now_us;
}

/* ---- What comes back ---- */

static void category_take(struct session *session)
{
    /* The category must be that of a bill validator (string from memory). Anything else: hands off. */
    static const char category[] = "Bill Validator";
    const struct cctalk_frame *answer = &session->exchange.answer;
    bool found = false;
    for (uint32_t i = 0; i + sizeof category - 1 <= answer->length; i++) {
        if (memcmp(answer->data + i, category, sizeof category - 1) == 0)
            found = true;
    }
    if (!found) {
        session->stage = STAGE_ENDED;
        say_state(session->host, CFOIL_LANE_ENDED, CFOIL_E_DEVICE_WRONG,
                  "The device is not a bill validator; nothing more is sent to it.");
        return;
    }
    session->lost = false;
    say_state(session->host, CFOIL_LANE_STARTING, CFOIL_OK, "A bill validator answers; starting up.");
    session->stage = STAGE_MAKER;
}

/* Printable ASCII only, so that a device cannot put anything else on a screen. */
static void product_take(struct session *session, bool answered)
{
    const struct cctalk_frame *answer = &session->exchange.answer;
    uint32_t length = 0;
    for (uint32_t i = 0; answered && i < answer->length && length + 1 < sizeof session->product; i++) {
        if (answer->data[i] >= 0x20 && answer->data[i] < 0x7F)
            session->product[length++] = (char)answer->data[i];
    }
    session->product[length] = '\0';
}

/* Another device, or one that tells its number at last: what we knew is not about it. */
static void device_forget(struct session *session)
{
    if (cctalk_held_active(session))
        cctalk_outcome_unknown_tell(session);
    cctalk_held_end(session);
    session->last_known = false;
    session->rebase = false;
    session->types_set = false;
    session->fault = false;
    session->fault_told = false;
    session->self_check_known = false;
}

static void serial_take(struct session *session, bool answered)
{
    char key[sizeof session->key] = "";
    const struct cctalk_frame *answer = &session->exchange.answer;
    if (answered) {
        unsigned long serial = 0;
        for (uint32_t i = answer->length; i > 0; i--) /* least significant byte first */
            serial = serial << 8 | answer->data[i - 1];
        snprintf(key, sizeof key, "cctalk/%lu", serial);
    }
    bool other = strcmp(key, session->key) != 0;
    if (other)
        device_forget(session);
    memcpy(session->key, key, sizeof key);
    char text[120];
    snprintf(text, sizeof text, "Bill validator%s%s, %s%s.", session->product[0] != '\0' ? " " : "", session->product,
             key[0] != '\0' ? key : "no serial number", session->echo ? ", line with local echo" : "");
    if (other || key[0] == '\0')
        cctalk_condition_tell(session, CFOIL_CONDITION_IDENTIFIED, "", text);
}

static void self_check_take(struct session *session, bool answered)
{
    const struct cctalk_frame *answer = &session->exchange.answer;
    if (answered)
        session->self_check_known = true;
    if (answered && answer->data[0] != 0)
        cctalk_fault_tell(session, answer->data, answer->length);
    else if (answered && session->fault)
        cctalk_fault_clear(session, "self-check 0");
    session->stage = STAGE_COUNTER;
    if (!session->fault || !session->self_check_known)
        return;
    session->stage = STAGE_SELF_CHECK; /* ask again until it is clean */
    session->wait_us = session->now_us + SELF_CHECK_US;
    cctalk_lost_check(session);
}

static void counter_take(struct session *session)
{
    struct snapshot read;
    session->polled_us = session->now_us;
    memcpy(&read, session->exchange.answer.data, sizeof read);
    if (!session->candidate_known || memcmp(&session->candidate, &read, sizeof read) != 0) {
        session->candidate = read;
        session->candidate_known = true;
        return; /* read again: it counts when two answers agree */
    }
    session->start = read;
    session->candidate_known = false;
    notes_begin(session, false);
    notes_next(session);
}

static void name_take(struct session *session, bool answered)
{
    const struct cctalk_frame *answer = &session->exchange.answer;
    struct cctalk_note *note = &session->notes[session->note_index];
    if (answered && cctalk_id_valid(answer->data, answer->length)) {
        note->programmed = true;
        memcpy(note->name, answer->data, CCTALK_ID_LENGTH);
    }
    notes_next(session);
}

static void scaling_take(struct session *session, bool answered)
{
    const struct cctalk_frame *answer = &session->exchange.answer;
    const char *name = session->notes[session->note_index].name;
    char country[3] = {name[0], name[1], '\0'};
    const char *currency = cctalk_currency_find(session->settings.currencies, session->settings.currency_count,
                                                country);
    uint16_t scale = 0;
    if (answered)
        scale = cctalk_number_read(answer->data);
    if (currency == NULL)
        say_log(session->host, CFOIL_LOG_WARNING, "currency_unknown",
                "Country %s: set currency.%s=CODE to take its notes.", country, country);
    for (uint32_t type = session->note_index; type <= CCTALK_TYPES; type++) {
        struct cctalk_note *note = &session->notes[type];
        if (!note->programmed || note->valued || memcmp(note->name, country, 2) != 0)
            continue;
        note->valued = currency != NULL && scale != 0 &&
                       cctalk_value_compute(note->name, scale, answer->data[2], currency, &note->value_minor);
        if (note->valued)
            memcpy(note->currency, currency, sizeof note->currency);
        else
            memset(note, 0, sizeof *note); /* a note without a value is never taken */
    }
    notes_next(session);
}

/* The device was read back and is not as we set it: configure again, and give up after some times. */
static void config_fail(struct session *session, const char *what)
{
    session->config_failures++;
    say_log(session->host, CFOIL_LOG_WARNING, "setting_not_taken", "The device did not take the setting: %s.", what);
    if (session->config_failures >= TRIES) {
        session->config_failures = 0;
        again(session, "The device does not take its settings; trying again.");
        return;
    }
    session->stage = STAGE_CLOSE;
}

static void ready_tell(struct session *session)
{
    session->configured = true;
    session->config_failures = 0;
    session->accept_now = session->accept_target;
    session->watch_us = session->now_us + WATCH_US;
    session->stage = STAGE_RUN;
    if (session->fault)
        say_state(session->host, CFOIL_LANE_FAULT, CFOIL_E_DEVICE_FAULT,
                  "The validator reported a fault: no notes are accepted.");
    else if (session->accept_now != CFOIL_ACCEPT_NONE)
        say_state(session->host, CFOIL_LANE_ACCEPTING, CFOIL_OK, "Ready and accepting notes.");
    else if (session->valued_count == 0)
        say_state(session->host, CFOIL_LANE_IDLE, CFOIL_E_DEVICE_NOTES,
                  "The device tells no note of known value: set currency.XX=CODE for its country letters.");
    else if (session->blocked)
        say_state(session->host, CFOIL_LANE_IDLE, CFOIL_OK,
                  "Stopped taking notes until the host says so: see the events.");
    else
        say_state(session->host, CFOIL_LANE_IDLE, CFOIL_OK, "Ready; no notes are accepted.");
}

/* Answers of the configuring stages, whose reading back makes sure of the writing. */
static void config_take(struct session *session, bool answered)
{
    const uint8_t *data = session->exchange.answer.data;
    switch (session->stage) {
    case STAGE_MODE_READ:
        /* Escrow that cannot be switched off does no harm: a held note is sent on. Escrow that is missing does. */
        if (answered && (data[0] & session->mode) != session->mode)
            config_fail(session, "operating mode");
        else
            session->stage = STAGE_TYPES_WRITE;
        break;
    case STAGE_TYPES_READ:
        session->types_found = cctalk_number_read(data);
        if (!cctalk_types_fit(session)) {
            config_fail(session, "inhibit status");
            break;
        }
        session->types_set = session->types_found != 0;
        cctalk_memory_store(session);
        if (session->accept_target != CFOIL_ACCEPT_NONE)
            session->stage = STAGE_MASTER_WRITE;
        else
            ready_tell(session); /* the master inhibit of STAGE_CLOSE stays on */
        break;
    case STAGE_MASTER_READ:
        if ((data[0] & 1) == 0)
            config_fail(session, "master inhibit");
        else
            ready_tell(session);
        break;
    default:
        session->stage = steps[session->stage].next;
        break;
    }
}

static void failure_take(struct session *session)
{
    cctalk_lost_check(session);
    if (session->stage != STAGE_PROBE) {
        char text[96];
        snprintf(text, sizeof text, "The device does not answer request %u as it should; trying again.",
                 steps[session->stage].header);
        again(session, text);
        return;
    }
    session->wait_us = session->now_us + (session->lost ? PROBE_LOST_US : PROBE_US);
    probe_address_next(session);
}

/* BUSY: the same request again in a moment, for some time. */
static bool busy_wait(struct session *session, enum outcome outcome)
{
    if (outcome != OUTCOME_BUSY) {
        session->busy_since_us = 0;
        return false;
    }
    if (session->busy_since_us == 0)
        session->busy_since_us = session->now_us;
    return session->now_us - session->busy_since_us < BUSY_LIMIT_US;
}

/* Is it no answer that start-up can go on with? */
static bool failed(const struct session *session, enum outcome outcome)
{
    if (outcome == OUTCOME_ANSWER)
        return false;
    /* A device that told its serial number before has one; and without a scaling there is no note to take. */
    bool needed = session->stage == STAGE_SCALING || (session->stage == STAGE_SERIAL && session->key[0] != '\0');
    bool busy = outcome == OUTCOME_BUSY && session->stage != STAGE_SELF_CHECK;
    return busy || (needed && outcome == OUTCOME_SILENT) || !steps[session->stage].optional;
}

void cctalk_startup_answer(struct session *session, enum outcome outcome)
{
    bool answered = outcome == OUTCOME_ANSWER;
    if (busy_wait(session, outcome))
        return;
    if (failed(session, outcome)) {
        failure_take(session);
        return;
    }
    switch (session->stage) {
    case STAGE_CATEGORY:
        category_take(session);
        break;
    case STAGE_PRODUCT:
        product_take(session, answered);
        session->stage = STAGE_SOFTWARE;
        break;
    case STAGE_SERIAL:
        serial_take(session, answered);
        session->stage = STAGE_COMMS_REVISION;
        break;
    case STAGE_TYPES_BEFORE:
        session->types_found = UINT16_MAX; /* not known */
        if (answered)
            session->types_found = cctalk_number_read(session->exchange.answer.data);
        session->stage = STAGE_BAR;
        break;
    case STAGE_SELF_CHECK:
        self_check_take(session, answered);
        break;
    case STAGE_COUNTER:
        counter_take(session);
        break;
    case STAGE_NAMES:
        name_take(session, answered);
        break;
    case STAGE_SCALING:
        scaling_take(session, answered);
        break;
    default:
        if (session->stage >= STAGE_CLOSE)
            config_take(session, answered);
        else
            session->stage = steps[session->stage].next;
        break;
    }
}
