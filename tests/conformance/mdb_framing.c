/*
 * Are blocks built, checked and answered as MDB/ICP says, and does the device say what it is?
 */
#include "mdb_client.h"

#include <string.h>

enum { SILENCE_MS = 120, REPEATS = 25, MODE_BIT = 0x100, ACK_WORD = 0x100, BLOCK_DATA_MAX = 35, POLL_BYTES_MAX = 16 };

static void poll_answered(struct trial *trial)
{
    struct mdb_client client = {.trial = trial, .line = trial->suite->line};
    struct mdb_answer answer = {.kind = MDB_SILENT};
    master_events_forget();
    for (int i = 0; i < 10 && line_gone(client.line) == NULL; i++) { /* it may be silent for 5 s while busy */
        if (master_ask_plain(&client, MDB_POLL, &answer) != MDB_SILENT)
            break;
        master_wait(&client, 500);
    }
    trial->suite->silent = answer.kind == MDB_SILENT;
    expect(trial, answer.kind == MDB_ACK || answer.kind == MDB_DATA, "POLL is answered with %s", master_text(&answer));
}

static void blocks(struct trial *trial)
{
    static const uint8_t commands[] = {MDB_SETUP, MDB_STACKER, MDB_SETUP, MDB_POLL, MDB_SETUP};
    struct mdb_client client;
    if (!master_begin(trial, &client))
        return;
    for (int i = 0; i < REPEATS && trial->result == RESULT_PASSED; i++) {
        uint16_t words[MDB_BLOCK_MAX];
        struct mdb_answer answer;
        uint32_t count = master_block_make(&commands[i % (int)sizeof commands], 1, words);
        master_words_exchange(&client, words, count, 200, &answer);
        expect(trial, answer.kind != MDB_DAMAGED, "answer %d of %d has a wrong checksum or mode bit: %s", i + 1,
               REPEATS, master_text(&answer));
        expect(trial, answer.length <= BLOCK_DATA_MAX, "an answer of %u bytes; a block has 36 at most",
               (unsigned)answer.length);
    }
}

static void ack_form(struct trial *trial)
{
    static const uint8_t none[] = {MDB_BILL_TYPE, 0, 0, 0, 0};
    struct mdb_client client;
    struct mdb_answer answer;
    if (!master_begin(trial, &client))
        return;
    master_ask(&client, none, sizeof none, &answer);
    if (answer.kind == MDB_NAK || answer.kind == MDB_SILENT) {
        skip(trial, "BILL TYPE is answered with %s: see mdb/bill-type/taken", master_text(&answer));
        return;
    }
    expect(trial, answer.word_count == 1 && answer.words[0] == ACK_WORD, "ACK is not one character with mode bit: %s",
           master_text(&answer));
}

/* Sends what must not be carried out. */
static void not_carried_out(struct trial *trial, const uint16_t *words, uint32_t count, bool nak_allowed,
                            const char *what)
{
    struct mdb_client client;
    struct mdb_answer answer;
    if (!master_begin(trial, &client))
        return;
    master_words_exchange(&client, words, count, SILENCE_MS, &answer);
    bool good = answer.kind == MDB_SILENT || (nak_allowed && answer.kind == MDB_NAK);
    if (!expect(trial, good, "%s is answered with %s", what, master_text(&answer)))
        return;
    master_ask_plain(&client, MDB_POLL, &answer);
    expect(trial, answer.kind == MDB_ACK || answer.kind == MDB_DATA, "after %s POLL is answered with %s", what,
           master_text(&answer));
}

static void bad_checksum(struct trial *trial)
{
    const uint16_t words[] = {MDB_SETUP | MODE_BIT, 0x32};
    not_carried_out(trial, words, 2, true, "a command with a wrong checksum");
}

static void no_mode_bit(struct trial *trial)
{
    const uint16_t words[] = {MDB_SETUP, MDB_SETUP};
    not_carried_out(trial, words, 2, false, "a command without mode bit");
}

/* D8H to DFH belong to no kind of device in the standard's address table (from memory). */
static void other_address(struct trial *trial)
{
    const uint16_t words[] = {0xDB | MODE_BIT, 0xDB};
    not_carried_out(trial, words, 2, false, "a command to another address");
}

static void setup_form(struct trial *trial)
{
    struct mdb_client client;
    struct mdb_answer answer;
    if (!master_begin(trial, &client))
        return;
    master_ask_plain(&client, MDB_SETUP, &answer);
    figure(trial, "%u bytes", (unsigned)answer.length);
    expect(trial, answer.kind == MDB_DATA && answer.length >= 12 && answer.length <= 27,
           "SETUP is answered with %s; 27 bytes are in the standard, 12 at least in use", master_text(&answer));
}

static void setup_repeats(struct trial *trial)
{
    struct mdb_client client;
    struct mdb_setup first;
    struct mdb_setup again;
    if (master_begin(trial, &client) && master_setup_read(&client, &first) && master_setup_read(&client, &again))
        expect(trial, memcmp(&first, &again, sizeof first) == 0, "SETUP asked twice gives two answers");
}

