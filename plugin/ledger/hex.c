/*
 * Bytes as hexadecimal digits. See hex.h.
 */
#include "ledger/hex.h"

#include "model/json.h"
#include "model/text.h"

#include <sodium/utils.h>
#include <string.h>

bool hex_text_read(const char *text, uint8_t *bytes, size_t size)
{
    size_t length = 0;
    if (text == NULL || strspn(text, "0123456789abcdef") != 2 * size || text[2 * size] != '\0')
        return false;
    return sodium_hex2bin(bytes, size, text, 2 * size, NULL, &length, NULL) == 0 && length == size;
}

bool hex_read(const cJSON *object, const char *name, uint8_t *bytes, size_t size)
{
    return hex_text_read(cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, name)), bytes, size);
}

bool hex_add(cJSON *object, const char *name, const uint8_t *bytes, size_t size)
{
    char text[2 * 64 + 1];
    text_hex(bytes, size, text);
    return json_text_add(object, name, text);
}
