/*
 * A note validator as the ccTalk fact tables describe it. See fake_validator.h. Bill headers, codes and the bill id are
 * from memory of the Generic Specification; framing, counter and inhibit rules are also in published device manuals.
 */
#include "fake_validator.h"

#include <string.h>

enum { MOVE_US = 100000, STACK_US = 300000, WATCHDOG_US = 1000000 };

static uint16_t fake_crc(const uint8_t *bytes, uint32_t length, uint16_t crc)
{
    for (uint32_t i = 0; i < length; i++) {
        crc = (uint16_t)(crc ^ (uint16_t)(bytes[i] << 8));
        for (int bit = 0; bit < 8; bit++)
            crc = (uint16_t)((crc & 0x8000) != 0 ? (crc << 1) ^ 0x1021 : crc << 1);
    }
    return crc;
}

static uint16_t fake_frame_crc(const uint8_t *bytes, uint32_t data_length)
{
    return fake_crc(bytes + 3, 1 + data_length, fake_crc(bytes, 2, 0));
}

uint32_t fake_frame(bool crc, uint8_t destination, uint8_t source, uint8_t header, const uint8_t *data,
                    uint32_t data_length, uint8_t *bytes)
{
    bytes[0] = destination;
    bytes[1] = (uint8_t)data_length;
    bytes[2] = source;
    bytes[3] = header;
    if (data_length > 0)
        memcpy(bytes + 4, data, data_length);
    if (crc) {
        uint16_t value = fake_frame_crc(bytes, data_length);
        bytes[2] = (uint8_t)(value & 0xFF);
        bytes[4 + data_length] = (uint8_t)(value >> 8);
    } else {
        uint8_t sum = 0;
        for (uint32_t i = 0; i < 4 + data_length; i++)
            sum = (uint8_t)(sum + bytes[i]);
        bytes[4 + data_length] = (uint8_t)(0 - sum);
    }
    return 5 + data_length;
}

void fake_begin(struct fake *fake)
{
    memset(fake, 0, sizeof *fake);
    fake->address = 40;
    fake->category = "Bill Validator";
    fake->product = "NV";
    fake->serial = 1193046;
    fake->serial_length = 3;
    fake->names[1] = "EU0005A";
    fake->names[2] = "EU0010A";
    fake->names[3] = "EU0020A";
    fake->names[4] = "EU0050A";
    fake->country = "EU";
    fake->scale = 100;
    fake->places = 2;
    fake->answers_232 = true;
    fake->fault_extra = -1;
    fake->delay_us = 4000;
    fake->escrow_time_us = 10000000;
}

void fake_rule_add(struct fake *fake, uint8_t header, enum fake_fault fault, uint32_t skip, uint32_t times,
                   uint32_t value)
{
    for (uint32_t i = 0; i < FAKE_RULES; i++) {
        if (fake->rules[i].times == 0) {
            fake->rules[i] = (struct fake_rule){header, fault, skip, times, value};
            return;
        }
    }
}

void fake_rules_clear(struct fake *fake)
{
    memset(fake->rules, 0, sizeof fake->rules);
}

/* ---- Events and motion ---- */

void fake_event(struct fake *fake, uint8_t a, uint8_t b)
{
    memmove(fake->pairs + 2, fake->pairs, 8);
    fake->pairs[0] = a;
    fake->pairs[1] = b;
    fake->counter = fake->counter == 255 ? 1 : (uint8_t)(fake->counter + 1);
}

static void fake_truly_stack(struct fake *fake, uint8_t type)
{
    if (fake->stacked_count < FAKE_TRUTH)
        fake->stacked[fake->stacked_count++] = type;
}

static void motion_begin(struct fake *fake, enum fake_motion motion, uint64_t time_us)
{
    fake->motion = motion;
    fake->motion_us = fake->now_us + time_us;
}

bool fake_insert(struct fake *fake, uint8_t type)
{
    if (fake->motion != MOTION_NONE || fake->now_us < fake->dark_until_us)
        return false;
    bool enabled = (fake->mask[(type - 1) / 8] >> ((type - 1) % 8) & 1) != 0;
    if ((fake->master & 1) == 0 || fake->asleep || fake->fault != 0 || !enabled) {
        fake->rejected_count++;
        fake_event(fake, 0, enabled ? 0 : 4);
        return true;
    }
    fake->moving = type;
    motion_begin(fake, MOTION_IN, MOVE_US);
    return true;
}