static void setup_level(struct trial *trial)
{
    struct mdb_client client;
    struct mdb_setup setup;
    if (!master_begin(trial, &client) || !master_setup_read(&client, &setup))
        return;
    figure(trial, "level %u", setup.bytes[0]);
    expect(trial, setup.bytes[0] >= 1 && setup.bytes[0] <= 3, "feature level %u", setup.bytes[0]);
}

static void setup_country(struct trial *trial)
{
    struct mdb_client client;
    struct mdb_setup setup;
    if (!master_begin(trial, &client) || !master_setup_read(&client, &setup))
        return;
    const uint8_t *code = setup.bytes + 1;
    bool digits = (code[0] & 0x0F) < 10 && code[1] >> 4 < 10 && (code[1] & 0x0F) < 10;
    figure(trial, "%02x %02x", code[0], code[1]);
    expect(trial, digits && code[0] >> 4 <= 1, "country %02x %02x is not 0 or 1 and three decimal digits", code[0],
           code[1]);
}

static void setup_values(struct trial *trial)
{
    struct mdb_client client;
    struct mdb_setup setup;
    if (!master_begin(trial, &client) || !master_setup_read(&client, &setup))
        return;
    unsigned scale = setup.bytes[3] * 256U + setup.bytes[4];
    expect(trial, scale > 0, "the scaling factor is 0");
    unsigned last = 0;
    for (int type = 0; type < MDB_TYPES; type++) {
        unsigned credit = setup.bytes[11 + type];
        if (credit == 0 || credit == 0xFF) /* none; a token */
            continue;
        expect(trial, credit >= last, "type %d is worth less than the one before; values must ascend", type);
        last = credit;
    }
    expect(trial, last > 0, "no type has a value");
    figure(trial, "largest %u x %u, %u places", last, scale, setup.bytes[5]);
}

static void setup_escrow(struct trial *trial)
{
    struct mdb_client client;
    struct mdb_setup setup;
    if (master_begin(trial, &client) && master_setup_read(&client, &setup))
        expect(trial, setup.bytes[10] == 0 || setup.bytes[10] == 0xFF, "the escrow byte is %02x, not 00 or FF",
               setup.bytes[10]);
}

static bool identification_read(struct mdb_client *client, struct mdb_answer *answer, bool *second)
{
    struct mdb_setup setup;
    if (!master_setup_read(client, &setup))
        return false;
    *second = setup.bytes[0] >= 2;
    const uint8_t ask[] = {MDB_EXPANSION, *second ? 2 : 0};
    master_ask(client, ask, sizeof ask, answer);
    return true;
}

static void identity_form(struct trial *trial)
{
    struct mdb_client client;
    struct mdb_answer answer;
    bool second;
    if (!master_begin(trial, &client) || !identification_read(&client, &answer, &second))
        return;
    uint32_t wanted = second ? 33 : 29;
    expect(trial, answer.kind == MDB_DATA && answer.length == wanted, "the identification is %s, not %u bytes",
           master_text(&answer), (unsigned)wanted);
}

static void identity_text(struct trial *trial)
{
    struct mdb_client client;
    struct mdb_answer answer;
    bool second;
    if (!master_begin(trial, &client) || !identification_read(&client, &answer, &second))
        return;
    for (uint32_t i = 0; i < 27 && i < answer.length; i++) {
        bool printable = (answer.data[i] >= 0x20 && answer.data[i] <= 0x7E) || answer.data[i] == 0;
        if (!expect(trial, printable, "byte %u of the identification is %02x, not ASCII", (unsigned)i + 1,
                    answer.data[i]))
            return;
    }
}

static void option_bits(struct trial *trial)
{
    static const uint8_t none[] = {MDB_EXPANSION, 1, 0, 0, 0, 0};
    struct mdb_client client;
    struct mdb_answer answer;
    bool second;
    if (!master_begin(trial, &client) || !identification_read(&client, &answer, &second))
        return;
    if (!second || answer.length != 33) {
        skip(trial, "a device of level 1 has no options");
        return;
    }
    expect(trial, (answer.data[29] | answer.data[30] | answer.data[31] | (answer.data[32] & 0xFC)) == 0,
           "option bits that the standard does not have: %02x %02x %02x %02x", answer.data[29], answer.data[30],
           answer.data[31], answer.data[32]);
    master_ask(&client, none, sizeof none, &answer);
    expect(trial, answer.kind == MDB_ACK, "\"no options\" is answered with %s", master_text(&answer));
}

static void stacker_form(struct trial *trial)
{
    struct mdb_client client;
    struct mdb_answer answer;
    if (!master_begin(trial, &client))
        return;
    master_ask_plain(&client, MDB_STACKER, &answer);
    expect(trial, answer.kind == MDB_DATA && answer.length == 2, "STACKER is answered with %s, not 2 bytes",
           master_text(&answer));
}

