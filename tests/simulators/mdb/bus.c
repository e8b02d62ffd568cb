/* What goes over the bus? Blocks, mode bit, checksum, control bytes: MDB/ICP, section 2. The faults are our own. */
#include "bus.h"

#include <string.h>

enum { ACK = 0x00, RET = 0xAA, NAK = 0xFF, ADDRESS = 0x30, ADDRESS_MASK = 0xF8 };

void bus_start(struct bus *bus, struct validator *validator, struct faults *faults)
{
    memset(bus, 0, sizeof *bus);
    bus->validator = validator;
    bus->settings = validator->settings;
    bus->truth = validator->truth;
    bus->faults = faults;
}

void fault_log(const struct truth *truth, const struct fault *fault, const char *on, int64_t now_ms)
{
    truth_begin(truth, now_ms, "fault");
    truth_text(truth, "kind", fault->kind->word);
    truth_text(truth, "on", on);
    truth_end(truth);
}

static bool own_strikes(struct bus *bus, int own, int command, int64_t now_ms)
{
    bool strikes = false;
    for (size_t i = 0; i < bus->faults->count; i++) {
        struct fault *fault = &bus->faults->fault[i];
        if (fault->kind->where != ON_BUS || fault->kind->own != own || !fault_strikes(fault, command))
            continue;
        fault_log(bus->truth, fault, command_name(command), now_ms);
        strikes = true;
    }
    return strikes;
}

/* Those that work on the answer itself. */
static bool on_answer(const struct fault *fault)
{
    int own = fault->kind->own;
    return fault->kind->where == ON_BUS && own != OWN_DEAF && own != OWN_NAK && own != OWN_ACK_LOST;
}

static void fault_put(struct bus *bus, struct fault *fault, struct hearing *hearing)
{
    struct outgoing *out = &hearing->out;
    if (fault->kind->own == OWN_FRAMING) {
        hearing->framing = true;
    } else if (fault->kind->own == OWN_STALE) { /* instead of the answer: the ACK that follows is not for it */
        memcpy(out->units, bus->previous, bus->previous_length * sizeof bus->previous[0]);
        out->length = bus->previous_length;
        hearing->current = false;
    } else {
        fault_apply(fault, out);
    }
}

static void answer_damage(struct bus *bus, struct hearing *hearing, int64_t now_ms)
{
    struct outgoing *out = &hearing->out;
    for (size_t i = 0; i < bus->faults->count; i++) {
        struct fault *fault = &bus->faults->fault[i];
        if (!on_answer(fault) || !fault_strikes(fault, hearing->command))
            continue;
        fault_log(bus->truth, fault, command_name(hearing->command), now_ms);
        if (out->length > out->start) /* something must be left to be damaged */
            fault_put(bus, fault, hearing);
    }
    if (out->mute)
        out->length = 0;
}

/* Mode bit 1 on the last word: the checksum, or the lone ACK or NAK. */
static size_t words_build(const struct answer *answer, uint16_t words[BLOCK_MOST + 1])
{
    if (answer->kind != ANSWER_DATA) {
        words[0] = MODE_BIT | (answer->kind == ANSWER_ACK ? ACK : NAK);
        return 1;
    }
    unsigned sum = 0;
    for (size_t i = 0; i < answer->length; i++) {
        words[i] = answer->data[i];
        sum += answer->data[i];
    }
    words[answer->length] = (uint16_t)(MODE_BIT | (sum & 0xFFU));
    return answer->length + 1;
}

static void answer_send(struct bus *bus, const struct answer *answer, struct hearing *hearing, int64_t now_ms)
{
    uint16_t whole[BLOCK_MOST + 1];
    size_t length = words_build(answer, whole);
    struct outgoing *out = &hearing->out;
    memcpy(out->units, whole, length * sizeof whole[0]);
    out->length = length;
    out->bits = 9;
    out->intact = true;
    out->delay_ms = bus->settings->reply_ms;
    hearing->current = true;
    hearing->events = answer->events > 0;
    answer_damage(bus, hearing, now_ms);
    memcpy(bus->previous, whole, length * sizeof whole[0]);
    bus->previous_length = length;
    bus->answered[hearing->command]++;
    bus->last_command = hearing->command;
}

/* Gives the length of the block, or 0 if it is not whole or not for a bill validator. */
static size_t block_read(const uint16_t *words, size_t count, uint8_t block[WORDS_MOST])
{
    if (count < 2 || (words[0] & MODE_BIT) == 0 || (words[0] & ADDRESS_MASK) != ADDRESS)
        return 0;
    unsigned sum = 0;
    for (size_t i = 0; i < count; i++) {
        if (words[i] > MODE_BIT + 0xFF || (i > 0 && words[i] > 0xFF))
            return 0;
        block[i] = (uint8_t)words[i];
        sum += i + 1 < count ? block[i] : 0U;
    }
    return (sum & 0xFFU) == block[count - 1] ? count : 0;
}

static void command_handle(struct bus *bus, const uint8_t *block, size_t length, struct hearing *hearing,
                           int64_t now_ms)
{
    struct answer answer = {.kind = ANSWER_NAK};
    hearing->command = validator_command(block, length);
    bus->requests[hearing->command]++;
    if (own_strikes(bus, OWN_DEAF, hearing->command, now_ms))
        return;
    if (!own_strikes(bus, OWN_NAK, hearing->command, now_ms)) /* a NAK: nothing was carried out */
        validator_answer(bus->validator, block, length, &answer, now_ms);
    if (answer.kind != ANSWER_SILENT)
        answer_send(bus, &answer, hearing, now_ms);
}

static void retransmit(struct bus *bus, struct hearing *hearing, int64_t now_ms)
{
    struct answer answer;
    truth_say(bus->truth, now_ms, "retransmit_asked", NULL, 0);
    hearing->command = bus->last_command;
    if (validator_retransmit(bus->validator, &answer))
        answer_send(bus, &answer, hearing, now_ms);
}

void bus_exchange(struct bus *bus, const uint16_t *words, size_t count, struct hearing *hearing, int64_t now_ms)
{
    *hearing = (struct hearing){.command = COMMAND_OTHER};
    if (count == 1 && words[0] == WORD_BREAK) {
        validator_restart(bus->validator, 0, "bus_reset", now_ms);
        return;
    }
    if (now_ms < bus->validator->quiet_until_ms)
        return;
    uint8_t block[WORDS_MOST];
    if (count == 1 && words[0] == RET) {
        retransmit(bus, hearing, now_ms);
        return;
    }
    size_t length = block_read(words, count, block);
    if (length > 0)
        command_handle(bus, block, length, hearing, now_ms);
}

void bus_acknowledge(struct bus *bus, const struct hearing *hearing, int64_t now_ms)
{
    if (!own_strikes(bus, OWN_ACK_LOST, hearing->command, now_ms) && hearing->current)
        validator_acknowledged(bus->validator);
}