static void motion_end(struct fake *fake)
{
    switch (fake->motion) {
    case MOTION_IN:
        if (fake->always_holds || ((fake->mode & 2) != 0 && !fake->ignores_escrow)) {
            motion_begin(fake, MOTION_ESCROW, fake->escrow_time_us);
            fake_event(fake, fake->moving, 1);
        } else {
            motion_begin(fake, MOTION_STACK, STACK_US);
        }
        break;
    case MOTION_ESCROW: /* nobody decided in time: it goes back */
        motion_begin(fake, MOTION_OUT, MOVE_US);
        break;
    case MOTION_STACK:
        fake->motion = MOTION_NONE;
        if (fake->jam_code != 0) {
            fake_event(fake, 0, fake->jam_code);
            fake->jam_code = 0;
            break;
        }
        fake_truly_stack(fake, fake->moving);
        if (!fake->no_outcome)
            fake_event(fake, fake->moving, 0);
        break;
    default:
        fake->motion = MOTION_NONE;
        fake->returned_count++;
        if (!fake->no_outcome)
            fake_event(fake, 0, 1);
        break;
    }
}

uint64_t fake_next(const struct fake *fake)
{
    return fake->motion != MOTION_NONE ? fake->motion_us : UINT64_MAX;
}

void fake_advance(struct fake *fake, uint64_t now_us)
{
    while (fake->motion != MOTION_NONE && fake->motion_us <= now_us) {
        fake->now_us = fake->motion_us;
        motion_end(fake);
    }
    fake->now_us = now_us;
    if ((fake->master & 1) != 0 && !fake->asleep && now_us - fake->poll_us > WATCHDOG_US) {
        fake->asleep = true;
        fake->asleep_count++;
    }
}

void fake_reset(struct fake *fake, uint64_t dark_us)
{
    uint8_t moving = fake->motion == MOTION_NONE ? 0 : fake->moving;
    fake->motion = MOTION_NONE;
    fake->counter = 0;
    memset(fake->pairs, 0, sizeof fake->pairs);
    if (!fake->keeps_inhibits) {
        memset(fake->mask, 0, sizeof fake->mask);
        fake->master = 0;
        fake->mode = 0;
    }
    fake->dark_until_us = fake->now_us + dark_us;
    if (moving == 0)
        return;
    if (fake->power_loss == POWER_LOSS_RETURNS) {
        fake->returned_count++;
        return;
    }
    fake_truly_stack(fake, moving);
    if (fake->power_loss == POWER_LOSS_STACKS_WITH_EVENT)
        fake_event(fake, moving, 0);
}

/* ---- Commands ---- */

struct reply {
    bool none;
    uint8_t header; /* 0 ACK or data, 5 NAK, 6 BUSY */
    uint32_t length;
    uint8_t data[252];
};

static void reply_text(struct reply *reply, const char *text)
{
    reply->length = (uint32_t)strlen(text);
    memcpy(reply->data, text, reply->length);
}

static void reply_bytes(struct reply *reply, uint32_t length, uint8_t first, uint8_t second, uint8_t third)
{
    reply->length = length;
    reply->data[0] = first;
    reply->data[1] = second;
    reply->data[2] = third;
}

static void name_reply(const struct fake *fake, uint8_t type, struct reply *reply)
{
    if (type >= 1 && type <= FAKE_TYPES && fake->names[type] != NULL)
        reply_text(reply, fake->names[type]);
    else if (fake->empty == EMPTY_DOTS)
        reply_text(reply, ".......");
    else if (fake->empty == EMPTY_NAK)
        reply->header = 5;
    else
        reply->none = true;
}

static void scaling_reply(const struct fake *fake, const uint8_t *country, struct reply *reply)
{
    bool known = memcmp(country, fake->country, 2) == 0 ||
                 (fake->country_too != NULL && memcmp(country, fake->country_too, 2) == 0);
    if (known)
        reply_bytes(reply, 3, (uint8_t)(fake->scale & 0xFF), (uint8_t)(fake->scale >> 8), fake->places);
    else
        reply_bytes(reply, 3, 0, 0, 0);
}