static void stacker_capacity(struct trial *trial)
{
    struct mdb_client client;
    struct mdb_setup setup;
    unsigned count;
    if (!master_begin(trial, &client) || !master_setup_read(&client, &setup) || !master_count_read(&client, &count))
        return;
    unsigned capacity = setup.bytes[6] * 256U + setup.bytes[7];
    figure(trial, "%u of %u", count, capacity);
    expect(trial, count <= capacity, "%u notes in a stacker for %u", count, capacity);
}

static void poll_codes(struct trial *trial)
{
    struct mdb_client client;
    if (!master_begin(trial, &client))
        return;
    for (int i = 0; i < REPEATS && trial->result == RESULT_PASSED; i++) {
        struct mdb_answer answer;
        master_ask_plain(&client, MDB_POLL, &answer);
        expect(trial, answer.kind != MDB_DATA || answer.length <= POLL_BYTES_MAX, "POLL is answered with %u bytes",
               (unsigned)answer.length);
        for (uint32_t k = 0; answer.kind == MDB_DATA && k < answer.length; k++)
            expect(trial, master_is_known(answer.data[k]), "POLL tells %02x, which the tables do not have",
                   answer.data[k]);
        master_wait(&client, 25);
    }
}

#define FORMAT  "MDB/ICP section 2, "
#define SECTION "MDB/ICP section 6, "

const struct conformance_case mdb_framing_cases[] = {
    {"mdb/framing/poll-answered", SIDE_WIRE, SECTION "POLL: ACK, or 1 to 16 bytes", "one",
     "the device is there and answers", NULL, poll_answered},
    {"mdb/framing/blocks", SIDE_WIRE, FORMAT "checksum; mode bit on the last character only; 36 bytes at most", "one",
     "answers can be told whole from broken", NULL, blocks},
    {"mdb/framing/ack-form", SIDE_WIRE, FORMAT "ACK is one character, 00 with mode bit", "one",
     "an ACK is not taken for data", NULL, ack_form},
    {"mdb/framing/bad-checksum", SIDE_WIRE, FORMAT "a damaged command is not carried out; NAK or silence", "memory",
     "noise does not become a command", NULL, bad_checksum},
    {"mdb/framing/no-mode-bit", SIDE_WIRE, FORMAT "a command begins with a character with mode bit", "one",
     "data for others is not taken for a command", NULL, no_mode_bit},
    {"mdb/framing/other-address", SIDE_WIRE, FORMAT "30H to 37H are the bill validator's", "one",
     "peripherals on one bus do not talk together", NULL, other_address},
    {"mdb/setup/form", SIDE_WIRE, SECTION "SETUP: 27 bytes; old devices send fewer", "several", "values can be read",
     NULL, setup_form},
    {"mdb/setup/repeatable", SIDE_WIRE, SECTION "SETUP", "practice", "values do not change", NULL, setup_repeats},
    {"mdb/setup/level", SIDE_WIRE, SECTION "SETUP Z1: 1 or 2; 3 is left to come", "one",
     "the right commands can be chosen", NULL, setup_level},
    {"mdb/setup/country", SIDE_WIRE, SECTION "SETUP Z2 Z3: packed decimal, first digit 0 or 1", "one",
     "the currency can be known", NULL, setup_country},
    {"mdb/setup/values", SIDE_WIRE, SECTION "SETUP Z4 Z5 scaling, Z12 to Z27 values, ascending", "several",
     "values can be computed", NULL, setup_values},
    {"mdb/setup/escrow-flag", SIDE_WIRE, SECTION "SETUP Z11: 00 or FF", "several",
     "it is known whether notes can be held", NULL, setup_escrow},
    {"mdb/identity/form", SIDE_WIRE, SECTION "37H 00H: 29 bytes; 37H 02H: 33 bytes", "one",
     "the device can be recognised after a restart", NULL, identity_form},
    {"mdb/identity/text", SIDE_WIRE, SECTION "identification Z1 to Z27: ASCII", "one", "texts can be shown", NULL,
     identity_text},
    {"mdb/identity/options", SIDE_WIRE, SECTION "level 2: option bits 0 and 1; 37H 01H is acknowledged", "memory",
     "options can be left off", NULL, option_bits},
    {"mdb/stacker/form", SIDE_WIRE, SECTION "STACKER: 2 bytes", "one", "the box can be counted", NULL, stacker_form},
    {"mdb/stacker/within-capacity", SIDE_WIRE, SECTION "STACKER bits 14 to 0, SETUP Z7 Z8", "memory",
     "the count is a count", NULL, stacker_capacity},
    {"mdb/poll/known-codes", SIDE_WIRE, SECTION "POLL: up to 16 bytes of the tables", "one",
     "what the device tells is understood", NULL, poll_codes},
    {0}};
