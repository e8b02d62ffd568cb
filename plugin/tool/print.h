/*
 * What the tool writes: one-line complaints, wrapped paragraphs, amounts, times and small JSON objects.
 */
#ifndef TOOL_PRINT_H
#define TOOL_PRINT_H

#include <stdint.h>
#include <stdio.h>

#if defined(__GNUC__)
#define PRINT_LIKE(text, first) __attribute__((format(printf, text, first)))
#else
#define PRINT_LIKE(text, first)
#endif

#define PRINT_COLUMNS     78
#define PRINT_TIME_SIZE   24
#define PRINT_AMOUNT_SIZE 40

/* "counterfoil: <what is wrong>; <what to do>" as one line on standard error. */
void complain(const char *format, ...) PRINT_LIKE(1, 2);

/* Writes `text` in lines of at most PRINT_COLUMNS, `indent` blanks before each; `label` stands in the first indent. */
void print_wrapped(FILE *out, const char *label, int indent, const char *text);

/* "2026-01-31 12:00:00" in UTC. */
const char *time_text(int64_t utc_ms, char text[PRINT_TIME_SIZE]);

/* "EUR 50.00". */
const char *amount_text(const char *currency, int64_t value_minor, char text[PRINT_AMOUNT_SIZE]);

/* A JSON string with its quotes. */
void print_json_string(FILE *out, const char *text);

/* Pushes out what was written; says so once and returns TOOL_FAILED when it could not be. */
int output_finish(int result);

#endif
