/*
 * Thin helpers over cJSON for the exporters. See json.h.
 */
#include "model/json.h"

#include "model/text.h"

#include <counterfoil/counterfoil.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static bool item_add(cJSON *parent, const char *key, cJSON *item)
{
    if (parent == NULL || item == NULL) {
        cJSON_Delete(item);
        return false;
    }
    cJSON_bool added = key != NULL ? cJSON_AddItemToObject(parent, key, item) : cJSON_AddItemToArray(parent, item);
    if (!added)
        cJSON_Delete(item);
    return added != 0;
}

bool json_text_add(cJSON *parent, const char *key, const char *text)
{
    return item_add(parent, key, text != NULL ? cJSON_CreateString(text) : cJSON_CreateNull());
}

bool json_integer_add(cJSON *parent, const char *key, int64_t value)
{
    /* As raw text: cJSON's own numbers are doubles and lose digits above 2^53. */
    char digits[24];
    (void)snprintf(digits, sizeof digits, "%" PRId64, value);
    return item_add(parent, key, cJSON_CreateRaw(digits));
}

bool json_number_add(cJSON *parent, const char *key, double value)
{
    return item_add(parent, key, cJSON_CreateNumber(value));
}

bool json_flag_add(cJSON *parent, const char *key, bool value)
{
    return item_add(parent, key, cJSON_CreateBool(value));
}

bool json_null_add(cJSON *parent, const char *key)
{
    return item_add(parent, key, cJSON_CreateNull());
}

static cJSON *child_add(cJSON *parent, const char *key, cJSON *child)
{
    return item_add(parent, key, child) ? child : NULL;
}

cJSON *json_object_add(cJSON *parent, const char *key)
{
    return child_add(parent, key, cJSON_CreateObject());
}

cJSON *json_array_add(cJSON *parent, const char *key)
{
    return child_add(parent, key, cJSON_CreateArray());
}

char *json_line(const cJSON *value)
{
    return value != NULL ? cJSON_PrintUnformatted(value) : NULL;
}

/* In the order of UTF-16 code units (RFC 8785, section 3.2.3). It is that of the UTF-8 bytes, but for one thing: what needs
 * two code units (D800 and up; first byte F0 and up) comes before U+E000 to U+FFFF (first bytes EE and EF). */
static int keys_compare(const char *left, const char *right)
{
    while (*left != '\0' && *left == *right) {
        left++;
        right++;
    }
    unsigned char a = (unsigned char)*left;
    unsigned char b = (unsigned char)*right;
    bool exchanged = a >= 0xee && b >= 0xee && (a >= 0xf0) != (b >= 0xf0);
    return exchanged ? b - a : a - b;
}

/* Puts `item` into the sorted list that begins at `head`; returns the new head. */
static cJSON *sorted_insert(cJSON *head, cJSON *item)
{
    if (head == NULL || keys_compare(item->string, head->string) < 0) {
        item->next = head;
        return item;
    }
    cJSON *before = head;
    while (before->next != NULL && keys_compare(before->next->string, item->string) <= 0)
        before = before->next;
    item->next = before->next;
    before->next = item;
    return head;
}

static void keys_sort(cJSON *value)
{
    for (cJSON *child = value->child; child != NULL; child = child->next)
        keys_sort(child);
    if (!cJSON_IsObject(value) || value->child == NULL)
        return;
    cJSON *sorted = NULL;
    for (cJSON *item = value->child, *next; item != NULL; item = next) {
        next = item->next;
        sorted = sorted_insert(sorted, item);
    }
    /* cJSON keeps the last child in the first one's `prev`. */
    cJSON *last = sorted;
    for (; last->next != NULL; last = last->next)
        last->next->prev = last;
    sorted->prev = last;
    value->child = sorted;
}

char *json_canonical(cJSON *value)
{
    if (value == NULL)
        return NULL;
    keys_sort(value);
    return json_line(value);
}

int32_t json_export(const cJSON *value, char *buffer, size_t capacity, size_t *needed)
{
    char *text = json_line(value);
    if (text == NULL)
        return CFOIL_E_MEMORY;
    int32_t result = text_export(text, strlen(text), buffer, capacity, needed);
    cJSON_free(text);
    return result;
}
