/* What does the bill validator answer to each command? One row a command; what is not here the script treats.
 * Command codes, field widths and byte order (most significant first): MDB/ICP, section 6. */
#include "validator.h"

#include <string.h>

enum { EXPANSION = 7, ESCROW_STACK = 1, INVALID_ESCROW = 0x0A, STACKER_FULL_BIT = 0x8000, OPTION_RECYCLER = 0x02 };

/* Without address byte, sub-command and checksum. */
struct request {
    int command;
    const uint8_t *data;
    int64_t now_ms;
};

static void put(struct answer *answer, long byte)
{
    answer->kind = ANSWER_DATA;
    answer->data[answer->length++] = (uint8_t)byte;
}

static void put_pair(struct answer *answer, long number)
{
    put(answer, number >> 8 & 0xFF);
    put(answer, number & 0xFF);
}

/* Left-justified, filled up with blanks. */
static void put_text(struct answer *answer, const char *text, size_t width)
{
    size_t length = strlen(text);
    for (size_t i = 0; i < width; i++)
        put(answer, i < length ? text[i] : ' ');
}

static unsigned pair(const uint8_t *data)
{
    return (unsigned)data[0] << 8 | data[1];
}

static void answer_reset(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)answer;
    validator_restart(validator, 0, "reset_by_host", request->now_ms);
}

static void answer_setup(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)request;
    const struct settings *settings = validator->settings;
    put(answer, settings->level);
    put_pair(answer, settings->country);
    put_pair(answer, settings->scaling);
    put(answer, settings->places);
    put_pair(answer, settings->capacity);
    put_pair(answer, (long)validator->settings->security);
    put(answer, settings->escrow ? 0xFF : 0x00);
    for (int type = 0; type < TYPES; type++)
        put(answer, settings->credit[type] < 0 ? 0 : settings->credit[type]);
    answer->length = (size_t)settings->setup_bytes;
}

static void answer_security(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)answer;
    validator->security = pair(request->data);
}

/* Events first, in order; then the statuses that hold, as far as there is room. */
static void answer_poll(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)request;
    size_t room = (size_t)validator->settings->poll_bytes;
    answer->events = validator->queued < room ? validator->queued : room;
    for (size_t i = 0; i < answer->events; i++)
        put(answer, validator->queue[i]);
    uint8_t levels[8];
    size_t count = validator_levels(validator, levels);
    for (size_t i = 0; i < count && answer->length < room; i++)
        put(answer, levels[i]);
}

static void answer_bill_type(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)answer;
    bool was_enabled = validator->enabled != 0;
    validator->enabled = pair(request->data);
    validator->escrowed = pair(request->data + 2);
    if (was_enabled && validator->enabled == 0 && validator->settings->says_disabled == SAYS_ONCE)
        validator_queue(validator, DISABLED_POLL_BYTE);
}

/* The ACK means received, not done. */
static void answer_escrow(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)answer;
    bool stack = (request->data[0] & 1) == ESCROW_STACK;
    truth_say(validator->truth, request->now_ms, stack ? "stack_asked" : "return_asked", NULL, 0);
    if (!validator_decide(validator, stack, request->now_ms))
        validator_event(validator, INVALID_ESCROW, request->now_ms);
}

static void answer_stacker(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)request;
    put_pair(answer, (validator->full ? STACKER_FULL_BIT : 0) | (validator->count & 0x7FFF));
}

static long decimal_pack(long number)
{
    return number / 1000 % 10 << 12 | number / 100 % 10 << 8 | number / 10 % 10 << 4 | number % 10;
}

static void answer_identification(struct validator *validator, const struct request *request, struct answer *answer)
{
    const struct settings *settings = validator->settings;
    put_text(answer, settings->maker, 3);
    put_text(answer, settings->serial, 12);
    put_text(answer, settings->model, 12);
    put_pair(answer, decimal_pack(settings->software));
    if (request->command == COMMAND_EXPANSION)
        return;
    put_pair(answer, 0);
    put_pair(answer, validator_has_recycler(validator) ? OPTION_RECYCLER : 0);
}

static void answer_options(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)answer;
    validator->options = pair(request->data) << 16 | pair(request->data + 2);
}

static void answer_recycler_setup(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)request;
    put_pair(answer, (long)validator->settings->recycles);
}

static void answer_recycler_enable(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)answer;
    validator->manual = pair(request->data);
    memcpy(validator->routing, request->data + 2, sizeof validator->routing);
}

/* Layout of the counts: from memory; another text shows single bytes. */
static void answer_dispense_status(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)request;
    long full = 0;
    for (int type = 0; type < TYPES; type++) {
        bool able = (validator->settings->recycles >> type & 1U) != 0;
        full |= (able && validator->stored[type] >= validator->settings->holds) ? 1L << type : 0;
    }
    put_pair(answer, full);
    for (int type = 0; type < TYPES; type++)
        put_pair(answer, validator->stored[type]);
}

