/*
 * Text helpers that every part needs. See text.h.
 */
#include "model/text.h"

#include <counterfoil/counterfoil.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

/* Length of the well-formed character at `text` (RFC 3629 section 4), or 0. */
static size_t utf8_character(const unsigned char *text, size_t left)
{
    unsigned char lead = text[0];
    if (lead >= 0x01 && lead < 0x80)
        return 1;
    size_t length = lead >= 0xC2 && lead <= 0xDF ? 2 : (lead & 0xF0) == 0xE0 ? 3 : lead >= 0xF0 && lead <= 0xF4 ? 4 : 0;
    if (length == 0 || left < length)
        return 0;
    /* The second byte's range shuts out over-long forms, surrogates and values above U+10FFFF. */
    unsigned char low = lead == 0xE0 ? 0xA0 : lead == 0xF0 ? 0x90 : 0x80;
    unsigned char high = lead == 0xED ? 0x9F : lead == 0xF4 ? 0x8F : 0xBF;
    if (text[1] < low || text[1] > high)
        return 0;
    for (size_t i = 2; i < length; i++) {
        if ((text[i] & 0xC0) != 0x80)
            return 0;
    }
    return length;
}

bool text_utf8_valid(const char *text, size_t length)
{
    size_t at = 0;
    while (at < length) {
        size_t step = utf8_character((const unsigned char *)text + at, length - at);
        if (step == 0)
            return false;
        at += step;
    }
    return true;
}

bool text_acceptable(const char *text, size_t minimum, size_t maximum)
{
    if (text == NULL)
        return false;
    size_t length = strnlen(text, maximum + 1);
    if (length < minimum || length > maximum || !text_utf8_valid(text, length))
        return false;
    for (size_t i = 0; i < length; i++) {
        if ((unsigned char)text[i] < 0x20 || text[i] == 0x7F)
            return false;
    }
    return true;
}

void text_copy(char *target, size_t capacity, const char *text)
{
    if (capacity == 0)
        return;
    if (text == NULL)
        text = "";
    size_t length = strlen(text);
    if (length >= capacity) {
        length = capacity - 1;
        while (length > 0 && ((unsigned char)text[length] & 0xC0) == 0x80)
            length--;
    }
    memmove(target, text, length);
    target[length] = '\0';
}

int32_t text_export(const char *text, size_t length, char *buffer, size_t capacity, size_t *needed)
{
    if (needed != NULL)
        *needed = length + 1;
    if (buffer == NULL)
        return capacity == 0 ? CFOIL_E_ARGUMENT_BUFFER : CFOIL_E_ARGUMENT_NULL;
    if (capacity <= length) {
        if (capacity > 0)
            buffer[0] = '\0';
        return CFOIL_E_ARGUMENT_BUFFER;
    }
    memcpy(buffer, text, length);
    buffer[length] = '\0';
    return CFOIL_OK;
}

void text_time(int64_t time_utc_ms, char target[TEXT_TIME_SIZE])
{
    target[0] = '\0';
    /* 9999-12-31T23:59:59.999Z, the last moment RFC 3339 can write. */
    if (time_utc_ms < 0 || time_utc_ms > INT64_C(253402300799999))
        return;
    time_t seconds = (time_t)(time_utc_ms / 1000);
    struct tm parts;
    if (gmtime_r(&seconds, &parts) == NULL)
        return;
    char whole[TEXT_TIME_SIZE];
    if (strftime(whole, sizeof whole, "%Y-%m-%dT%H:%M:%S", &parts) == 0)
        return;
    (void)snprintf(target, TEXT_TIME_SIZE, "%.19s.%03dZ", whole, (int)(time_utc_ms % 1000));
}

/* Days from 1970-01-01 in the proleptic Gregorian calendar: years begin in March, 400 of them have 146097 days. */
static int64_t days_of(int64_t year, int64_t month, int64_t day)
{
    int64_t shifted = month > 2 ? year : year - 1;
    int64_t since_march = (month + 9) % 12;
    return 365 * shifted + shifted / 4 - shifted / 100 + shifted / 400 + (153 * since_march + 2) / 5 + day - 719469;
}

static int64_t digits_of(const char *text, size_t length)
{
    int64_t number = 0;
    for (size_t i = 0; i < length; i++)
        number = 10 * number + (text[i] - '0');
    return number;
}

bool text_time_read(const char *text, int64_t *time_utc_ms)
{
    char written[TEXT_TIME_SIZE];
    if (strlen(text) != 24)
        return false;
    int64_t days = days_of(digits_of(text, 4), digits_of(text + 5, 2), digits_of(text + 8, 2));
    int64_t minutes = days * 1440 + digits_of(text + 11, 2) * 60 + digits_of(text + 14, 2);
    int64_t made_utc_ms = minutes * 60000 + digits_of(text + 17, 2) * 1000 + digits_of(text + 20, 3);
    /* Whatever is not exactly a time does not come back the same. */
    text_time(made_utc_ms, written);
    if (strcmp(written, text) != 0)
        return false;
    *time_utc_ms = made_utc_ms;
    return true;
}

void text_hex(const uint8_t *bytes, size_t length, char *target)
{
    static const char digits[] = "0123456789abcdef";
    for (size_t i = 0; i < length; i++) {
        target[2 * i] = digits[bytes[i] >> 4];
        target[2 * i + 1] = digits[bytes[i] & 15];
    }
    target[2 * length] = '\0';
}
