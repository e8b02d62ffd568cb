/*
 * The adapter of described devices: its table, and how time and bytes reach the parts of a session.
 */
#include "described.h"

#include "session.h"

#include <stdio.h>
#include <string.h>

void described_log(const struct session *session, int32_t level, const char *key, const char *text)
{
    session->host->log(session->host->user, level, key, text);
}

void described_state(struct session *session, int32_t state, int32_t result, const char *text)
{
    if (session->state_told == state && session->result_told == result)
        return;
    session->state_told = state;
    session->result_told = result;
    session->host->state(session->host->user, state, result, text);
}

static int32_t adapter_open(void *state, const cfoil_adapter_start *start)
{
    struct session *session = state;
    if (start->setting_count > 0) {
        if (start->error != NULL && start->error_capacity > 0)
            snprintf(start->error, start->error_capacity,
                     "A described device has no settings: change its description instead of '%.40s'.",
                     start->settings[0].key);
        return CFOIL_E_ARGUMENT_SETTING;
    }
    session->host = start->host;
    session->description = start->adapter->extension;
    session->now_us = start->now_us;
    session->accept_wanted = start->accept;
    session->answered_us = start->now_us;
    session->polled_us = start->now_us;
    session->received_us = start->now_us;
    session->noise_begin_us = start->now_us;
    session->exchange.finished_us = start->now_us;
    session->sequence = session->description->sequence.first;
    described_held_end(session);
    described_startup_begin(session);
    return CFOIL_OK;
}

static void answer_take(struct session *session, enum outcome outcome)
{
    bool starts = session->stage < STAGE_RUN && session->exchange.purpose != PURPOSE_POLL;
    if (session->exchange.purpose == PURPOSE_QUIT)
        return;
    if (starts && session->exchange.purpose != PURPOSE_ROUTE)
        described_startup_answer(session, outcome);
    else
        described_run_answer(session, outcome);
}

/* A device that talks is found again by talking. */
static void talk_check(struct session *session)
{
    if (session->description->polled)
        return;
    described_lost_check(session);
    bool heard = session->now_us - session->answered_us <= session->description->silence_us;
    session->lost = session->lost && !heard;
}

/* Begins what is due now, or tells when something will be. */
static uint64_t next_begin(struct session *session)
{
    if (session->stage == STAGE_ENDED)
        return UINT64_MAX;
    if (session->now_us < session->exchange.earliest_us)
        return session->exchange.earliest_us;
    if (session->stage == STAGE_RUN || (session->quit && session->stage > STAGE_START))
        return described_run_next(session);
    return session->quit ? UINT64_MAX : described_startup_next(session);
}

/* When the rest of a message that has begun is overdue. */
static uint64_t gap_due(const struct session *session)
{
    if (session->description->polled || (session->received_length == 0 && !session->skipping))
        return UINT64_MAX;
    uint64_t due_us = session->received_us + session->description->byte_gap_us + 1;
    return due_us > session->now_us ? due_us : UINT64_MAX; /* skipping lines ends with a line, not with time */
}

static uint64_t work(struct session *session)
{
    for (;;) {
        enum outcome outcome;
        if (described_exchange_advance(session, &outcome)) {
            answer_take(session, outcome);
            continue;
        }
        talk_check(session);
        if (session->exchange.under_way)
            return session->exchange.deadline_us;
        uint64_t due_us = next_begin(session);
        if (!session->exchange.under_way && due_us > session->now_us)
            return due_us;
    }
}

static uint64_t adapter_step(void *state, const cfoil_adapter_input *input)
{
    struct session *session = state;
    session->now_us = input->now_us;
    uint32_t taken = 0;
    uint64_t due_us;
    do {
        if (taken < input->length)
            taken += described_receive(session, input->bytes + taken, input->length - taken);
        due_us = work(session);
    } while (taken < input->length);
    described_state_refresh(session);
    return described_earlier(due_us, gap_due(session));
}

static int32_t adapter_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    struct session *session = state;
    session->now_us = now_us;
    return described_command(session, command, argument);
}

static uint32_t capabilities_find(const struct description *description)
{
    uint32_t capabilities = 0;
    if (description->stack.send.length > 0)
        capabilities |= CFOIL_ADAPTER_ESCROW;
    if (description->accept[CFOIL_ACCEPT_NONE].known || description->poll_accepting.length > 0)
        capabilities |= CFOIL_ADAPTER_INHIBIT;
    if (description->buffer.known || description->driver == DESCRIBED_DRIVER_DEVICE)
        capabilities |= CFOIL_ADAPTER_COUNTER;
    if (description->buffer.known)
        capabilities |= CFOIL_ADAPTER_MEMORY;
    return capabilities;
}

void described_adapter_make(const struct description *description, cfoil_adapter *adapter)
{
    *adapter = (cfoil_adapter){
        .struct_size = (uint32_t)sizeof *adapter,
        .api_version = CFOIL_ADAPTER_API,
        .id = description->id,
        .name = description->name,
        .maturity = description->maturity,
        .capabilities = capabilities_find(description),
        .frame_max = DESCRIBED_FRAME_MAX,
        .state_size = (uint32_t)sizeof(struct session),
        .line = description->line,
        .answer_max_ms = (uint32_t)((description->silence_us > 0 ? description->silence_us : MS(60000)) / 1000),
        .open = adapter_open,
        .step = adapter_step,
        .command = adapter_command,
        .extension = description,
    };
}
