/*
 * The status-bit device of examples/descriptions on a virtual clock: escaped frames, a toggle that the host drives, a
 * CRC, and states that are told over and over. The fake device is written from the description's own words.
 */
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

static void carry_out(struct rig *rig, struct validator *validator, uint8_t command)
{
    validator->accepting = (command & 1) != 0;
    if (validator->place != PLACE_ESCROW || (command & 6) == 0)
        return;
    validator->place = (command & 2) != 0 ? PLACE_STACKING : PLACE_RETURNING;
    validator->move_us = rig->now_us + 400000;
}

static void answer_make(struct validator *validator, uint8_t control)
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

static void answer_send(struct rig *rig, struct validator *validator, enum fate fate, const uint8_t *before,
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

static void on_heard(struct rig *rig, const uint8_t *bytes, uint32_t length)
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

static bool insert(struct rig *rig, uint8_t type)
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

static struct rig *begin(int32_t accept)
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

static struct rig *begin_ready(int32_t accept)
{
    struct rig *rig = begin(accept);
    rig_run(rig, 1000);
    assert_int_equal(rig->state_now, accept == CFOIL_ACCEPT_NONE ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING);
    return rig;
}

static void reject(struct rig *rig, uint8_t reason)
{
    fake.flags |= 0x20;
    fake.note = (uint8_t)(reason << 4);
    rig_run(rig, 500);
}

/* ---- A sound line ---- */

static void a_note_is_held_and_stacked(void **state)
{
    (void)state;
    for (int chunks = CHUNKS_WHOLE; chunks <= CHUNKS_RANDOM; chunks++) {
        struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
        rig->chunks = (enum rig_chunks)chunks;
        rig->policy = RIG_STACKS;
        for (uint8_t type = 1; type <= 5; type++) {
            assert_true(insert(rig, type));
            rig_run(rig, 2000);
            assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_STACKED);
            assert_int_equal(rig_last(rig)->note_type, type);
        }
        assert_int_equal(rig_credits(rig), 5);
        assert_int_equal(rig_count(rig, CFOIL_KIND_HELD, 0), 5);
        assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, 0), 1);
        assert_int_equal(rig->events[0].condition, CFOIL_CONDITION_IDENTIFIED);
        assert_non_null(strstr(rig->events[0].text, "status-bits/0042"));
        rig_end(rig);
    }
}

static void a_note_is_given_back(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    rig->policy = RIG_RETURNS;
    assert_true(insert(rig, 3));
    rig_run(rig, 2000);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_RETURNED);
    assert_int_equal(rig_last(rig)->note_type, 3);
    assert_int_equal(rig_last(rig)->value_minor, 2000);
    assert_int_equal(rig_credits(rig), 0);
    rig_end(rig);
}

static void nobody_decides_and_the_note_goes_back(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 3));
    rig_run(rig, 29000);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 20000), CFOIL_OK);
    rig_run(rig, 19000);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
    rig_run(rig, 3000);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_RETURNED);
    rig_end(rig);
}

static void accepting_all_stacks_by_itself(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_ALL);
    assert_true(insert(rig, 2));
    rig_run(rig, 2000);
    assert_int_equal(rig_credits(rig), 1);
    rig_end(rig);
}

static void accept_is_a_bit_of_the_poll(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_NONE);
    assert_false(fake.accepting);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
    rig_run(rig, 300);
    assert_true(fake.accepting);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
    rig_run(rig, 300);
    assert_false(fake.accepting);
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, 3), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, -1), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(rig_command(rig, 99, 0), CFOIL_E_ARGUMENT_RANGE);
    rig_end(rig);
}

