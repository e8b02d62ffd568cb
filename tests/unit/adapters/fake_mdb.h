/*
 * A bill validator as the MDB/ICP fact tables describe it and a bus with faults, on a virtual clock. The device knows
 * what truly happened to each note. It shares no code with the adapter. The host is in mdb_host.h.
 */
#ifndef FAKE_MDB_H
#define FAKE_MDB_H

#include "mdb/mdb.h"
#include "mdb/session.h"

#include "test.h"

#include <stdio.h>
#include <stdlib.h>

enum { FAKE_TYPES = 16, FAKE_QUEUE = 64, FAKE_RULES = 8, FAKE_EVENTS = 4096, FAKE_LINE = 8192, FAKE_SENT = 65536 };
enum { FAKE_ANY = 0, FAKE_MASTER_ACK = 1 }; /* besides the commands 0x30 to 0x37 */

enum fake_fault {
    FAKE_SILENT,   /* the command is lost; of a master's ACK: the ACK is lost */
    FAKE_LOST,     /* carried out, the answer is lost */
    FAKE_DOUBLED,  /* the answer comes twice */
    FAKE_FLIPPED,  /* a bit of the answer is flipped: value = word * 16 + bit */
    FAKE_CUT,      /* only the first `value` words of the answer come */
    FAKE_LATE,     /* `value` ms late */
    FAKE_GAP,      /* `value` ms between the first word and the rest */
    FAKE_REFUSED,  /* NAK, not carried out */
    FAKE_NOISE,    /* a word of noise comes before the answer */
    FAKE_NO_ENDING /* no word has the mode bit */
};

struct fake_rule {
    uint8_t command;
    enum fake_fault fault;
    uint32_t skip;
    uint32_t times; /* 0 = free */
    uint32_t value;
};

enum fake_motion { MOTION_NONE, MOTION_IN, MOTION_ESCROW, MOTION_STACK, MOTION_OUT };
enum fake_power_loss { POWER_LOSS_RETURNS, POWER_LOSS_STACKS, POWER_LOSS_STACKS_AND_SAYS };

struct fake {
    /* What it is. */
    uint8_t setup[27];
    uint32_t setup_length;
    bool tells_identity;
    char identity[33]; /* maker, serial number, model */
    uint8_t options;   /* Z33 */
    bool answers_recycler;
    bool count_stuck;
    bool count_volatile; /* lost with the power */
    uint64_t count_lag_us;
    bool ignores_escrow;
    bool always_holds;
    bool says_disabled; /* 09 on every POLL while disabled */
    bool to_recycler;
    enum fake_power_loss power_loss;
    bool no_outcome;    /* takes ESCROW and does nothing */
    bool no_reset_word; /* never says 06 */
    bool carried;       /* behind a carrier, which acknowledges each answer at once, however late it hands it on */

    /* How it is. */
    uint64_t now_us;
    uint64_t dark_until_us;
    bool boots; /* dark after a loss of power */
    uint32_t enable;
    uint32_t escrow;
    uint8_t queue[FAKE_QUEUE];
    uint32_t queue_length;
    uint32_t offered;  /* bytes of the queue in the last POLL answer */
    uint8_t levels[8]; /* statuses said at each POLL */
    uint32_t level_count;
    uint32_t stacker;
    bool full;
    uint64_t lag_until_us;
    uint32_t lagging;
    uint8_t recycler[32];
    enum fake_motion motion;
    uint8_t moving;
    uint64_t motion_us;
    uint8_t command[40];
    uint32_t command_length;
    uint16_t answer[40]; /* the last one, for RET */
    uint32_t answer_length;
    bool answer_data;
    struct fake_rule rules[FAKE_RULES];

    /* The truth. */
    uint32_t stacked[FAKE_TYPES];
    uint32_t stacked_count;
    uint32_t returned_count;
    uint32_t seen[256]; /* commands by first byte */
    uint32_t escrow_seen[2];
    uint32_t rets, naks, acks, breaks;
    uint32_t dispensed_commands;
};

struct fake_byte {
    uint64_t time_us;
    uint8_t byte;
};

enum fake_chunks { CHUNKS_WORD, CHUNKS_BYTE, CHUNKS_RANDOM, CHUNKS_BLOCK };