/* The notes are gone at once; a device would take its time. */
static void notes_pay(struct validator *validator, long type, long number, int64_t now_ms)
{
    if (number > validator->stored[type])
        number = validator->stored[type];
    validator->stored[type] -= number;
    validator->paid[type] += number;
    truth_begin(validator->truth, now_ms, "paid_out");
    truth_number(validator->truth, "type", type);
    truth_number(validator->truth, "notes", number);
    truth_end(validator->truth);
}

static void answer_dispense(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)answer;
    memset(validator->paid, 0, sizeof validator->paid);
    if (request->command == COMMAND_EXPANSION + 6) {
        notes_pay(validator, request->data[0] % TYPES, (long)pair(request->data + 1), request->now_ms);
        return;
    }
    long left = (long)pair(request->data);
    for (int type = TYPES - 1; type >= 0; type--) { /* values ascend with the type */
        long credit = validator->settings->credit[type];
        if (credit <= 0 || credit == CREDIT_TOKEN || validator->stored[type] == 0)
            continue;
        notes_pay(validator, type, left / credit, request->now_ms);
        left -= validator->paid[type] * credit;
    }
}

static void answer_payout_status(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)request;
    for (int type = 0; type < TYPES; type++)
        put_pair(answer, validator->paid[type]);
}

/* For PAYOUT VALUE POLL this means: finished. */
static void answer_acknowledge(struct validator *validator, const struct request *request, struct answer *answer)
{
    (void)validator;
    (void)request;
    (void)answer;
}

/* An answer that puts nothing is an ACK. */
static const struct row {
    size_t length; /* of the data */
    long level;
    bool recycler;
    void (*run)(struct validator *validator, const struct request *request, struct answer *answer);
} rows[COMMANDS] = {
    [COMMAND_RESET] = {0, 1, false, answer_reset},
    [COMMAND_SETUP] = {0, 1, false, answer_setup},
    [COMMAND_SECURITY] = {2, 1, false, answer_security},
    [COMMAND_POLL] = {0, 1, false, answer_poll},
    [COMMAND_BILL_TYPE] = {4, 1, false, answer_bill_type},
    [COMMAND_ESCROW] = {1, 1, false, answer_escrow},
    [COMMAND_STACKER] = {0, 1, false, answer_stacker},
    [COMMAND_EXPANSION] = {0, 1, false, answer_identification},
    [COMMAND_EXPANSION + 1] = {4, 2, false, answer_options},
    [COMMAND_EXPANSION + 2] = {0, 2, false, answer_identification},
    [COMMAND_EXPANSION + 3] = {0, 2, true, answer_recycler_setup},
    [COMMAND_EXPANSION + 4] = {18, 2, true, answer_recycler_enable},
    [COMMAND_EXPANSION + 5] = {0, 2, true, answer_dispense_status},
    [COMMAND_EXPANSION + 6] = {3, 2, true, answer_dispense},
    [COMMAND_EXPANSION + 7] = {2, 2, true, answer_dispense},
    [COMMAND_EXPANSION + 8] = {0, 2, true, answer_payout_status},
    [COMMAND_EXPANSION + 9] = {0, 2, true, answer_acknowledge},
    [COMMAND_EXPANSION + 10] = {0, 2, true, answer_acknowledge},
};

int validator_command(const uint8_t *block, size_t length)
{
    int command = block[0] & 7;
    if (command != EXPANSION)
        return command;
    if (length < 3 || block[1] >= COMMANDS - COMMAND_EXPANSION)
        return COMMAND_OTHER;
    return COMMAND_EXPANSION + block[1];
}

/* The block is for us and its checksum is right. */
void validator_answer(struct validator *validator, const uint8_t *block, size_t length, struct answer *answer,
                      int64_t now_ms)
{
    static const enum answer_kind treatments[] = {
        [UNKNOWN_SILENT] = ANSWER_SILENT, [UNKNOWN_NAK] = ANSWER_NAK, [UNKNOWN_ACK] = ANSWER_ACK};
    int command = validator_command(block, length);
    const struct row *row = &rows[command];
    size_t before = command >= COMMAND_OTHER ? 2 : 1;
    *answer = (struct answer){.kind = ANSWER_ACK};
    bool known = row->run != NULL && row->level <= validator->settings->level &&
                 (!row->recycler || validator_has_recycler(validator)) && length == before + row->length + 1;
    if (!known) {
        answer->kind = treatments[validator->settings->unknown];
        return;
    }
    const struct request request = {.command = command, .data = block + before, .now_ms = now_ms};
    row->run(validator, &request, answer);
    validator->unacknowledged = answer->kind == ANSWER_DATA;
    if (validator->unacknowledged)
        validator->last = *answer;
}

/* What was told leaves the queue. */
void validator_acknowledged(struct validator *validator)
{
    if (!validator->unacknowledged)
        return;
    size_t told = validator->last.events;
    validator->queued -= told;
    memmove(validator->queue, validator->queue + told, validator->queued);
    validator->unacknowledged = false;
}

bool validator_retransmit(const struct validator *validator, struct answer *answer)
{
    if (!validator->unacknowledged || validator->settings->ignores_retransmit)
        return false;
    *answer = validator->last;
    return true;
}