static void refusals_name_their_channel(void **state)
{
    (void)state;
    static const struct {
        uint8_t code;
        int32_t reason, channel, strength;
    } rows[] = {{1, CFOIL_REASON_HANDLING, CFOIL_CHANNEL_TRANSPORT, CFOIL_STRENGTH_CLEAR},
                {2, CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_MAGNETIC, CFOIL_STRENGTH_CLEAR},
                {3, CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_ULTRAVIOLET, CFOIL_STRENGTH_STRONG},
                {0, CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_UNKNOWN, CFOIL_STRENGTH_WEAK}};
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        reject(rig, rows[i].code);
        const cfoil_adapter_event *event = rig_last(rig);
        assert_int_equal(event->kind, CFOIL_KIND_REJECTED);
        assert_int_equal(event->reason, rows[i].reason);
        assert_int_equal(event->finding_count, 1);
        assert_int_equal(event->findings[0].channel, rows[i].channel);
        assert_int_equal(event->findings[0].strength, rows[i].strength);
        assert_int_equal(event->findings[0].origin, CFOIL_ORIGIN_DEVICE);
        assert_int_equal(rig_count(rig, CFOIL_KIND_REJECTED, 0), i + 1);
    }
    /* A reason that the description does not have is told as unknown. */
    reject(rig, 9);
    assert_int_equal(rig_count(rig, CFOIL_KIND_REJECTED, 0), 4);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_UNKNOWN_CODE), 1);
    rig_end(rig);
}

static void an_unknown_state_is_told_once(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    fake.states = 0x40;
    rig_run(rig, 3000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_UNKNOWN_CODE), 1);
    assert_true(rig_last(rig)->raw_length == 8 && rig_last(rig)->raw[3] == 0x40);
    assert_non_null(strstr(rig_last(rig)->raw_text, "40"));
    fake.states = 0;
    rig_run(rig, 500);
    fake.states = 0x40;
    rig_run(rig, 500);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_UNKNOWN_CODE), 2);
    rig_end(rig);
}

static void a_lasting_state_halts_as_long_as_it_lasts(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    fake.states = 0x04;
    rig_run(rig, 2000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_STACKER_FULL), 1);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    assert_false(fake.accepting);
    /* The host's word does not make the box empty. */
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
    rig_run(rig, 500);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    fake.states = 0;
    rig_run(rig, 500);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_FAULT_CLEARED);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_true(fake.accepting);
    rig_end(rig);
}

static void tampering_halts_until_the_host_says_so(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 1));
    rig_run(rig, 300);
    fake.states = 0x10;
    rig_run(rig, 300);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_TAMPERING), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    fake.states = 0;
    rig_run(rig, 1000);
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
    rig_run(rig, 300);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    rig_end(rig);
}

static void a_reset_is_told_and_the_held_note_with_it(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 4));
    rig_run(rig, 300);
    fake.place = PLACE_NONE;
    fake.states = 0x01;
    rig_run(rig, 1500);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_IDENTIFIED), 1);
    rig_end(rig);
}

static void a_note_that_leaves_without_a_word_is_told(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 4));
    rig_run(rig, 300);
    fake.place = PLACE_NONE;
    rig_run(rig, 9000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 0);
    rig_run(rig, 2000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
    rig_end(rig);
}

static void commands_are_answered_by_what_is_held(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 1000), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, -1), CFOIL_E_ARGUMENT_RANGE);
    assert_true(insert(rig, 1));
    rig_run(rig, 300);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NOT_READY);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_E_STATE_NOT_READY);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 1000), CFOIL_E_STATE_NO_NOTE);
    rig_run(rig, 2000);
    assert_int_equal(rig_credits(rig), 1);
    rig_end(rig);
}

/* ---- What is not believed ---- */

