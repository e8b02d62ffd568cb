/*
 * A device that talks by itself and takes commands, with a note in escrow.
 */
#include "described_head.h"
#include "described_rig.h"

/* ---- A talking device with commands and a note in escrow ---- */

static const char escrow_text[] = HEAD
    "\"lines\": {\"end\": \"LF\", \"length_max\": 40, \"separator\": \" \"},\n"
    "\"start\": [{\"send\": \"WHO\", \"expect\": [{\"field\": 1, \"text\": \"TALKER\"}], \"proves\": true,\n"
    "  \"identity\": {\"field\": 2}, \"tries\": 2},\n"
    "  {\"send\": \"QUIET\", \"answer\": false, \"answer_ms\": 20}],\n"
    "\"accept\": {\"none\": [{\"send\": \"OFF\", \"expect\": [{\"at\": 0, \"text\": \"OK OFF\"}]}],\n"
    "  \"all\": [{\"send\": \"ON\", \"expect\": [{\"at\": 0, \"text\": \"OK ON\"}]}]},\n"
    "\"held\": {\"stack\": {\"send\": \"TAKE\", \"expect\": [{\"at\": 0, \"text\": \"OK TAKE\"}], \"tries\": 1},\n"
    "  \"return\": {\"send\": \"GIVE\", \"expect\": [{\"at\": 0, \"text\": \"OK GIVE\"}], \"tries\": 1},\n"
    "  \"extend\": {\"send\": \"KEEP\", \"expect\": [{\"at\": 0, \"text\": \"OK KEEP\"}], \"tries\": 1},\n"
    "  \"extend_every_ms\": 1000},\n"
    "\"self_check\": {\"exchange\": {\"send\": \"CHECK\", \"expect\": [{\"field\": 2, \"from\": 0, \"to\": 9}]},\n"
    "  \"every_ms\": 2000},\n"
    "\"watch\": {\"exchange\": {\"send\": \"MODE\", \"expect\": [{\"at\": 0, \"text\": \"MODE 1\"}], \"tries\": 1},\n"
    "  \"every_ms\": 5000},\n"
    "\"times\": {\"silence_ms\": 20000, \"outcome_ms\": 3000},\n"
    "\"notes\": [{\"type\": 1, \"value_minor\": 500, \"currency\": \"EUR\"},\n"
    "  {\"type\": 2, \"value_minor\": 1000, \"currency\": \"EUR\"}],\n"
    "\"rules\": [{\"when\": [{\"field\": 1, \"text\": \"HELD\"}], \"event\": \"held\",\n"
    "   \"note\": {\"by\": \"type\", \"field\": 2}, \"text\": \"held\"},\n"
    "  {\"when\": [{\"field\": 1, \"text\": \"STACKED\"}], \"event\": \"stacked\", \"after_held\": true,\n"
    "   \"note\": {\"by\": \"type\", \"field\": 2}, \"raw_text\": \"s{f2}\", \"text\": \"stacked\"},\n"
    "  {\"when\": [{\"field\": 1, \"text\": \"BACK\"}], \"event\": \"returned\", \"text\": \"back\"},\n"
    "  {\"when\": [{\"field\": 1, \"text\": \"STUCK\"}], \"event\": \"device\", \"condition\": \"jam_safe\",\n"
    "   \"halts\": \"until_clear\", \"text\": \"jam\"}]}";

struct talker {
    char heard[64][16];
    uint32_t heard_count;
    const char *name;
    bool silent;
    bool moves; /* carries TAKE and GIVE out */
    bool refuses;
    char held;
    char check;
    char mode;
    uint32_t stacked;
};
static struct talker talker;

static void answer(struct rig *rig, const char *text)
{
    if (!talker.silent)
        rig_put(rig, text, (uint32_t)strlen(text), 3000);
}

