/*
 * A fake of the status-bit device of examples/descriptions, written from the description's own words, on the virtual clock
 * of the rig.
 */
#ifndef DESCRIBED_BITS_H
#define DESCRIBED_BITS_H

#include "described_rig.h"

enum fate { FATE_GOOD, FATE_LOST, FATE_DEAF, FATE_FLIPPED, FATE_DOUBLED, FATE_LATE, FATE_STALE, FATE_CUT, FATE_COUNT };
enum place { PLACE_NONE, PLACE_ESCROW, PLACE_STACKING, PLACE_RETURNING };

struct validator {
    const char *form; /* first letters of its identity */
    uint8_t toggle;   /* of the request carried out last; 0xFF = none yet */
    uint32_t answer_length;
    uint8_t answer[64]; /* the last one, as it stood on the line */
    uint8_t flags;      /* told once: 08 stacked, 10 returned, 20 rejected */
    uint8_t states;     /* second byte: told as long as they last */
    uint8_t note;       /* fourth byte */
    enum place place;
    uint8_t type; /* of the note on its way */
    uint64_t move_us;
    bool accepting;
    uint32_t faults;  /* one answer in so many is hit; 0 = none */
    enum fate forced; /* the next answer's fate */
    uint32_t stacked[16];
    uint32_t stacked_count;
    uint32_t requests;
    bool silent;
};

/* x^16 + x^12 + x^5 + 1 from all ones, bit by bit. */
static uint16_t crc_of(const uint8_t *bytes, uint32_t length)
{
    uint16_t crc = 0xFFFF;
    for (uint32_t i = 0; i < length; i++) {
        for (int bit = 7; bit >= 0; bit--) {
            bool out = (crc >> 15 & 1) != (bytes[i] >> bit & 1);
            crc = (uint16_t)(crc << 1);
            if (out)
                crc ^= 0x1021;
        }
    }
    return crc;
}

static uint32_t frame_make(const uint8_t *body, uint32_t length, uint8_t *frame)
{
    uint8_t whole[64];
    memcpy(whole, body, length);
    uint16_t crc = crc_of(body, length);
    whole[length++] = (uint8_t)(crc >> 8);
    whole[length++] = (uint8_t)crc;
    uint32_t out = 0;
    frame[out++] = 0x7E;
    for (uint32_t i = 0; i < length; i++) {
        if (whole[i] == 0x7E || whole[i] == 0x7F || whole[i] == 0x7D) {
            frame[out++] = 0x7D;
            frame[out++] = whole[i] ^ 0x20;
        } else {
            frame[out++] = whole[i];
        }
    }
    frame[out++] = 0x7F;
    return out;
}

static uint32_t frame_open(const uint8_t *frame, uint32_t length, uint8_t *body)
{
    uint32_t out = 0;
    assert_true(length >= 5 && frame[0] == 0x7E && frame[length - 1] == 0x7F);
    for (uint32_t i = 1; i + 1 < length; i++) {
        assert_true(frame[i] != 0x7E && frame[i] != 0x7F);
        body[out++] = frame[i] == 0x7D ? frame[++i] ^ 0x20 : frame[i];
    }
    assert_int_equal(crc_of(body, out - 2), body[out - 2] << 8 | body[out - 1]);
    return out - 2;
}

static inline void carry_out(struct rig *rig, struct validator *validator, uint8_t command)
{
    validator->accepting = (command & 1) != 0;
    if (validator->place != PLACE_ESCROW || (command & 6) == 0)
        return;
    validator->place = (command & 2) != 0 ? PLACE_STACKING : PLACE_RETURNING;
    validator->move_us = rig->now_us + 400000;
}

static inline void answer_make(struct validator *validator, uint8_t control)
{
    if (control >> 4 == 4) {
        uint8_t body[9] = {control};
        memcpy(body + 1, validator->form, 4);
        memcpy(body + 5, "0042", 4);
        validator->answer_length = frame_make(body, sizeof body, validator->answer);
        return;
    }
    uint8_t first = validator->flags;
    first |= validator->place == PLACE_NONE ? 1 : validator->place == PLACE_ESCROW ? 4 : 2;
    uint8_t body[4] = {(uint8_t)(0x20 | (control & 1)), first, validator->states, validator->note};
    validator->flags = 0;
    validator->states &= 0xFE;
    validator->answer_length = frame_make(body, sizeof body, validator->answer);
}

