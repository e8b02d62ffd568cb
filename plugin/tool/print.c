/*
 * What the tool writes: one-line complaints, wrapped paragraphs, amounts, times and small JSON objects.
 */
#include "print.h"

#include "arguments.h"
#include "values.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

void complain(const char *format, ...)
{
    char line[1024];
    va_list list;
    va_start(list, format);
    int length = vsnprintf(line, sizeof line, format, list);
    va_end(list);
    if (length < 0)
        return;
    /* A file name or a word may hold anything: the message stays one line. */
    for (char *c = line; *c != '\0'; c++) {
        if ((unsigned char)*c < ' ' || *c == 0x7f)
            *c = ' ';
    }
    fprintf(stderr, "counterfoil: %s\n", line);
}

/* Columns that the first `length` bytes take: UTF-8 continuation bytes take none. */
static int columns_of(const char *text, size_t length)
{
    int columns = 0;
    for (size_t i = 0; i < length; i++)
        columns += ((unsigned char)text[i] & 0xc0) != 0x80;
    return columns;
}

void print_wrapped(FILE *out, const char *label, int indent, const char *text)
{
    int width_of_label = columns_of(label, strlen(label));
    int column = width_of_label < indent ? indent : width_of_label;
    fprintf(out, "%s%*s", label, column - width_of_label, "");
    bool fresh = column > width_of_label || column == 0; /* nothing but the indent is on the line */
    while (*text != '\0') {
        size_t blanks = strspn(text, " \n");
        bool broken = memchr(text, '\n', blanks) != NULL;
        text += blanks;
        size_t length = strcspn(text, " \n");
        if (length == 0)
            break;
        int width = columns_of(text, length);
        if (!fresh && (broken || column + 1 + width > PRINT_COLUMNS)) {
            fprintf(out, "\n%*s", indent, "");
            column = indent;
            fresh = true;
        }
        column += fprintf(out, "%s", fresh ? "" : " ") + width;
        fwrite(text, 1, length, out);
        fresh = false;
        text += length;
    }
    fputc('\n', out);
}

const char *time_text(int64_t utc_ms, char text[PRINT_TIME_SIZE])
{
    time_t seconds = (time_t)(utc_ms / 1000);
    struct tm parts;
    if (gmtime_r(&seconds, &parts) == NULL || strftime(text, PRINT_TIME_SIZE, "%Y-%m-%d %H:%M:%S", &parts) == 0)
        snprintf(text, PRINT_TIME_SIZE, "time unknown");
    return text;
}

const char *amount_text(const char *currency, int64_t value_minor, char text[PRINT_AMOUNT_SIZE])
{
    int decimals = currency_decimals(currency);
    int64_t unit = 1;
    for (int i = 0; i < decimals; i++)
        unit *= 10;
    long long major = (long long)(value_minor / unit);
    long long minor = (long long)llabs((long long)(value_minor % unit));
    if (decimals == 0)
        snprintf(text, PRINT_AMOUNT_SIZE, "%.3s %lld", currency, major);
    else
        snprintf(text, PRINT_AMOUNT_SIZE, "%.3s %lld.%0*lld", currency, major, decimals, minor);
    return text;
}

void print_json_string(FILE *out, const char *text)
{
    fputc('"', out);
    for (; *text != '\0'; text++) {
        unsigned char c = (unsigned char)*text;
        if (c == '"' || c == '\\')
            fprintf(out, "\\%c", c);
        else if (c < ' ')
            fprintf(out, "\\u%04x", (unsigned)c);
        else
            fputc(c, out);
    }
    fputc('"', out);
}

int output_finish(int result)
{
    if (fflush(stdout) == 0 && !ferror(stdout))
        return result;
    complain("cannot write the output; check the disk or the program that reads it");
    return result == TOOL_OK ? TOOL_FAILED : result;
}
