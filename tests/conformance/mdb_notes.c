/*
 * Poll bytes as events, and notes that are asked for. See mdb_client.h.
 */
#include "mdb_client.h"

#include <string.h>

enum { POLL_MS = 40, CALL_AGAIN_MS = 1000, STRANGERS_MAX = 8, OUTCOME_MS = 5000, JUST_RESET = 0x06 };

static struct {
    uint8_t bytes[MDB_READ_MAX];
    uint32_t count;
} waiting;

void master_events_forget(void)
{
    waiting.count = 0;
}

/* The routing table of section 6: one text; the labels of 3 and 5 differ from memory. */
bool master_is_held(uint8_t event)
{
    return (event & 0xF0) == 0x90;
}

bool master_is_credit(uint8_t event)
{
    return (event & 0xF0) == 0x80 || (event & 0xF0) == 0xB0;
}

bool master_is_returned(uint8_t event)
{
    return (event & 0xF0) == 0xA0;
}

bool master_is_refused(uint8_t event)
{
    return event == 0x0B || (event & 0xF0) == 0xC0 || (event & 0xE0) == 0x40;
}

bool master_is_known(uint8_t event)
{
    return event >= 0x80 || (event & 0xE0) == 0x40 || (event >= 0x01 && event <= 0x0C) ||
           (event >= 0x1B && event <= 0x2F);
}

/* Statuses may come in every answer as long as they hold; the standard we could read does not settle it. */
static bool status(uint8_t byte)
{
    return (byte >= 0x01 && byte <= 0x05) || byte == 0x08 || byte == 0x09;
}

bool master_event(struct mdb_client *client, uint64_t until_us, uint8_t *event)
{
    while (waiting.count == 0) {
        struct mdb_answer answer;
        if (master_ask_plain(client, MDB_POLL, &answer) == MDB_DATA) {
            for (uint32_t i = 0; i < answer.length; i++) {
                if (!status(answer.data[i]))
                    waiting.bytes[waiting.count++] = answer.data[i];
            }
        }
        if (waiting.count > 0)
            break;
        if (line_gone(client->line) != NULL || line_now_us(client->line) >= until_us)
            return false;
        master_wait(client, POLL_MS);
    }
    *event = waiting.bytes[0];
    memmove(waiting.bytes, waiting.bytes + 1, --waiting.count);
    if (master_is_held(*event))
        client->held = true;
    else if (master_is_credit(*event) || master_is_returned(*event) || *event == JUST_RESET)
        client->held = false;
    return true;
}

bool master_enable(struct mdb_client *client, bool escrow)
{
    uint8_t enable[] = {MDB_BILL_TYPE, 0xFF, 0xFF, 0, 0};
    struct mdb_answer answer;
    if (escrow)
        enable[3] = enable[4] = 0xFF;
    if (master_ask(client, enable, sizeof enable, &answer) == MDB_ACK)
        return true;
    skip(client->trial, "notes cannot be enabled (%s): see mdb/bill-type/taken", master_text(&answer));
    return false;
}

/* All types at high security, which is the usual choice. */
void master_hand(struct mdb_client *client)
{
    static const uint8_t high[] = {MDB_SECURITY, 0xFF, 0xFF};
    struct mdb_answer answer;
    (void)master_ask(client, high, sizeof high, &answer);
}

static bool fits(enum mdb_wish wish, uint8_t event)
{
    return wish == MDB_WISH_ANY || (wish == MDB_WISH_HELD && master_is_held(event)) ||
           (wish == MDB_WISH_GOOD && (master_is_held(event) || master_is_credit(event))) ||
           (wish == MDB_WISH_REFUSED && master_is_refused(event)) || (wish == MDB_WISH_RESET && event == JUST_RESET);
}

static void stranger_end(struct mdb_client *client)
{
    static const uint8_t back[] = {MDB_ESCROW, 0};
    struct mdb_answer answer;
    uint8_t event;
    if (!client->held)
        return;
    (void)master_ask(client, back, sizeof back, &answer);
    uint64_t until_us = line_now_us(client->line) + MS(OUTCOME_MS);
    while (client->held && master_event(client, until_us, &event))
        ;
}

bool master_note_await(struct mdb_client *client, enum mdb_wish wish, const char *text, uint8_t *event)
{
    if (!note_ask(client->trial, text))
        return false;
    uint64_t until_us = line_now_us(client->line) + MS(1000) * client->trial->options->seconds;
    unsigned strangers = 0;
    stranger_end(client);
    while (strangers < STRANGERS_MAX && line_gone(client->line) == NULL && line_now_us(client->line) < until_us) {
        master_hand(client);
        if (!master_event(client, line_now_us(client->line) + MS(CALL_AGAIN_MS), event))
            continue;
        if (fits(wish, *event))
            return true;
        strangers++;
        stranger_end(client);
    }
    skip(client->trial, "no such note came in time");
    return false;
}

bool master_note_hold(struct trial *trial, struct mdb_client *client, uint8_t *event)
{
    if (!master_begin(trial, client))
        return false;
    if (master_enable(client, true) && master_note_await(client, MDB_WISH_HELD, "insert a good note", event))
        return true;
    master_end(client);
    return false;
}
