/*
 * The MDB/ICP bill-validator adapter: its table, and how time and bytes reach the parts of a session.
 */
#include "mdb.h"

#include "session.h"

#include <string.h>

static int32_t adapter_open(void *state, const cfoil_adapter_start *start)
{
    struct session *session = state;
    int32_t result = mdb_settings_read(&session->settings, start);
    if (result != CFOIL_OK)
        return result;
    session->host = start->host;
    session->now_us = start->now_us;
    session->accept_wanted = start->accept;
    session->answered_us = start->now_us;
    session->polled_us = start->now_us;
    session->noise_begin_us = start->now_us;
    session->held.escrow_us = UINT64_MAX;
    session->held.outcome_us = UINT64_MAX;
    session->settle_us = UINT64_MAX;
    session->unread_us = UINT64_MAX;
    mdb_startup_begin(session, STAGE_PROBE);
    session->wait_us = start->now_us + OPEN_PAUSE_US;
    return CFOIL_OK;
}

static void answer_take(struct session *session, enum outcome outcome)
{
    if (session->exchange.purpose == PURPOSE_START)
        mdb_startup_answer(session, outcome);
    else if (session->exchange.purpose == PURPOSE_REVIVE)
        mdb_revive_answer(session, outcome);
    else
        mdb_run_answer(session, outcome);
}

/* Begins what is due now, or tells when something will be. */
static uint64_t next_begin(struct session *session)
{
    if (session->now_us < session->exchange.earliest_us)
        return session->exchange.earliest_us;
    if (session->stage == STAGE_RUN || session->quit)
        return mdb_run_next(session);
    return mdb_startup_next(session);
}

static uint64_t work_do(struct session *session)
{
    for (;;) {
        if (session->exchange.under_way) {
            enum outcome outcome;
            if (!mdb_exchange_advance(session, &outcome)) {
                const struct exchange *exchange = &session->exchange;
                return exchange->deadline_us < exchange->limit_us ? exchange->deadline_us : exchange->limit_us;
            }
            answer_take(session, outcome);
        }
        if (session->exchange.under_way)
            continue; /* the answer led to the next command at once */
        uint64_t due_us = next_begin(session);
        if (!session->exchange.under_way && due_us > session->now_us)
            return due_us;
    }
}

static uint64_t adapter_step(void *state, const cfoil_adapter_input *input)
{
    struct session *session = state;
    session->now_us = input->now_us;
    mdb_exchange_receive(session, input->bytes, input->length);
    uint64_t due_us = work_do(session);
    mdb_memory_keep(session); /* with the events of this call, and before what it sent goes out */
    return due_us;
}

static int32_t adapter_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    struct session *session = state;
    session->now_us = now_us;
    return mdb_command(session, command, argument);
}

static void adapter_close(void *state)
{
    mdb_claims_leave(state);
}

static uint16_t word_at(const uint8_t *bytes, uint32_t place)
{
    return (uint16_t)(bytes[place] | bytes[place + 1] << 8);
}

/* The length in words of a master's command to a bill validator that begins here, 0 = none does. */
static uint32_t command_length(const uint8_t *bytes, uint32_t length)
{
    uint8_t data[MDB_BLOCK_MAX];
    uint32_t count = 0;
    if (length < 4 || (word_at(bytes, 0) & 0xFFF8) != (MDB_MODE | COMMAND_RESET))
        return 0;
    data[count++] = bytes[0];
    for (uint32_t place = 2; place + 1 < length && count < MDB_BLOCK_MAX; place += 2) {
        if (word_at(bytes, place) > 0xFF)
            return 0; /* the next block, and no check was right before it */
        if (mdb_check(data, count) == bytes[place])
            return count + 1;
        data[count++] = bytes[place];
    }
    return 0;
}

/* How many blocks at the beginning look like commands to a bill validator, in percent of a certain bid. */
static int32_t adapter_identify(const uint8_t *bytes, uint32_t length)
{
    uint32_t commands = 0;
    uint32_t place = 0;
    while (place < length) {
        uint32_t words = command_length(bytes + place, length - place);
        commands += words > 0 ? 1 : 0;
        place += words > 0 ? 2 * words : 1;
    }
    return commands >= 4 ? 80 : (int32_t)commands * 20;
}

const cfoil_adapter mdb_adapter = {
    .struct_size = (uint32_t)sizeof(cfoil_adapter),
    .api_version = CFOIL_ADAPTER_API,
    .id = "mdb",
    .name = "MDB/ICP bill validator",
    .maturity = CFOIL_MATURITY_EXPERIMENTAL, /* no real device has been tried yet */
    .capabilities = CFOIL_ADAPTER_ESCROW | CFOIL_ADAPTER_INHIBIT | CFOIL_ADAPTER_MEMORY | CFOIL_ADAPTER_WORDS,
    .frame_max = MDB_WIRE_MAX,
    .state_size = (uint32_t)sizeof(struct session),
    /* The line to the carrier that turns words into bus characters. The bus itself has 9600 baud and a ninth bit. */
    .line = {115200, 8, 1, CFOIL_PARITY_NONE},
    .answer_max_ms = 10000, /* setting silence_ms, at most */
    .identify = adapter_identify,
    .open = adapter_open,
    .step = adapter_step,
    .command = adapter_command,
    .close = adapter_close,
};