static void route(struct fake *fake, uint8_t code, struct reply *reply)
{
    fake->routed_count[code]++;
    if (fake->motion != MOTION_ESCROW) {
        reply_bytes(reply, 1, 254, 0, 0);
        return;
    }
    if (fake->route_fails > 0) {
        fake->route_fails--;
        reply_bytes(reply, 1, 255, 0, 0);
        return;
    }
    if (code == 255)
        fake->motion_us = fake->now_us + fake->escrow_time_us;
    else
        motion_begin(fake, code == 1 ? MOTION_STACK : MOTION_OUT, code == 1 ? STACK_US : MOVE_US);
}

static void events_reply(struct fake *fake, struct reply *reply)
{
    fake->poll_us = fake->now_us;
    fake->asleep = false;
    reply->length = 11;
    reply->data[0] = fake->counter;
    memcpy(reply->data + 1, fake->pairs, 10);
    if (fake->history_count == FAKE_HISTORY)
        memmove(fake->history[0], fake->history[1], sizeof fake->history - sizeof fake->history[0]);
    else
        fake->history_count++;
    memcpy(fake->history[fake->history_count - 1], reply->data, 11);
}

static void serial_reply(const struct fake *fake, struct reply *reply)
{
    if (fake->serial_length == 0) {
        reply->header = 5;
        return;
    }
    reply->length = fake->serial_length;
    for (uint32_t i = 0; i < fake->serial_length; i++)
        reply->data[i] = (uint8_t)(fake->serial >> (8 * i));
}

static void self_check_reply(const struct fake *fake, struct reply *reply)
{
    if (!fake->answers_232)
        reply->header = 5;
    else
        reply_bytes(reply, fake->fault_extra >= 0 ? 2 : 1, fake->fault, (uint8_t)fake->fault_extra, 0);
}

static void master_write(struct fake *fake, uint8_t value)
{
    if ((fake->master & 1) == 0)
        fake->poll_us = fake->now_us; /* the watchdog runs while enabled */
    fake->master = value;
}

static void carry_out(struct fake *fake, uint8_t header, const uint8_t *data, struct reply *reply)
{
    switch (header) {
    case 254:
        break;
    case 249:
        reply_bytes(reply, 2, 2, 20, 0);
        break;
    case 246:
        reply_text(reply, "XXX");
        break;
    case 245:
        reply_text(reply, fake->category);
        break;
    case 244:
        reply_text(reply, fake->product);
        break;
    case 242:
        serial_reply(fake, reply);
        break;
    case 241:
        reply_text(reply, "1.0");
        break;
    case 192:
        reply_text(reply, "B1");
        break;
    case 4:
        reply_bytes(reply, 3, 1, 4, 7);
        break;
    case 232:
        self_check_reply(fake, reply);
        break;
    case 231:
        memcpy(fake->mask, data, 2);
        break;
    case 230:
        reply_bytes(reply, 2, (uint8_t)(fake->mask[0] | fake->stuck_mask), fake->mask[1], 0);
        break;
    case 228:
        master_write(fake, data[0]);
        break;
    case 227:
        reply_bytes(reply, 1, fake->master, 0, 0);
        break;
    case 159:
        events_reply(fake, reply);
        break;
    case 157:
        name_reply(fake, data[0], reply);
        break;
    case 156:
        scaling_reply(fake, data, reply);
        break;
    case 154:
        route(fake, data[0], reply);
        break;
    case 153:
        fake->mode = data[0];
        break;
    case 152:
        reply_bytes(reply, 1, fake->fixed_mode != 0 ? (uint8_t)fake->fixed_mode : fake->mode, 0, 0);
        break;
    default:
        reply->none = true;
        break;
    }
}

/* ---- The line ---- */

static bool request_valid(const struct fake *fake, const uint8_t *bytes, uint32_t length)
{
    if (length < 5 || length != 5u + bytes[1] || bytes[0] != fake->address)
        return false;
    if (fake->crc) {
        uint16_t crc = fake_frame_crc(bytes, bytes[1]);
        return bytes[2] == (crc & 0xFF) && bytes[length - 1] == crc >> 8;
    }
    uint8_t sum = 0;
    for (uint32_t i = 0; i < length; i++)
        sum = (uint8_t)(sum + bytes[i]);
    return sum == 0 && bytes[2] == 1;
}