static void a_repeated_answer_is_not_taken_twice(void **state)
{
    (void)state;
    static const enum fate fates[] = {FATE_LOST,  FATE_DOUBLED, FATE_LATE, FATE_FLIPPED,
                                      FATE_STALE, FATE_CUT,     FATE_DEAF};
    for (size_t i = 0; i < sizeof fates / sizeof fates[0]; i++) {
        struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
        rig->policy = RIG_STACKS;
        assert_true(insert(rig, 2));
        for (int turn = 0; turn < 200 && fake.stacked_count == 0; turn++)
            rig_run(rig, 10);
        fake.forced = fates[i]; /* of the answer that tells it */
        rig_run(rig, 3000);
        assert_int_equal(rig_credits(rig), 1);
        assert_true(insert(rig, 2));
        rig_run(rig, 3000);
        assert_int_equal(rig_credits(rig), 2);
        assert_int_equal(rig->shortfalls, 0);
        rig_end(rig);
    }
}

static void what_was_stacked_before_we_listened_is_no_credit(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_HOLD);
    fake.flags = 0x08;
    fake.note = 2;
    rig_run(rig, 1500);
    assert_int_equal(rig_credits(rig), 0);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    rig_end(rig);
}

static void a_note_that_is_not_in_the_table_goes_back(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 9));
    rig_run(rig, 3000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_HELD, 0), 0);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_UNKNOWN_CODE), 1);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_RETURNED);
    fake.flags = 0x08;
    fake.note = 9;
    rig_run(rig, 500);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    assert_string_equal(rig_last(rig)->currency, "");
    rig_end(rig);
}

static void another_note_stacked_than_held_is_told(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 1));
    rig_run(rig, 300);
    fake.place = PLACE_NONE;
    fake.flags = 0x08;
    fake.note = 3;
    rig_run(rig, 300);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(rig_credits(rig), 1);
    assert_int_equal(rig_last(rig)->note_type, 3);
    /* And one note in escrow right after another, with no word about the first. */
    assert_true(insert(rig, 1));
    rig_run(rig, 300);
    fake.note = 2;
    rig_run(rig, 300);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 2);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
    assert_int_equal(rig_last(rig)->note_type, 2);
    rig_end(rig);
}

/* ---- Life and death ---- */

static void a_silent_device_is_lost_and_found(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_HOLD);
    fake.silent = true;
    rig_run(rig, 20000);
    assert_int_equal(rig->state_now, CFOIL_LANE_LOST);
    assert_int_equal(rig->result_now, CFOIL_E_DEVICE_SILENT);
    assert_int_equal(rig->event_count, 0);
    fake.silent = false;
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    fake.silent = true;
    rig_run(rig, 10000);
    assert_int_equal(rig->state_now, CFOIL_LANE_LOST);
    fake.silent = false;
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_IDENTIFIED), 1);
    rig_end(rig);
}

static void another_kind_of_device_is_left_alone(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_HOLD);
    fake.form = "XYZ9";
    rig_run(rig, 10000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ENDED);
    assert_int_equal(rig->result_now, CFOIL_E_DEVICE_WRONG);
    uint32_t requests = fake.requests;
    rig_run(rig, 60000);
    assert_int_equal(fake.requests, requests);
    assert_false(fake.accepting);
    rig_end(rig);
}

static void quitting_bars_the_notes(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(fake.accepting);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_QUIT, 0), CFOIL_OK);
    rig_run(rig, 500);
    assert_false(fake.accepting);
    uint32_t requests = fake.requests;
    rig_run(rig, 5000);
    assert_int_equal(fake.requests, requests);
    rig_end(rig);
    /* Before the device is known nothing is sent any more. */
    rig = begin(CFOIL_ACCEPT_HOLD);
    fake.silent = true;
    rig_run(rig, 50);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_QUIT, 0), CFOIL_OK);
    requests = fake.requests;
    rig_run(rig, 5000);
    assert_int_equal(fake.requests, requests);
    rig_end(rig);
}

