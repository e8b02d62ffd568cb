/*
 * How does a command get its answer over the word carrier? See mdb_client.h.
 */
#include "mdb_client.h"

#include <string.h>

enum {
    MODE_BIT = 0x100,
    ACK_BYTE = 0x00,
    NAK_BYTE = 0xFF,
    ANSWER_MS = 150, /* the bus allows 5 ms; the way to the controller takes the rest */
    TRIES = 3,
    SETUP_LEAST = 12, /* old devices send fewer than 16 credits: common practice, no source */
    SETUP_MOST = 27
};

uint32_t master_block_make(const uint8_t *bytes, uint32_t length, uint16_t words[MDB_BLOCK_MAX])
{
    unsigned sum = 0;
    for (uint32_t i = 0; i < length; i++) {
        words[i] = (uint16_t)(bytes[i] | (i == 0 ? MODE_BIT : 0));
        sum += bytes[i];
    }
    words[length] = (uint16_t)(sum & 0xFFU);
    return length + 1;
}

/* The mode bit on the last word and nowhere else; then a lone ACK or NAK, or data with its checksum. */
static void answer_judge(struct mdb_answer *answer)
{
    uint32_t count = answer->word_count;
    unsigned sum = 0;
    answer->kind = MDB_DAMAGED;
    for (uint32_t i = 0; i < count; i++) {
        bool last = i + 1 == count;
        if (answer->words[i] > 0x1FF || ((answer->words[i] & MODE_BIT) != 0) != last)
            return;
        answer->data[i] = (uint8_t)(answer->words[i] & 0xFF);
        sum += last ? 0U : answer->data[i];
    }
    if (count == 1 && answer->data[0] == ACK_BYTE)
        answer->kind = MDB_ACK;
    else if (count == 1 && answer->data[0] == NAK_BYTE)
        answer->kind = MDB_NAK;
    else if (count > 1 && (sum & 0xFFU) == answer->data[count - 1])
        answer->kind = MDB_DATA;
    answer->length = answer->kind == MDB_DATA ? count - 1 : 0;
}

void master_words_exchange(struct mdb_client *client, const uint16_t *words, uint32_t count, uint32_t wait_ms,
                           struct mdb_answer *answer)
{
    uint8_t bytes[2 * MDB_READ_MAX];
    memset(answer, 0, sizeof *answer);
    answer->kind = MDB_SILENT;
    for (uint32_t i = 0; i < count; i++) { /* low byte first */
        bytes[2 * i] = (uint8_t)(words[i] & 0xFF);
        bytes[2 * i + 1] = (uint8_t)(words[i] >> 8);
    }
    if (!line_send(client->line, bytes, 2 * count))
        return;
    uint64_t until_us = line_now_us(client->line) + MS(wait_ms + client->trial->options->latency_ms);
    uint32_t got = line_receive(client->line, until_us, bytes, sizeof bytes); /* one block */
    answer->word_count = got / 2;
    for (uint32_t i = 0; i < answer->word_count; i++)
        answer->words[i] = (uint16_t)(bytes[2 * i] | bytes[2 * i + 1] << 8);
    if (answer->word_count > 0)
        answer_judge(answer);
}

enum mdb_kind master_ask(struct mdb_client *client, const uint8_t *bytes, uint32_t length, struct mdb_answer *answer)
{
    uint16_t words[MDB_BLOCK_MAX];
    uint32_t count = master_block_make(bytes, length, words);
    for (int tries = 0; tries < TRIES; tries++) {
        master_words_exchange(client, words, count, ANSWER_MS, answer);
        if (answer->kind < MDB_DAMAGED || line_gone(client->line) != NULL)
            break;
        master_wait(client, 20);
    }
    return answer->kind;
}

enum mdb_kind master_ask_plain(struct mdb_client *client, uint8_t command, struct mdb_answer *answer)
{
    return master_ask(client, &command, 1, answer);
}

void master_wait(struct mdb_client *client, uint32_t wait_ms)
{
    uint8_t dropped[2 * MDB_READ_MAX];
    uint64_t until_us = line_now_us(client->line) + MS(wait_ms);
    while (line_now_us(client->line) < until_us && line_gone(client->line) == NULL)
        (void)line_receive(client->line, until_us, dropped, sizeof dropped);
}

bool master_begin(struct trial *trial, struct mdb_client *client)
{
    struct mdb_answer answer;
    *client = (struct mdb_client){.trial = trial, .line = trial->suite->line};
    master_events_forget();
    if (!trial->suite->silent && master_ask_plain(client, MDB_POLL, &answer) != MDB_SILENT)
        return true;
    skip(trial, "the device does not answer: see mdb/framing/poll-answered");
    return false;
}

void master_end(struct mdb_client *client)
{
    static const uint8_t none[] = {MDB_BILL_TYPE, 0, 0, 0, 0};
    static const uint8_t back[] = {MDB_ESCROW, 0};
    struct mdb_answer answer;
    if (line_gone(client->line) != NULL)
        return;
    (void)master_ask(client, none, sizeof none, &answer);
    for (int i = 0; client->held && i < 3; i++) {
        (void)master_ask(client, back, sizeof back, &answer);
        master_wait(client, 100);
        (void)master_ask_plain(client, MDB_POLL, &answer);
    }
    (void)master_ask_plain(client, MDB_POLL, &answer);
    client->held = false;
}

bool master_setup_read(struct mdb_client *client, struct mdb_setup *setup)
{
    struct mdb_answer answer;
    memset(setup, 0, sizeof *setup);
    if (master_ask_plain(client, MDB_SETUP, &answer) != MDB_DATA || answer.length < SETUP_LEAST ||
        answer.length > SETUP_MOST) {
        skip(client->trial, "no usable answer to SETUP (%s): see mdb/setup/form", master_text(&answer));
        return false;
    }
    memcpy(setup->bytes, answer.data, answer.length);
    setup->length = answer.length;
    return true;
}

bool master_count_read(struct mdb_client *client, unsigned *count)
{
    struct mdb_answer answer;
    if (master_ask_plain(client, MDB_STACKER, &answer) != MDB_DATA || answer.length != 2) {
        skip(client->trial, "no usable answer to STACKER (%s): see mdb/stacker/form", master_text(&answer));
        return false;
    }
    *count = (answer.data[0] & 0x7FU) << 8 | answer.data[1];
    return true;
}

const char *master_text(const struct mdb_answer *answer)
{
    static char text[200];
    static const char *const words[] = {[MDB_ACK] = "ACK", [MDB_NAK] = "NAK", [MDB_SILENT] = "silence"};
    if (answer->kind != MDB_DATA && answer->kind != MDB_DAMAGED)
        return words[answer->kind];
    size_t used = (size_t)snprintf(text, sizeof text, "%s of %u:", answer->kind == MDB_DATA ? "data" : "a bad block",
                                   (unsigned)(answer->kind == MDB_DATA ? answer->length : answer->word_count));
    for (uint32_t i = 0; i < answer->word_count && used + 12 < sizeof text; i++)
        used += (size_t)snprintf(text + used, sizeof text - used, " %02x%s", answer->words[i] & 0xFFU,
                                 answer->words[i] > 0xFF ? "*" : "");
    return text;
}
