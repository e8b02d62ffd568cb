/*
 * The ccTalk bill-validator adapter: its table, and how time and bytes reach the parts of a session.
 */
#include "cctalk.h"

#include "session.h"

#include <string.h>

static int32_t adapter_open(void *state, const cfoil_adapter_start *start)
{
    struct session *session = state;
    int32_t result = cctalk_settings_read(&session->settings, start);
    if (result != CFOIL_OK)
        return result;
    session->host = start->host;
    session->now_us = start->now_us;
    session->check = session->settings.check == CHECK_CRC ? CCTALK_CHECK_CRC : CCTALK_CHECK_SUM;
    session->address = session->settings.address != 0 ? session->settings.address : ADDRESS_FIRST;
    session->accept_wanted = start->accept;
    session->answered_us = start->now_us;
    session->polled_us = start->now_us;
    session->noise_begin_us = start->now_us;
    session->exchange.finished_us = start->now_us;
    cctalk_held_end(session);
    cctalk_startup_begin(session, STAGE_PROBE);
    session->wait_us = start->now_us + OPEN_PAUSE_US;
    return CFOIL_OK;
}

static void answer_take(struct session *session, enum outcome outcome)
{
    if (session->exchange.purpose == PURPOSE_START)
        cctalk_startup_answer(session, outcome);
    else
        cctalk_run_answer(session, outcome);
}

/* Begins what is due now, or tells when something will be. */
static uint64_t next_begin(struct session *session)
{
    if (session->stage == STAGE_ENDED)
        return UINT64_MAX;
    uint64_t earliest_us = session->exchange.earliest_us;
    if (session->now_us < earliest_us) {
        /* Waking up at the end of the gap only to find nothing to do would be a third of an idle lane's work. */
        uint64_t due_us = session->stage == STAGE_RUN ? cctalk_run_due(session) : session->now_us;
        return due_us > earliest_us ? due_us : earliest_us;
    }
    if (session->stage == STAGE_RUN || (session->quit && session->stage > STAGE_CATEGORY))
        return cctalk_run_next(session);
    return session->quit ? UINT64_MAX : cctalk_startup_next(session);
}

static uint64_t adapter_step(void *state, const cfoil_adapter_input *input)
{
    struct session *session = state;
    session->now_us = input->now_us;
    cctalk_exchange_receive(session, input->bytes, input->length);
    for (;;) {
        if (session->exchange.under_way) {
            enum outcome outcome;
            if (!cctalk_exchange_advance(session, &outcome))
                return session->exchange.deadline_us;
            answer_take(session, outcome);
        }
        uint64_t due_us = next_begin(session);
        if (!session->exchange.under_way)
            return due_us;
    }
}

static int32_t adapter_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    struct session *session = state;
    session->now_us = now_us;
    return cctalk_command(session, command, argument);
}

static bool ours(uint8_t destination)
{
    return destination == ADDRESS_HOST || (destination >= ADDRESS_FIRST && destination <= ADDRESS_LAST);
}

/* How many bytes at the beginning look like messages between a host and a bill validator, in percent of a certain bid. */
static int32_t adapter_identify(const uint8_t *bytes, uint32_t length)
{
    uint32_t frames = 0;
    uint32_t at = 0;
    while (at < length) {
        struct cctalk_frame frame;
        uint32_t used = 0;
        enum cctalk_found found = cctalk_frame_parse(CCTALK_CHECK_SUM, bytes + at, length - at, &frame, &used);
        if (found != CCTALK_FRAME)
            found = cctalk_frame_parse(CCTALK_CHECK_CRC, bytes + at, length - at, &frame, &used);
        if (found == CCTALK_FRAME && ours(frame.destination))
            frames++;
        at += found == CCTALK_FRAME ? used : 1;
    }
    return frames >= 4 ? 80 : (int32_t)frames * 20;
}

const cfoil_adapter cctalk_adapter = {
    .struct_size = (uint32_t)sizeof(cfoil_adapter),
    .api_version = CFOIL_ADAPTER_API,
    .id = "cctalk",
    .name = "ccTalk bill validator",
    .maturity = CFOIL_MATURITY_EXPERIMENTAL, /* no real device has been tried yet */
    .capabilities = CFOIL_ADAPTER_ESCROW | CFOIL_ADAPTER_INHIBIT | CFOIL_ADAPTER_COUNTER | CFOIL_ADAPTER_MEMORY,
    .frame_max = CCTALK_FRAME_MAX,
    .state_size = (uint32_t)sizeof(struct session),
    /* 9600 baud, 8 data bits, no parity, 1 stop bit: Generic Specification Part 1, revision history of issue 3.1. */
    .line = {9600, 8, 1, CFOIL_PARITY_NONE},
    .answer_max_ms = 10000,
    .identify = adapter_identify,
    .open = adapter_open,
    .step = adapter_step,
    .command = adapter_command,
};