static void talker_hear(struct rig *rig, const uint8_t *bytes, uint32_t length)
{
    char line[32] = "";
    char text[64];
    memcpy(line, bytes, length - 1);
    assert_int_equal(bytes[length - 1], '\n');
    snprintf(talker.heard[talker.heard_count++ % 64], 16, "%.15s", line);
    if (strcmp(line, "WHO") == 0)
        snprintf(text, sizeof text, "%s 77\n", talker.name);
    else if (strcmp(line, "CHECK") == 0)
        snprintf(text, sizeof text, "CHECK %c\n", talker.check);
    else if (strcmp(line, "MODE") == 0)
        snprintf(text, sizeof text, "MODE %c\n", talker.mode);
    else
        snprintf(text, sizeof text, talker.refuses ? "NO %s\n" : "OK %s\n", line);
    if (strcmp(line, "ON") == 0)
        talker.mode = '1';
    if (strcmp(line, "QUIET") != 0)
        answer(rig, text);
    bool take = strcmp(line, "TAKE") == 0;
    if (!talker.moves || talker.held == 0 || (!take && strcmp(line, "GIVE") != 0))
        return;
    snprintf(text, sizeof text, take ? "STACKED %c\n" : "BACK\n", talker.held);
    talker.stacked += take ? 1 : 0;
    talker.held = 0;
    rig_put(rig, text, (uint32_t)strlen(text), 300000);
}

static struct rig *talk_begin(int32_t accept)
{
    struct rig *rig = rig_of_text(escrow_text);
    talker = (struct talker){.name = "TALKER", .moves = true, .check = '0', .mode = '0'};
    rig->heard = talker_hear;
    rig_open(rig, accept);
    rig_run(rig, 1000);
    return rig;
}

static void hold_note(struct rig *rig, char type)
{
    char text[16];
    talker.held = type;
    snprintf(text, sizeof text, "HELD %c\n", type);
    rig_say(rig, text);
}

static bool heard(const char *line)
{
    for (uint32_t i = 0; i < 64; i++) {
        if (strcmp(talker.heard[i], line) == 0)
            return true;
    }
    return false;
}

static void a_talking_device_is_commanded(void **state)
{
    (void)state;
    for (int chunks = CHUNKS_WHOLE; chunks <= CHUNKS_RANDOM; chunks++) {
        struct rig *rig = talk_begin(CFOIL_ACCEPT_HOLD);
        rig->chunks = (enum rig_chunks)chunks;
        assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
        assert_true(heard("WHO") && heard("QUIET") && heard("CHECK") && heard("ON"));
        assert_non_null(strstr(rig->events[0].text, "talker/77"));
        hold_note(rig, '2');
        assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
        rig_run(rig, 3000);
        assert_true(heard("KEEP"));
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
        rig_run(rig, 1000);
        assert_int_equal(rig_credits(rig), 1);
        assert_int_equal(rig_last(rig)->value_minor, 1000);
        assert_string_equal(rig_last(rig)->raw_text, "s2");
        hold_note(rig, '1');
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_OK);
        rig_run(rig, 1000);
        assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_RETURNED);
        assert_int_equal(rig_last(rig)->value_minor, 500);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
        rig_run(rig, 1000);
        assert_true(heard("OFF"));
        assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
        rig_end(rig);
    }
}

static void a_doubled_word_of_money_is_taken_once(void **state)
{
    (void)state;
    struct rig *rig = talk_begin(CFOIL_ACCEPT_HOLD);
    hold_note(rig, '2');
    rig_say(rig, "STACKED 2\nSTACKED 2\n");
    assert_int_equal(rig_credits(rig), 1);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    hold_note(rig, '2');
    rig_say(rig, "STACKED 1\n"); /* not the note that is held */
    assert_int_equal(rig_credits(rig), 1);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    rig_say(rig, "STACKED 2\n"); /* late, of the note whose fate was not known */
    assert_int_equal(rig_credits(rig), 2);
    rig_say(rig, "STACKED 2\n");
    assert_int_equal(rig_credits(rig), 2);
    rig_end(rig);
}

static void a_note_that_does_not_move_is_told(void **state)
{
    (void)state;
    struct rig *rig = talk_begin(CFOIL_ACCEPT_ALL);
    talker.moves = false;
    hold_note(rig, '2');
    rig_run(rig, 2000);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
    rig_run(rig, 3000);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_OUTCOME_UNKNOWN);
    talker.refuses = true;
    hold_note(rig, '1');
    rig_run(rig, 6000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 2);
    rig_end(rig);
}