struct rig {
    struct fake fake;
    cfoil_adapter_host host;
    struct session *state;
    uint64_t now_us;
    uint64_t deadline_us;
    uint32_t accept;
    const char *settings[16]; /* key, value, key, value, NULL */
    enum fake_chunks chunks;
    uint32_t random;
    struct fake_byte line[FAKE_LINE]; /* on the way to the adapter */
    uint32_t line_length;
    uint32_t spin;

    uint32_t event_count;
    cfoil_adapter_event events[FAKE_EVENTS];
    int32_t lane_state;
    int32_t lane_result;
    char lane_text[160];
    uint32_t log_count;
    char last_log[32];

    bool memory_dead; /* stores nothing, loads nothing */
    char memory_key[8][40];
    uint8_t memory[8][64];
    uint32_t memory_length[8];
    uint32_t store_count;
    uint8_t sent[FAKE_SENT];
    uint32_t sent_length;
};

static inline uint32_t rig_random(struct rig *rig)
{
    rig->random = rig->random * 1664525u + 1013904223u;
    return rig->random >> 8;
}

/* ---- The device ---- */

static const uint8_t fake_setup_usd[27] = {0x01, 0x18, 0x40, 0x00, 0x64, 0x02, 0x01, 0x90, 0x00,
                                           0x00, 0xFF, 0x01, 0x02, 0x05, 0x0A, 0x14, 0x32, 0x64};

static inline void fake_begin(struct fake *fake)
{
    memset(fake, 0, sizeof *fake);
    memcpy(fake->setup, fake_setup_usd, sizeof fake->setup);
    fake->setup_length = 27;
    fake->tells_identity = true;
    memcpy(fake->identity, "ABC000000123456MODEL7      \x01\x23", 29);
    fake->stacker = 23;
    fake->answers_recycler = true;
    fake->queue[0] = 0x06;
    fake->queue_length = 1;
}

static inline void fake_rule_add(struct fake *fake, uint8_t command, enum fake_fault fault, uint32_t skip,
                                 uint32_t times, uint32_t value)
{
    for (uint32_t i = 0; i < FAKE_RULES; i++) {
        if (fake->rules[i].times == 0) {
            fake->rules[i] = (struct fake_rule){command, fault, skip, times, value};
            return;
        }
    }
    fail_msg("too many rules");
}