static inline void answer_send(struct rig *rig, struct validator *validator, enum fate fate, const uint8_t *before,
                               uint32_t before_length)
{
    uint8_t bytes[64];
    uint32_t length = validator->answer_length;
    memcpy(bytes, validator->answer, length);
    switch (fate) {
    case FATE_LOST:
        return;
    case FATE_FLIPPED:
        bytes[rig_random(rig, length)] ^= (uint8_t)(1 << rig_random(rig, 8));
        break;
    case FATE_CUT:
        length = rig_random(rig, length);
        break;
    case FATE_DOUBLED:
        rig_put(rig, bytes, length, 3000);
        break;
    case FATE_STALE:
        rig_put(rig, before, before_length, 3000);
        return;
    default:
        break;
    }
    rig_put(rig, bytes, length, fate == FATE_LATE ? 50000 + 1000 * rig_random(rig, 200) : 4000);
}

static inline void on_heard(struct rig *rig, const uint8_t *bytes, uint32_t length)
{
    struct validator *validator = rig->device;
    uint8_t body[64];
    uint8_t before[64];
    enum fate fate = validator->forced;
    validator->forced = FATE_GOOD;
    if (fate == FATE_GOOD && validator->faults > 0 && rig_random(rig, validator->faults) == 0)
        fate = (enum fate)rig_random(rig, FATE_COUNT);
    uint32_t count = frame_open(bytes, length, body);
    assert_true(count == 1 || count == 2);
    validator->requests++;
    if (fate == FATE_DEAF || validator->silent)
        return;
    uint32_t before_length = validator->answer_length;
    memcpy(before, validator->answer, before_length);
    if (validator->toggle != (body[0] & 1)) {
        validator->toggle = body[0] & 1;
        if (body[0] >> 4 == 1)
            carry_out(rig, validator, body[1]);
        answer_make(validator, body[0]);
    } else if (validator->answer_length == 0) {
        answer_make(validator, body[0]);
    }
    answer_send(rig, validator, fate, before, before_length);
}

static inline bool insert(struct rig *rig, uint8_t type)
{
    struct validator *validator = rig->device;
    if (validator->place != PLACE_NONE || !validator->accepting || validator->flags != 0)
        return false;
    (void)rig;
    validator->place = PLACE_ESCROW;
    validator->type = type;
    validator->note = type;
    validator->move_us = UINT64_MAX;
    return true;
}

/* The movements of notes. */
static uint64_t on_life(struct rig *rig)
{
    struct validator *validator = rig->device;
    if ((validator->place == PLACE_STACKING || validator->place == PLACE_RETURNING) &&
        validator->move_us <= rig->now_us) {
        bool stacked = validator->place == PLACE_STACKING;
        validator->flags |= stacked ? 0x08 : 0x10;
        validator->note = validator->type;
        validator->place = PLACE_NONE;
        if (stacked) {
            validator->stacked[validator->type]++;
            validator->stacked_count++;
        }
    }
    return rig->now_us + 10000;
}

static struct validator fake;

static inline struct rig *begin(int32_t accept)
{
    struct rig *rig = rig_of_example("status-bits");
    fake = (struct validator){.form = "SBV1", .toggle = 0xFF, .move_us = UINT64_MAX};
    rig->device = &fake;
    rig->heard = on_heard;
    rig->lives = on_life;
    rig->life_us = rig->now_us;
    rig_open(rig, accept);
    return rig;
}

static inline struct rig *begin_ready(int32_t accept)
{
    struct rig *rig = begin(accept);
    rig_run(rig, 1000);
    assert_int_equal(rig->state_now, accept == CFOIL_ACCEPT_NONE ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING);
    return rig;
}

static inline void reject(struct rig *rig, uint8_t reason)
{
    fake.flags |= 0x20;
    fake.note = (uint8_t)(reason << 4);
    rig_run(rig, 500);
}

#endif
