/*
 * Are note types named and valued in a form from which money can be computed?
 */
#include "cctalk_client.h"

#include <string.h>

enum { NAME_LENGTH = 7, QUIET_TYPES = 3 };

struct note_name {
    char text[NAME_LENGTH + 1]; /* "" = empty place */
};

/* Two letters, four digits with a value, one letter: from memory of the standard. */
static bool name_valued(const uint8_t *name)
{
    static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    bool value = false;
    for (int i = 2; i < 6; i++) {
        if (name[i] < '0' || name[i] > '9')
            return false;
        value = value || name[i] > '0';
    }
    return value && memchr(letters, name[0], 26) != NULL && memchr(letters, name[1], 26) != NULL &&
           memchr(letters, name[6], 26) != NULL;
}

/* Fills the names of types 1 to 16. The number of usable ones. */
static unsigned names_read(struct client *client, struct note_name names[CCTALK_TYPES + 1])
{
    unsigned usable = 0;
    unsigned quiet = 0;
    memset(names, 0, (CCTALK_TYPES + 1) * sizeof names[0]);
    for (uint8_t type = 1; type <= CCTALK_TYPES && quiet < QUIET_TYPES; type++) {
        struct answer answer;
        quiet = ask_byte(client, BILL_ID, type, &answer) == ANSWER_SILENT ? quiet + 1 : 0;
        if (answer.kind != ANSWER_DONE || answer.length != NAME_LENGTH || !name_valued(answer.data))
            continue;
        memcpy(names[type].text, answer.data, NAME_LENGTH);
        usable++;
    }
    return usable;
}

static void bill_id_form(struct trial *trial)
{
    struct client client;
    if (!client_begin(trial, &client))
        return;
    unsigned quiet = 0;
    for (uint8_t type = 1; type <= CCTALK_TYPES && quiet < QUIET_TYPES; type++) {
        struct answer answer;
        enum answer_kind kind = ask_byte(&client, BILL_ID, type, &answer);
        quiet = kind == ANSWER_SILENT ? quiet + 1 : 0;
        if (!expect(trial, kind != ANSWER_DONE || answer.length == NAME_LENGTH,
                    "157 for type %u is answered with %u bytes, not 7", type, (unsigned)answer.length))
            return;
    }
}

static void bill_id_value(struct trial *trial)
{
    struct client client;
    struct note_name names[CCTALK_TYPES + 1];
    if (!client_begin(trial, &client))
        return;
    unsigned usable = names_read(&client, names);
    for (int type = 1; type <= CCTALK_TYPES; type++) {
        if (names[type].text[0] != '\0')
            figure(trial, "%d %s", type, names[type].text);
    }
    expect(trial, usable > 0, "no type has a name of two letters, four digits and a letter: nothing could be accepted");
}

/* Every country that a name has, once. */
static bool country_first(const struct note_name *names, int type)
{
    for (int before = 1; before < type; before++) {
        if (memcmp(names[before].text, names[type].text, 2) == 0)
            return false;
    }
    return names[type].text[0] != '\0';
}

static void scaling(struct trial *trial)
{
    struct client client;
    struct note_name names[CCTALK_TYPES + 1];
    if (!client_begin(trial, &client))
        return;
    if (names_read(&client, names) == 0)
        skip(trial, "no usable name: see cctalk/notes/bill-id-value");
    for (int type = 1; type <= CCTALK_TYPES && trial->result == RESULT_PASSED; type++) {
        if (!country_first(names, type) || memcmp(names[type].text, "TK", 2) == 0)
            continue;
        struct answer answer;
        uint8_t country[2] = {(uint8_t)names[type].text[0], (uint8_t)names[type].text[1]};
        ask(&client, COUNTRY_SCALING, country, 2, &answer);
        if (!expect(trial, answer.kind == ANSWER_DONE && answer.length == 3, "156 for %.2s is answered with %s",
                    names[type].text, answer_text(&answer)))
            return;
        unsigned scale = answer.data[0] + 256U * answer.data[1];
        figure(trial, "%.2s: x %u, %u decimal places", names[type].text, scale, answer.data[2]);
        expect(trial, scale > 0, "156 for %.2s gives the scaling factor 0, and types of that country are named",
               names[type].text);
    }
}

static void positions(struct trial *trial)
{
    struct client client;
    struct note_name names[CCTALK_TYPES + 1];
    if (!client_begin(trial, &client))
        return;
    if (names_read(&client, names) == 0)
        skip(trial, "no usable name: see cctalk/notes/bill-id-value");
    for (int type = 1; type <= CCTALK_TYPES && trial->result == RESULT_PASSED; type++) {
        struct answer answer;
        uint8_t country[2] = {(uint8_t)names[type].text[0], (uint8_t)names[type].text[1]};
        if (names[type].text[0] == '\0')
            continue;
        ask(&client, BILL_POSITION, country, 2, &answer);
        if (unsupported(&client, &answer, BILL_POSITION))
            return;
        bool listed = answer.length >= 2 && (answer.data[(type - 1) / 8] >> ((type - 1) % 8) & 1) != 0;
        expect(trial, listed, "type %d is %s, but 155 does not list it (%s)", type, names[type].text,
               answer_text(&answer));
    }
}

const struct conformance_case cctalk_notes_cases[] = {
    {"cctalk/notes/bill-id-form", SIDE_WIRE, "part 2, header 157: exactly 7 characters, or NAK, or silence", "memory",
     "names can be read without guessing", NULL, bill_id_form},
    {"cctalk/notes/bill-id-value", SIDE_WIRE, "part 3: country (2 letters), value (4 digits), issue (1 letter)",
     "memory", "at least one type has a value that can be credited", NULL, bill_id_value},
    {"cctalk/notes/scaling", SIDE_WIRE, "part 2, header 156: scaling factor (low byte first) and decimal places",
     "memory", "values can be computed for every country that is named", NULL, scaling},
    {"cctalk/notes/positions", SIDE_WIRE, "part 2, header 155: mask of the types of a country", "memory",
     "two ways to ask give one answer (optional)", NULL, positions},
    {0}};