static const struct fake_rule *rule_find(struct fake *fake, uint8_t header)
{
    for (uint32_t i = 0; i < FAKE_RULES; i++) {
        struct fake_rule *rule = &fake->rules[i];
        if (rule->times == 0 || (rule->header != 0 && rule->header != header))
            continue;
        if (rule->skip > 0) {
            rule->skip--;
            continue;
        }
        rule->times--;
        return rule;
    }
    return NULL;
}

static void answer_append(struct fake_answer *answer, const void *bytes, uint32_t length)
{
    memcpy(answer->bytes + answer->length, bytes, length);
    answer->length += length;
}

static void fault_before(const struct fake_rule *rule, struct fake_answer *answer)
{
    static const uint8_t noise[] = {0xA5, 0x00, 0x3C};
    static const uint8_t foreign[] = {1, 0, 2, 0, 253, 2, 0, 1, 254, 255};
    if (rule->fault == FAKE_GLUED)
        answer_append(answer, noise, sizeof noise);
    if (rule->fault == FAKE_FOREIGN_FIRST)
        answer_append(answer, foreign, sizeof foreign);
}

static void fault_after(const struct fake_rule *rule, struct fake_answer *answer)
{
    static const uint8_t tail[] = {0x55};
    switch (rule->fault) {
    case FAKE_LOST:
        answer->length = 0;
        break;
    case FAKE_DOUBLED:
        memcpy(answer->bytes + answer->length, answer->bytes, answer->length);
        answer->length *= 2;
        break;
    case FAKE_FLIPPED:
        answer->bytes[rule->value % answer->length] ^= 0x10;
        break;
    case FAKE_CUT:
        if (rule->value < answer->length)
            answer->length = rule->value;
        break;
    case FAKE_LATE:
        answer->delay_us += 1000 * (uint64_t)rule->value;
        break;
    case FAKE_TAILED:
        answer_append(answer, tail, sizeof tail);
        break;
    default:
        break;
    }
}

/* Faults that come instead of carrying the command out. */
static bool fault_instead(const struct fake_rule *rule, struct reply *reply)
{
    switch (rule->fault) {
    case FAKE_NAK:
        reply->header = 5;
        return true;
    case FAKE_BUSY:
        reply->header = 6;
        return true;
    case FAKE_SILENT:
        reply->none = true;
        return true;
    case FAKE_ANSWER:
        reply_bytes(reply, 1, (uint8_t)rule->value, 0, 0);
        return true;
    case FAKE_HEADER:
        reply->header = 77;
        return true;
    default:
        return false;
    }
}

void fake_request(struct fake *fake, const uint8_t *bytes, uint32_t length, uint64_t now_us, struct fake_answer *answer)
{
    memset(answer, 0, sizeof *answer);
    fake_advance(fake, now_us);
    if (now_us < fake->dark_until_us || !request_valid(fake, bytes, length))
        return;
    struct reply reply = {.none = false};
    static const struct fake_rule none = {.fault = FAKE_NONE};
    const struct fake_rule *rule = rule_find(fake, bytes[3]);
    if (rule == NULL)
        rule = &none;
    if (!fault_instead(rule, &reply))
        carry_out(fake, bytes[3], bytes + 4, &reply);
    if (reply.none)
        return;
    if (rule->fault == FAKE_STALE && bytes[3] == 159 && fake->history_count > rule->value)
        memcpy(reply.data, fake->history[fake->history_count - 1 - rule->value], 11);
    if (rule->fault == FAKE_ALTERED)
        reply.data[reply.length - 1] = ++fake->altered;
    if (rule->fault == FAKE_LONG)
        reply.data[reply.length++] = 0;
    answer->delay_us = fake->delay_us;
    fault_before(rule, answer);
    answer->length += fake_frame(fake->crc, 1, fake->address, reply.header, reply.data, reply.length,
                                 answer->bytes + answer->length);
    fault_after(rule, answer);
}