static inline const struct fake_rule *fake_rule_use(struct fake *fake, uint8_t command)
{
    for (uint32_t i = 0; i < FAKE_RULES; i++) {
        struct fake_rule *rule = &fake->rules[i];
        bool fits = rule->command == command || (rule->command == FAKE_ANY && command != FAKE_MASTER_ACK);
        if (rule->times == 0 || !fits)
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

static inline void fake_say(struct fake *fake, uint8_t byte)
{
    if (fake->queue_length < FAKE_QUEUE)
        fake->queue[fake->queue_length++] = byte;
}

static inline void fake_level(struct fake *fake, uint8_t byte, bool present)
{
    uint32_t kept = 0;
    for (uint32_t i = 0; i < fake->level_count; i++) {
        if (fake->levels[i] != byte)
            fake->levels[kept++] = fake->levels[i];
    }
    fake->level_count = kept;
    if (present)
        fake->levels[fake->level_count++] = byte;
}

static inline void fake_count_show(struct fake *fake)
{
    if (fake->lagging > 0 && fake->now_us >= fake->lag_until_us) {
        fake->stacker += fake->lagging;
        fake->lagging = 0;
    }
}

/* A note reaches the cash box or the recycler. */
static inline void fake_stack(struct fake *fake, uint8_t type, bool says)
{
    bool recycles = fake->to_recycler;
    fake->stacked[type]++;
    fake->stacked_count++;
    if (recycles)
        fake->recycler[2 * type + 1]++;
    else if (!fake->count_stuck && fake->count_lag_us == 0)
        fake->stacker++;
    else if (!fake->count_stuck) {
        fake->lagging++;
        fake->lag_until_us = fake->now_us + fake->count_lag_us;
    }
    if (says)
        fake_say(fake, (uint8_t)((recycles ? 0xB0 : 0x80) | type));
}

static inline void fake_move_end(struct fake *fake)
{
    uint8_t type = fake->moving;
    bool holds = (fake->escrow >> type & 1) != 0 && fake->setup[10] != 0 && !fake->ignores_escrow;
    switch (fake->motion) {
    case MOTION_IN:
        if (holds || fake->always_holds) {
            fake->motion = MOTION_ESCROW;
            fake_say(fake, (uint8_t)(0x90 | type));
        } else {
            fake->motion = MOTION_STACK;
            fake->motion_us += 600000;
        }
        break;
    case MOTION_STACK:
        fake->motion = MOTION_NONE;
        fake_stack(fake, type, true);
        break;
    case MOTION_OUT:
        fake->motion = MOTION_NONE;
        fake->returned_count++;
        fake_say(fake, (uint8_t)(0xA0 | type));
        break;
    default:
        break;
    }
}

static inline bool fake_moves(const struct fake *fake)
{
    return fake->motion != MOTION_NONE && fake->motion != MOTION_ESCROW;
}

static inline void fake_start(struct fake *fake)
{
    fake->boots = false;
    fake->enable = 0;
    fake->escrow = 0;
    fake->queue_length = 0;
    fake->offered = 0;
    fake->answer_length = 0;
    fake->command_length = 0;
    if (!fake->no_reset_word)
        fake_say(fake, 0x06);
    bool says = fake->power_loss == POWER_LOSS_STACKS_AND_SAYS;
    if (fake->motion == MOTION_NONE)
        return;
    if (fake->power_loss == POWER_LOSS_RETURNS)
        fake->returned_count++;
    else
        fake_stack(fake, fake->moving, says);
    fake->motion = MOTION_NONE;
}

static inline void fake_advance(struct fake *fake, uint64_t now_us)
{
    if (fake->boots && now_us >= fake->dark_until_us) {
        fake->now_us = fake->dark_until_us;
        fake_start(fake);
    }
    while (!fake->boots && fake_moves(fake) && fake->motion_us <= now_us) {
        fake->now_us = fake->motion_us;
        fake_move_end(fake);
    }
    fake->now_us = now_us;
    fake_count_show(fake);
}

/* Power goes for so long. */
static inline void fake_power_loss(struct fake *fake, uint64_t dark_us)
{
    fake->boots = true;
    fake->dark_until_us = fake->now_us + dark_us;
    if (fake->count_volatile)
        fake->stacker = 0;
}

/* A good note is fed; false when the path is not free. */
static inline bool fake_insert(struct fake *fake, uint8_t type)
{
    if (fake->boots || fake->motion != MOTION_NONE)
        return false;
    if (fake->enable == 0) {
        fake_say(fake, 0x41);
    } else if ((fake->enable >> type & 1) == 0) {
        fake_say(fake, (uint8_t)(0xC0 | type));
    } else {
        fake->motion = MOTION_IN;
        fake->moving = type;
        fake->motion_us = fake->now_us + 400000;
        return true;
    }
    return false;
}

static inline void fake_answer_set(struct fake *fake, const uint8_t *data, uint32_t length)
{
    uint8_t sum = 0;
    for (uint32_t i = 0; i < length; i++) {
        fake->answer[i] = data[i];
        sum = (uint8_t)(sum + data[i]);
    }
    fake->answer[length] = (uint16_t)(sum | 0x100);
    fake->answer_length = length + 1;
    fake->answer_data = true;
}

static inline void fake_control_set(struct fake *fake, uint8_t control)
{
    fake->answer[0] = (uint16_t)(control | 0x100);
    fake->answer_length = 1;
    fake->answer_data = false;
}

static inline void fake_poll(struct fake *fake)
{
    uint8_t data[16];
    uint32_t length = 0;
    fake->offered = fake->queue_length < 16 ? fake->queue_length : 16;
    memcpy(data, fake->queue, fake->offered);
    length = fake->offered;
    for (uint32_t i = 0; i < fake->level_count && length < 16; i++)
        data[length++] = fake->levels[i];
    if (fake->says_disabled && fake->enable == 0 && length < 16)
        data[length++] = 0x09;
    if (length == 0)
        fake_control_set(fake, 0x00);
    else
        fake_answer_set(fake, data, length);
}

static inline void fake_escrow(struct fake *fake, uint8_t what)
{
    fake_control_set(fake, 0x00);
    fake->escrow_seen[what & 1]++;
    if (fake->no_outcome)
        return;
    if (fake->motion != MOTION_ESCROW) {
        fake_say(fake, 0x0A);
        return;
    }
    fake->motion = (what & 1) != 0 ? MOTION_STACK : MOTION_OUT;
    fake->motion_us = fake->now_us + 600000;
}

static inline void fake_expansion(struct fake *fake)
{
    uint8_t data[36] = {0};
    switch (fake->command[1]) {
    case 0x00:
    case 0x02:
        if (!fake->tells_identity) {
            fake_control_set(fake, 0xFF);
            return;
        }
        memcpy(data, fake->identity, 29);
        data[32] = fake->options;
        fake_answer_set(fake, data, fake->command[1] == 0 ? 29 : 33);
        break;
    case 0x03:
        fake_answer_set(fake, data, 2);
        break;
    case 0x05:
        memcpy(data + 2, fake->recycler, 32);
        if (fake->answers_recycler)
            fake_answer_set(fake, data, 34);
        else
            fake_control_set(fake, 0xFF);
        break;
    case 0x01:
        fake_control_set(fake, 0x00);
        break;
    default:
        fake->dispensed_commands++;
        fake_control_set(fake, 0x00);
        break;
    }
}

static inline void fake_execute(struct fake *fake)
{
    const uint8_t *command = fake->command;
    uint8_t count[2];
    switch (command[0]) {
    case 0x30:
        fake_control_set(fake, 0x00);
        if (fake->motion == MOTION_ESCROW)
            fake->returned_count++;
        if (!fake_moves(fake))
            fake->motion = MOTION_NONE;
        fake->enable = 0;
        fake->escrow = 0;
        fake->queue_length = 0;
        fake->offered = 0;
        if (!fake->no_reset_word)
            fake_say(fake, 0x06);
        break;
    case 0x31:
        fake_answer_set(fake, fake->setup, fake->setup_length);
        break;
    case 0x33:
        fake_poll(fake);
        break;
    case 0x34:
        fake->enable = (uint32_t)(command[1] << 8 | command[2]);
        fake->escrow = (uint32_t)(command[3] << 8 | command[4]);
        fake_control_set(fake, 0x00);
        break;
    case 0x35:
        fake_escrow(fake, command[1]);
        break;
    case 0x36:
        count[0] = (uint8_t)(fake->stacker >> 8 | (fake->full ? 0x80 : 0));
        count[1] = (uint8_t)(fake->stacker & 0xFF);
        fake_answer_set(fake, count, 2);
        break;
    case 0x37:
        fake_expansion(fake);
        break;
    default:
        fake_control_set(fake, 0x00);
        break;
    }
}

static inline uint32_t fake_command_length(const uint8_t *command, uint32_t length)
{
    static const uint32_t lengths[8] = {2, 2, 4, 2, 6, 3, 2, 3};
    if (command[0] == 0x37 && length > 1 && command[1] == 0x01)
        return 7;
    return lengths[command[0] & 7];
}

/* ---- The bus ---- */

static inline void line_put(struct rig *rig, uint16_t word, uint64_t *time_us)
{
    uint8_t bytes[2] = {(uint8_t)(word & 0xFF), (uint8_t)(word >> 8)};
    for (uint32_t i = 0; i < 2; i++) {
        if (rig->line_length == FAKE_LINE)
            fail_msg("the line is full");
        /* In order of time: a late answer must not hold up what comes before it. */
        uint32_t place = rig->line_length++;
        while (place > 0 && rig->line[place - 1].time_us > *time_us) {
            rig->line[place] = rig->line[place - 1];
            place--;
        }
        rig->line[place] = (struct fake_byte){*time_us, bytes[i]};
        if (rig->chunks == CHUNKS_BYTE)
            *time_us += 500;
        if (rig->chunks == CHUNKS_RANDOM)
            *time_us += rig_random(rig) % 1500;
    }
    if (rig->chunks == CHUNKS_WORD)
        *time_us += 1146;
}

static inline void answer_put(struct rig *rig, const struct fake_rule *rule)
{
    struct fake *fake = &rig->fake;
    uint16_t words[40];
    uint32_t count = fake->answer_length;
    uint64_t time_us = rig->now_us + 2000;
    memcpy(words, fake->answer, sizeof words);
    enum fake_fault fault = rule != NULL ? rule->fault : FAKE_SILENT;
    uint32_t value = rule != NULL ? rule->value : 0;
    if (rule != NULL && fault == FAKE_LOST)
        return;
    if (rule != NULL && fault == FAKE_FLIPPED)
        words[value / 16 % count] ^= (uint16_t)(1u << value % 16);
    if (rule != NULL && fault == FAKE_CUT)
        count = value < count ? value : count;
    if (rule != NULL && fault == FAKE_LATE)
        time_us += value * UINT64_C(1000);
    if (rule != NULL && fault == FAKE_NOISE)
        line_put(rig, (uint16_t)value, &time_us);
    if (rule != NULL && fault == FAKE_NO_ENDING)
        words[count - 1] &= 0xFF;
    for (uint32_t i = 0; i < count; i++) {
        line_put(rig, words[i], &time_us);
        if (rule != NULL && fault == FAKE_GAP && i == 0)
            time_us += value * UINT64_C(1000);
    }
    if (rule != NULL && fault == FAKE_DOUBLED) {
        time_us += 3000;
        for (uint32_t i = 0; i < count; i++)
            line_put(rig, words[i], &time_us);
    }
}

static inline void fake_acknowledged(struct fake *fake)
{
    memmove(fake->queue, fake->queue + fake->offered, fake->queue_length - fake->offered);
    fake->queue_length -= fake->offered;
    fake->offered = 0;
}

static inline void command_end(struct rig *rig)
{
    struct fake *fake = &rig->fake;
    uint8_t sum = 0;
    for (uint32_t i = 0; i + 1 < fake->command_length; i++)
        sum = (uint8_t)(sum + fake->command[i]);
    assert_int_equal(sum, fake->command[fake->command_length - 1]);
    fake->offered = 0; /* a new command: what was not acknowledged stays */
    fake->seen[fake->command[0]]++;
    const struct fake_rule *rule = fake_rule_use(fake, fake->command[0]);
    fake->command_length = 0;
    if (rule != NULL && rule->fault == FAKE_SILENT)
        return;
    if (rule != NULL && rule->fault == FAKE_REFUSED)
        fake_control_set(fake, 0xFF);
    else
        fake_execute(fake);
    answer_put(rig, rule);
    if (fake->carried && fake->answer_data)
        fake_acknowledged(fake);
}

static inline void control_take(struct rig *rig, uint8_t control)
{
    struct fake *fake = &rig->fake;
    if (control == 0xAA) {
        fake->rets++;
        if (fake->answer_length > 0)
            answer_put(rig, fake_rule_use(fake, 0xAA));
        return;
    }
    fake->acks += control == 0x00 ? 1 : 0;
    fake->naks += control == 0xFF ? 1 : 0;
    if (control == 0x00 && fake->answer_data && fake_rule_use(fake, FAKE_MASTER_ACK) == NULL)
        fake_acknowledged(fake);
}

static inline void word_from_master(struct rig *rig, uint16_t word)
{
    struct fake *fake = &rig->fake;
    if (word == CFOIL_WORD_BREAK) {
        fake->breaks++;
        fake->command[0] = 0x30;
        if (!fake->boots)
            fake_execute(fake);
        return;
    }
    assert_true(word <= 0x1FF);
    if (fake->boots)
        return;
    if ((word & 0x100) != 0) {
        fake->command_length = 0;
        assert_int_equal(word & 0xF8, 0x30);
    } else if (fake->command_length == 0) {
        control_take(rig, (uint8_t)word);
        return;
    }
    fake->command[fake->command_length++] = (uint8_t)(word & 0xFF);
    if (fake->command_length == fake_command_length(fake->command, fake->command_length))
        command_end(rig);
}

#endif