static void settings_are_refused(void **state)
{
    (void)state;
    struct rig *rig = rig_of_example("status-bits");
    char text[160] = "";
    cfoil_adapter_setting setting = {"poll_ms", "5"};
    cfoil_adapter_start start = {.struct_size = sizeof start,
                                 .setting_count = 1,
                                 .settings = &setting,
                                 .host = &rig->host,
                                 .adapter = &rig->adapter,
                                 .error_capacity = sizeof text,
                                 .error = text};
    assert_int_equal(rig->adapter.open(rig->state, &start), CFOIL_E_ARGUMENT_SETTING);
    assert_non_null(strstr(text, "poll_ms"));
    start.error_capacity = 0;
    assert_int_equal(rig->adapter.open(rig->state, &start), CFOIL_E_ARGUMENT_SETTING);
    start.error = NULL;
    assert_int_equal(rig->adapter.open(rig->state, &start), CFOIL_E_ARGUMENT_SETTING);
    rig_end(rig);
}

static void a_noisy_line_is_told(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    for (int i = 0; i < 12; i++) {
        fake.forced = FATE_FLIPPED;
        rig_run(rig, 1000);
    }
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_LINE_NOISY), 1);
    rig_run(rig, 120000);
    for (int i = 0; i < 12; i++) {
        fake.forced = FATE_FLIPPED;
        rig_run(rig, 1000);
    }
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_LINE_NOISY), 2);
    rig_end(rig);
}

/* ---- Any faults at all: money is never invented or doubled, and never lost silently ---- */

static void random_faults_invent_no_money(void **state)
{
    (void)state;
    for (uint32_t seed = 1; seed <= 60; seed++) {
        struct rig *rig = begin(seed % 2 == 0 ? CFOIL_ACCEPT_HOLD : CFOIL_ACCEPT_ALL);
        rig->seed = seed;
        rig->chunks = (enum rig_chunks)(seed % 3);
        rig->policy = RIG_MIXED;
        fake.faults = 2 + seed % 10;
        for (int i = 0; i < 300; i++) {
            (void)insert(rig, (uint8_t)(1 + rig_random(rig, 5)));
            rig_run(rig, 1 + rig_random(rig, 1500));
            if (rig_random(rig, 20) == 0)
                (void)rig_command(rig, CFOIL_COMMAND_ACCEPT, (int32_t)(1 + rig_random(rig, 2)));
        }
        fake.faults = 0;
        rig_run(rig, 20000);
        for (uint8_t type = 0; type < 16; type++) {
            assert_true(rig->credited[type] <= fake.stacked[type]);
            assert_true(rig->credited[type] == fake.stacked[type] || rig->shortfalls > 0);
        }
        assert_true(fake.stacked_count > 5);
        rig_end(rig);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_note_is_held_and_stacked),
        cmocka_unit_test(a_note_is_given_back),
        cmocka_unit_test(nobody_decides_and_the_note_goes_back),
        cmocka_unit_test(accepting_all_stacks_by_itself),
        cmocka_unit_test(accept_is_a_bit_of_the_poll),
        cmocka_unit_test(refusals_name_their_channel),
        cmocka_unit_test(an_unknown_state_is_told_once),
        cmocka_unit_test(a_lasting_state_halts_as_long_as_it_lasts),
        cmocka_unit_test(tampering_halts_until_the_host_says_so),
        cmocka_unit_test(a_reset_is_told_and_the_held_note_with_it),
        cmocka_unit_test(a_note_that_leaves_without_a_word_is_told),
        cmocka_unit_test(commands_are_answered_by_what_is_held),
        cmocka_unit_test(a_repeated_answer_is_not_taken_twice),
        cmocka_unit_test(what_was_stacked_before_we_listened_is_no_credit),
        cmocka_unit_test(a_note_that_is_not_in_the_table_goes_back),
        cmocka_unit_test(another_note_stacked_than_held_is_told),
        cmocka_unit_test(a_silent_device_is_lost_and_found),
        cmocka_unit_test(another_kind_of_device_is_left_alone),
        cmocka_unit_test(quitting_bars_the_notes),
        cmocka_unit_test(settings_are_refused),
        cmocka_unit_test(a_noisy_line_is_told),
        cmocka_unit_test(random_faults_invent_no_money),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