static void two_held_notes_are_one_too_many(void **state)
{
    (void)state;
    struct rig *rig = talk_begin(CFOIL_ACCEPT_HOLD);
    hold_note(rig, '2');
    hold_note(rig, '1');
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    rig_say(rig, "NOISE\x01\n"); /* a line is lost: perhaps what became of the note */
    assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS, 0), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 2);
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    rig_end(rig);
}

static void a_stranger_is_sent_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_of_text(escrow_text);
    talker = (struct talker){.name = "PRINTER"};
    rig->heard = talker_hear;
    rig_open(rig, CFOIL_ACCEPT_HOLD);
    rig_run(rig, 500);
    rig_say(rig, "STACKED 1\n");
    rig_run(rig, 60000);
    assert_int_equal(rig->event_count, 0);
    for (uint32_t i = 0; i < talker.heard_count && i < 64; i++)
        assert_string_equal(talker.heard[i], "WHO");
    rig_end(rig);
}

static void the_self_check_halts_and_clears(void **state)
{
    (void)state;
    struct rig *rig = rig_of_text(escrow_text);
    talker = (struct talker){.name = "TALKER", .moves = true, .check = 'X', .mode = '0'};
    rig->heard = talker_hear;
    rig_open(rig, CFOIL_ACCEPT_HOLD);
    rig_run(rig, 3000); /* a talking device that gives another answer gives none to the question */
    talker.check = '3';
    rig_run(rig, 3000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    rig_say(rig, "STUCK\n");
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_FAULT_CLEARED), 1); /* sound at once */
    talker.check = 'X';
    rig_say(rig, "STUCK\n");
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    assert_true(heard("OFF"));
    /* The host's word does not repair it. */
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
    rig_run(rig, 1000);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    talker.check = '0';
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    rig_end(rig);
}

static void a_device_that_does_not_take_its_settings_is_started_again(void **state)
{
    (void)state;
    struct rig *rig = rig_of_text(escrow_text);
    talker = (struct talker){.name = "TALKER", .check = '0', .mode = '0', .refuses = true};
    rig->heard = talker_hear;
    rig_open(rig, CFOIL_ACCEPT_HOLD);
    rig_run(rig, 10000);
    assert_int_equal(rig->state_now, CFOIL_LANE_STARTING);
    talker.refuses = false;
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    talker.silent = true;
    rig_run(rig, 30000);
    assert_int_equal(rig->state_now, CFOIL_LANE_LOST);
    talker.silent = false;
    rig_run(rig, 10000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    talker.name = "TALKER2"; /* another device in its place */
    rig_end(rig);
}
static void random_noise_invents_no_money(void **state)
{
    (void)state;
    for (uint32_t seed = 1; seed <= 40; seed++) {
        struct rig *rig = talk_begin(CFOIL_ACCEPT_HOLD);
        rig->seed = seed;
        rig->chunks = (enum rig_chunks)(seed % 3);
        rig->policy = RIG_MIXED;
        for (int i = 0; i < 200; i++) {
            static const char *const lines[] = {"HELD 1\n", "HELD 2\n", "BACK\n", "STUCK\n", "HELD 7\n", "\n"};
            uint32_t pick = rig_random(rig, 9);
            uint8_t noise = (uint8_t)rig_random(rig, 256);
            if (pick < 6) {
                talker.held = pick < 2 ? (char)('1' + pick) : talker.held;
                rig_put_text(rig, lines[pick]);
            } else {
                rig_put(rig, &noise, 1, rig_random(rig, 3000));
            }
            rig_run(rig, 1 + rig_random(rig, 2500));
            if (rig_random(rig, 10) == 0)
                (void)rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD);
        }
        rig_run(rig, 10000);
        assert_true(rig_credits(rig) <= talker.stacked);
        assert_true(rig_credits(rig) == talker.stacked || rig->shortfalls > 0);
        rig_end(rig);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_talking_device_is_commanded),
        cmocka_unit_test(a_doubled_word_of_money_is_taken_once),
        cmocka_unit_test(a_note_that_does_not_move_is_told),
        cmocka_unit_test(two_held_notes_are_one_too_many),
        cmocka_unit_test(a_stranger_is_sent_nothing),
        cmocka_unit_test(the_self_check_halts_and_clears),
        cmocka_unit_test(a_device_that_does_not_take_its_settings_is_started_again),
        cmocka_unit_test(random_noise_invents_no_money),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
